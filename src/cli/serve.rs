//! `holdfast serve`: the desk for one production.

use std::collections::BTreeMap;
use std::net::{IpAddr, SocketAddr, UdpSocket};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;

use holdfast::call::Role;
use holdfast::production::{Production, device};
use holdfast::server::{Links, Serving, qr};
use holdfast::sound::{Library, Sound, SoundSettings, recordings};
use holdfast::time::ServerClock;
use tokio::net::TcpListener;

use super::{EXIT_UNUSABLE, terminal};

/// Runs the desk for the production in DIR.
///
/// The stage manager opens the desk link in a browser on this machine. Everybody else opens theirs, or scans its code,
/// on their own phone. Without --listen only this machine can reach the server: for phones, listen on the address that
/// this machine has in the rehearsal room's own network, for instance --listen 192.168.1.20:8740, or on 0.0.0.0:8740
/// for every network it is in. The link is plain HTTP: use a network that only the company is in. A browser keeps a
/// phone's screen awake only over HTTPS, so ask everybody to switch auto-lock off.
///
/// Stop the server with Ctrl-C: it says goodbye to the phones, writes what waits, and closes the log.
///
/// Exit code: 0 stopped; 2 could not serve, with the reason.
#[derive(clap::Args)]
pub(crate) struct Serve {
    /// The production's folder; `holdfast new DIR` makes one.
    dir: PathBuf,
    /// The address and port to listen on.
    #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:8740")]
    listen: SocketAddr,
    /// How phones reach this server, if its own idea of it is wrong: http://NAME:PORT.
    #[arg(long, value_name = "URL")]
    url: Option<String>,
}

impl Serve {
    pub(crate) fn run(self) -> ExitCode {
        terminal::log_to_stderr();
        match terminal::runtime().and_then(|runtime| runtime.block_on(serve(&self))) {
            Ok(()) => ExitCode::SUCCESS,
            Err(reason) => {
                eprintln!("holdfast serve: {reason}");
                ExitCode::from(EXIT_UNUSABLE)
            }
        }
    }
}

async fn serve(args: &Serve) -> Result<(), String> {
    let listener = listen(args.listen).await?;
    let at = listener.local_addr().map_err(|error| error.to_string())?;
    let base_url = args.url.clone().unwrap_or_else(|| url_of(at));
    let serving = serving(&args.dir, base_url.trim_end_matches('/').to_owned())?;
    let recordings = serving.sound.library();
    let of_recordings = recordings.as_ref().map_or(&[][..], |library| library.troubles());
    for trouble in serving.troubles.iter().chain(of_recordings) {
        eprintln!("{trouble}");
    }
    let name = serving.production.clone();
    let ready = serving.open().map_err(|error| error.to_string())?;
    println!("Holdfast serves {name} at {at}.\n");
    print_links(&ready.links);
    print_needs(at);
    ready.run(listener, terminal::stopped()).await.map_err(|error| error.to_string())
}

/// Binds the address, with a sentence when it cannot be had.
pub(crate) async fn listen(at: SocketAddr) -> Result<TcpListener, String> {
    TcpListener::bind(at).await.map_err(|error| match error.kind() {
        std::io::ErrorKind::AddrInUse => {
            format!("{at} is in use: another program, or another Holdfast, listens there. Stop it, or choose another port with --listen.")
        }
        std::io::ErrorKind::AddrNotAvailable => {
            format!("This machine has no address {}. Choose one that it has, or 0.0.0.0 for all of them, with --listen.", at.ip())
        }
        _ => format!("{at} cannot be listened on: {error}. Choose another address with --listen."),
    })
}

/// What is served from a production's folder.
pub(crate) fn serving(dir: &Path, base_url: String) -> Result<Serving, String> {
    let production = Production::open(dir).map_err(|error| error.to_string())?;
    let clock = ServerClock::new();
    let (settings, device_trouble) = sound_settings(&production);
    let (recordings, broken) = recordings::load(&production.sounds());
    let sound = Sound::open(settings, clock);
    let broken = broken.iter().map(|trouble| format!("{trouble}.")).chain(device_trouble).collect();
    sound.stock(Arc::new(Library::new(recordings, &BTreeMap::new()).with_troubles(broken)));
    Ok(Serving::of(&production, base_url, sound, clock))
}

/// The loudspeakers of a production: what its sound page chose, and besides what `production.toml` says. With them a
/// sentence when what was chosen cannot be read.
pub(crate) fn sound_settings(production: &Production) -> (SoundSettings, Option<String>) {
    let own = &production.config.sound;
    let (choice, trouble) = match device::load(&production.data()) {
        Ok(Some(chosen)) => (chosen.over(own), None),
        Ok(None) => (own.clone(), None),
        Err(error) => (own.clone(), Some(error.to_string())),
    };
    let settings = SoundSettings {
        device: choice.device,
        rate: choice.rate,
        buffer_frames: choice.buffer_frames,
        click_level: choice.click_level,
        latency: choice.latency,
        distance: choice.distance,
        celsius: choice.celsius,
    };
    (settings, trouble)
}

/// The links for a terminal: all of them as text, the phones' as codes as well.
pub(crate) fn print_links(links: &Links) {
    for (role, link) in links {
        if matches!(role, Role::Performer | Role::Captain) {
            println!("{}\n{}", role.title(), qr::text(link));
        }
    }
    for (role, link) in links {
        println!("{:<16} {link}", role.title());
    }
    println!("\nWhoever has a link can come in: hand each out to those it is for. New ones are made on the desk page.");
}

/// What phones need, in plain words.
fn print_needs(at: SocketAddr) {
    if at.ip().is_loopback() {
        println!(
            "\nOnly this machine can reach the server. For phones: --listen 0.0.0.0:{}, in a network of your own.",
            at.port()
        );
    } else {
        println!("\nPhones must be in the same network as this machine, with auto-lock off and sound on.");
    }
    println!("{}\n", terminal::CAUTION);
}

/// The address under which others find this machine.
fn url_of(at: SocketAddr) -> String {
    let ip = if at.ip().is_unspecified() { own_address().unwrap_or(at.ip()) } else { at.ip() };
    format!("http://{}", SocketAddr::new(ip, at.port()))
}

/// The address of the way out of this machine. Nothing is sent: connecting a UDP socket only looks up the route, here
/// to an address that RFC 5737 reserves for documents.
fn own_address() -> Option<IpAddr> {
    let socket = UdpSocket::bind("0.0.0.0:0").ok()?;
    socket.connect("192.0.2.1:9").ok()?;
    Some(socket.local_addr().ok()?.ip())
}
