//! The port: where bytes leave the machine. midir's ports (ALSA, or JACK when built with the feature `jack`; the
//! system's own elsewhere), and one that leads nowhere.

use midir::{MidiInput, MidiOutput, MidiOutputConnection};

use super::settings::PortChoice;

/// What other programs see us as.
pub(super) const CLIENT: &str = "Holdfast";
/// The clients that only look.
pub(super) const PROBE: &str = "looks";
/// The names of our own ports.
const OUT: &str = "out";
pub(super) const IN: &str = "in";

/// Somewhere to send messages to.
pub trait Port: Send {
    /// Sends one whole message.
    ///
    /// # Errors
    /// When the port does not take it: it is gone, most likely.
    fn send(&mut self, message: &[u8]) -> Result<(), NotSent>;
}

/// A message was not sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NotSent;

/// A port that leads nowhere.
#[derive(Clone, Copy, Debug, Default)]
pub struct NullPort;

impl Port for NullPort {
    fn send(&mut self, _: &[u8]) -> Result<(), NotSent> {
        Ok(())
    }
}

impl Port for MidiOutputConnection {
    fn send(&mut self, message: &[u8]) -> Result<(), NotSent> {
        MidiOutputConnection::send(self, message).map_err(|_| NotSent)
    }
}

/// What is known of a port that was opened: enough to see whether it is still there.
pub(super) struct Opened {
    /// What people call it.
    pub(super) name: String,
    probe: Probe,
    /// JACK's list of ports stays as it was when its server has gone; only asking for something tells.
    #[cfg(feature = "jack")]
    asks: Option<MidiOutput>,
}

impl Opened {
    pub(super) fn new(name: String, probe: Probe) -> Result<Opened, String> {
        Ok(Opened {
            name,
            probe,
            #[cfg(feature = "jack")]
            asks: Some(MidiOutput::new(PROBE).map_err(no_midi)?),
        })
    }

    /// Whether the port is still there.
    pub(super) fn is_there(&mut self) -> bool {
        self.server_answers() && self.probe.sees_it()
    }

    #[cfg(feature = "jack")]
    fn server_answers(&mut self) -> bool {
        use midir::os::unix::VirtualOutput;
        let asked = self.asks.take().and_then(|client| client.create_virtual("still there").ok());
        self.asks = asked.map(MidiOutputConnection::close);
        self.asks.is_some()
    }

    #[cfg(not(feature = "jack"))]
    fn server_answers(&mut self) -> bool {
        true
    }
}

/// A client that looks at the list of ports. It is opened with the port and closed with it, because JACK's library,
/// asked for a new client after its server went away, frees the old ones under the feet of whoever still holds them.
pub(super) enum Probe {
    /// Among the ports that can be sent to, by the system's name.
    SendTo(MidiOutput, String),
    /// Among the ports that can be listened to, by the system's name.
    ListenTo(MidiInput, String),
    /// Our own output, which others listen to.
    OwnOut(MidiInput),
    /// Our own input, which others send to.
    OwnIn(MidiOutput),
}

impl Probe {
    fn sees_it(&self) -> bool {
        match self {
            Probe::SendTo(client, id) => client.find_port_by_id(id).is_some(),
            Probe::ListenTo(client, id) => client.find_port_by_id(id).is_some(),
            Probe::OwnOut(client) => client.ports().iter().any(|port| is_ours(client.port_name(port).ok(), OUT)),
            Probe::OwnIn(client) => client.ports().iter().any(|port| is_ours(client.port_name(port).ok(), IN)),
        }
    }
}

fn is_ours(name: Option<String>, port: &str) -> bool {
    name.is_some_and(|name| name.contains(CLIENT) && name.contains(port))
}

/// The outputs that this machine has now, by name.
///
/// # Errors
/// Why there is no MIDI on this machine, a sentence.
pub fn out_names() -> Result<Vec<String>, String> {
    crate::sound::hush::hush();
    let probe = MidiOutput::new(CLIENT).map_err(no_midi)?;
    Ok(probe.ports().iter().filter_map(|port| probe.port_name(port).ok()).collect())
}

/// Opens the output.
///
/// # Errors
/// Why not, a sentence for the desk.
pub(super) fn open_out(choice: &PortChoice) -> Result<(Box<dyn Port>, Opened), String> {
    let (connection, opened) = connect_out(choice)?;
    Ok((Box::new(connection), opened))
}

fn connect_out(choice: &PortChoice) -> Result<(MidiOutputConnection, Opened), String> {
    let client = MidiOutput::new(CLIENT).map_err(no_midi)?;
    let PortChoice::Named(wanted) = choice else { return virtual_out(client) };
    let ports = client.ports().into_iter().filter_map(|port| Some((client.port_name(&port).ok()?, port)));
    let (name, port) = find(ports.collect(), wanted)?;
    let probe = Probe::SendTo(MidiOutput::new(PROBE).map_err(no_midi)?, port.id());
    let connection = client.connect(&port, OUT).map_err(|error| in_use(&name, &error))?;
    Ok((connection, Opened::new(name, probe)?))
}

#[cfg(unix)]
fn virtual_out(client: MidiOutput) -> Result<(MidiOutputConnection, Opened), String> {
    use midir::os::unix::VirtualOutput;
    let connection = client.create_virtual(OUT).map_err(|error| in_use(OUT, &error))?;
    let probe = Probe::OwnOut(MidiInput::new(PROBE).map_err(no_midi)?);
    Ok((connection, Opened::new(format!("{CLIENT}:{OUT}"), probe)?))
}

#[cfg(not(unix))]
fn virtual_out(_: MidiOutput) -> Result<(MidiOutputConnection, Opened), String> {
    Err(NO_VIRTUAL.to_owned())
}

#[cfg(not(unix))]
pub(super) const NO_VIRTUAL: &str =
    "this system has no virtual MIDI ports; name a port under [midi] in production.toml";

/// The port whose name is the wanted one, or else contains it.
pub(super) fn find<P>(ports: Vec<(String, P)>, wanted: &str) -> Result<(String, P), String> {
    let lower = wanted.to_lowercase();
    let names: Vec<&str> = ports.iter().map(|(name, _)| name.as_str()).collect();
    let there = if names.is_empty() { "there is none".to_owned() } else { format!("there is {}", names.join(", ")) };
    let missing = format!("no MIDI port is called \"{wanted}\" ({there})");
    let exact = ports.iter().position(|(name, _)| name.to_lowercase() == lower);
    let at = exact.or_else(|| ports.iter().position(|(name, _)| name.to_lowercase().contains(&lower)));
    at.and_then(|at| ports.into_iter().nth(at)).ok_or(missing)
}

pub(super) fn no_midi(error: midir::InitError) -> String {
    format!("this machine's MIDI cannot be reached ({error})")
}

pub(super) fn in_use(name: &str, error: &dyn std::fmt::Display) -> String {
    format!("the MIDI port \"{name}\" cannot be opened ({error})")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_is_found_by_its_name_or_a_part_of_it() {
        let ports = || vec![("USB Desk MIDI 1".to_owned(), 1), ("desk".to_owned(), 2)];
        assert_eq!(find(ports(), "usb desk").map(|found| found.1), Ok(1));
        assert_eq!(find(ports(), "Desk").map(|found| found.1), Ok(2), "the whole name comes first");
        assert_eq!(
            find(ports(), "pad").map(|found| found.1),
            Err("no MIDI port is called \"pad\" (there is USB Desk MIDI 1, desk)".to_owned())
        );
    }
}
