//! `holdfast serve`: the desk for one production.

use std::env;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr, UdpSocket};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;

use holdfast::call::Role;
use holdfast::production::{Production, device};
use holdfast::server::certificate::{Authority, Wanted};
use holdfast::server::{Links, SecureDoor, Serving, certificate, own_name, qr};
use holdfast::sound::{Sound, SoundSettings};
use holdfast::time::{ServerClock, file_time_now, utc_now};
use holdfast::{journal, leftovers};
use tokio::net::TcpListener;

use super::EXIT_UNUSABLE;
use super::beginning as log;
use super::terminal::{self, Terminal};

/// Runs the desk for the production in DIR.
///
/// The stage manager opens the desk link in a browser on this machine. Everybody else opens theirs, or scans its code,
/// on their own phone. Without --listen only this machine can reach the server: for phones, listen on the address that
/// this machine has in the rehearsal room's own network, for instance --listen 192.168.1.20:8740, or on 0.0.0.0:8740
/// for every network it is in. That link is plain HTTP: use a network that only the company is in. Everything works
/// over it but one thing: a browser keeps a phone's screen awake only over HTTPS, so ask everybody to switch auto-lock
/// off, or serve HTTPS as well.
///
/// HTTPS beside HTTP is --https ADDR, with the company's own certificate (--cert and --key) or with one that Holdfast
/// makes. A phone must trust the one that is made before it lets the link in: open http://ADDRESS/authority.crt on it
/// once, install the profile or certificate that it offers, and on an iPhone switch it on under Settings, General,
/// About, Certificate Trust Settings. Who cannot or may not do that stays on the HTTP link; both lead to the same call.
/// Without --listen, phones reach the HTTPS address alone, and every link and code is for it: the choice for a company
/// with a certificate of its own.
///
/// The show can always begin. Where the log cannot be written (a full or read-only disk, a damaged file, one of a newer
/// Holdfast), the terminal asks whether to begin without it, and says what will be forgotten; --without-log answers
/// yes beforehand, for where there is no terminal. --second-log FOLDER keeps the log of such an evening elsewhere, on a
/// stick for instance. A disk that is well again is written from then on.
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
    /// Serve HTTPS as well, at this address and port; for phones, for instance 0.0.0.0:8743.
    #[arg(long, value_name = "ADDR")]
    https: Option<SocketAddr>,
    /// How phones reach the HTTPS address, above all when --cert is for a name: https://NAME:PORT.
    #[arg(long, value_name = "URL", requires = "https")]
    https_url: Option<String>,
    /// The company's own certificate with its chain, a PEM file; without it, Holdfast makes one.
    #[arg(long, value_name = "FILE", requires = "https", requires = "key")]
    cert: Option<PathBuf>,
    /// The key of --cert, a PEM file.
    #[arg(long, value_name = "FILE", requires = "cert")]
    key: Option<PathBuf>,
    /// Listen on a free port when that of --listen is taken. Links and codes that were handed out or printed before then
    /// lead to whatever has the port: hand out those that are shown at the start.
    #[arg(long)]
    any_port: bool,
    /// Begin although the log cannot be written: what happens is forgotten when the server stops.
    #[arg(long)]
    without_log: bool,
    /// Keep the log in this folder when that of the production cannot be written.
    #[arg(long, value_name = "FOLDER")]
    second_log: Option<PathBuf>,
}

impl Serve {
    pub(crate) fn run(self) -> ExitCode {
        let terminal = Terminal::begin();
        match terminal::runtime().and_then(|runtime| runtime.block_on(serve(&self, &terminal))) {
            Ok(()) => ExitCode::SUCCESS,
            Err(reason) => {
                terminal.complain(&format!("holdfast serve: {reason}"));
                ExitCode::from(EXIT_UNUSABLE)
            }
        }
    }
}

async fn serve(args: &Serve, terminal: &Terminal) -> Result<(), String> {
    let listener = listener(args, terminal).await?;
    let at = listener.local_addr().map_err(|error| error.to_string())?;
    let base_url = args.url.clone().unwrap_or_else(|| url_of("http", at));
    let mut serving = serving(&args.dir, base_url.trim_end_matches('/').to_owned())?;
    serving.secure = secure_door(args, &serving).await?;
    let secure = serving.secure.as_ref().map(|door| (door.url.clone(), door.certificate.authority.clone()));
    let https_alone = at.ip().is_loopback() && args.https.is_some_and(|at| !at.ip().is_loopback());
    if let (true, None, Some((url, _))) = (https_alone, &args.url, &secure) {
        serving.base_url.clone_from(url);
    }
    let recordings = serving.sound.library();
    let of_recordings = recordings.as_ref().map_or(&[][..], |library| library.troubles());
    for trouble in serving.troubles.iter().chain(of_recordings) {
        terminal.complain(trouble);
    }
    let name = serving.production.clone();
    let journal = log::open(&serving.data, args.second_log.as_deref(), args.without_log, terminal)?;
    // From here on there is something to be closed in order.
    let stopped = terminal::stopped();
    let now = file_time_now();
    let swept = leftovers::sweep(&args.dir, now) + leftovers::sweep_copies(&env::temp_dir(), now);
    if swept > 0 {
        terminal.complain(&format!("{swept} temporary files that a crash had left were taken away."));
    }
    let ready = serving.open_with(journal).map_err(|error| error.to_string())?;
    if let Some(trouble) = ready.trouble() {
        terminal.complain(trouble);
    }
    terminal.say(&format!("Holdfast serves {name} at {at}.\n"));
    print_links(terminal, &ready.links);
    if https_alone {
        terminal.say("\nPhones reach this server over HTTPS alone, and must be in the same network as this machine.");
        if secure.as_ref().is_some_and(|(_, ours)| ours.is_some()) {
            terminal.say(
                "They do not know the certificate that Holdfast made. Give --cert and --key of one that they know, or --listen an address where they can fetch ours.",
            );
        }
    } else {
        print_needs(terminal, at);
    }
    if let Some((url, ours)) = secure.as_ref().filter(|_| !https_alone) {
        let ours = ours.as_ref().map(|ours| (base_url.trim_end_matches('/'), ours));
        print_secure(terminal, &ready.links, url, ours);
    }
    terminal.say(&format!("{}\n", terminal::CAUTION));
    ready.run(listener, stopped).await.map_err(|error| error.to_string())
}

/// Where the server listens. Another port than the one that was asked for is only taken on request.
async fn listener(args: &Serve, terminal: &Terminal) -> Result<TcpListener, String> {
    let why = match listen(args.listen).await {
        Ok(listener) => return Ok(listener),
        Err(why) => why,
    };
    if let Some(served) = served_already(&args.dir) {
        return Err(served);
    }
    let taken = TcpListener::bind(args.listen).await.is_err_and(|error| error.kind() == std::io::ErrorKind::AddrInUse);
    if !taken {
        return Err(why);
    }
    if !args.any_port {
        return Err(format!(
            "{why} Or add --any-port: then a free one is taken, and links and codes from before lead elsewhere."
        ));
    }
    let listener = listen(SocketAddr::new(args.listen.ip(), 0)).await?;
    let at = listener.local_addr().map_err(|error| error.to_string())?;
    terminal.complain(&format!(
        "Port {} is taken, so this server listens on port {}. Links and codes that were handed out or printed before lead \
         elsewhere: hand out those below.",
        args.listen.port(),
        at.port()
    ));
    Ok(listener)
}

/// That another server has this production, where it has: whoever finds a port taken is told what has it.
fn served_already(dir: &Path) -> Option<String> {
    let data = Production::open(dir).ok()?.data();
    journal::in_use(&data).map(|error| error.to_string())
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
    let sound = Sound::open(sound_settings(&production), clock);
    sound.stock(Arc::new(production.library()));
    Ok(Serving::of(&production, base_url, sound, clock))
}

/// The loudspeakers of a production: what its sound page chose, and besides what `production.toml` says. Where that
/// choice cannot be read, the library of the production has the sentence.
pub(crate) fn sound_settings(production: &Production) -> SoundSettings {
    let own = &production.config.sound;
    let chosen = device::load(&production.data()).ok().flatten();
    let choice = chosen.map_or_else(|| own.clone(), |chosen| chosen.over(own));
    SoundSettings {
        device: choice.device,
        rate: choice.rate,
        buffer_frames: choice.buffer_frames,
        click_level: choice.click_level,
        latency: choice.latency,
        distance: choice.distance,
        celsius: choice.celsius,
        hold: production.config.hold.clone(),
    }
}

/// The links for a terminal: all of them as text, the phones' as codes as well.
pub(crate) fn print_links(terminal: &Terminal, links: &Links) {
    for (role, link) in links {
        if matches!(role, Role::Performer | Role::Captain) {
            terminal.say(&format!("{}\n{}", role.title(), qr::text(link)));
        }
    }
    for (role, link) in links {
        terminal.say(&format!("{:<16} {link}", role.title()));
    }
    terminal
        .say("\nWhoever has a link can come in: hand each out to those it is for. New ones are made on the desk page.");
}

/// What phones need, in plain words.
fn print_needs(terminal: &Terminal, at: SocketAddr) {
    if at.ip().is_loopback() {
        terminal.say(&format!(
            "\nOnly this machine can reach the server. For phones: --listen 0.0.0.0:{}, in a network of your own.",
            at.port()
        ));
    } else {
        terminal.say("\nPhones must be in the same network as this machine, with auto-lock off and sound on.");
    }
}

/// The links over HTTPS, and what a phone needs for them. `ours` is where it finds our own authority, and which that is.
fn print_secure(terminal: &Terminal, links: &Links, url: &str, ours: Option<(&str, &Authority)>) {
    terminal.say("\nOver HTTPS, where a phone's screen stays awake by itself:\n");
    for (role, link) in links {
        let secret = link.split_once('#').map_or("", |(_, secret)| secret);
        terminal.say(&format!("{:<16} {url}/join#{secret}", role.title()));
    }
    if let Some((base_url, Authority { fingerprint, is_new, unkept, .. })) = ours {
        if *is_new {
            terminal.say("\nThe certificate authority is new: phones that trusted an earlier one must trust this one.");
        }
        if let Some(unkept) = unkept {
            terminal.complain(&format!("{unkept} The next start makes another authority."));
        }
        terminal.say(&format!(
            "\nA phone must trust these links first, once: open {base_url}/authority.crt on it and install what it offers. \
             Before that the phone shows a SHA-256 fingerprint. It must be this one; if it is not, somebody else answers:\n\n\
             {fingerprint}\n\n\
             Keep the production's data folder private: whoever has its key could pose as a server that the phone trusts. \
             Who cannot install it uses the HTTP link: the same call, with auto-lock off."
        ));
    }
}

/// The HTTPS listener that was asked for.
async fn secure_door(args: &Serve, serving: &Serving) -> Result<Option<SecureDoor>, String> {
    let Some(asked) = args.https else { return Ok(None) };
    let listener = listen(asked).await?;
    let at = listener.local_addr().map_err(|error| error.to_string())?;
    let certificate = match (&args.cert, &args.key) {
        (Some(cert), Some(key)) => certificate::of_the_company(cert, key),
        _ => {
            let names = serving.names.iter().cloned().chain([own_name()]).map(|name| name.to_lowercase()).collect();
            let last_day = serving.folder.as_ref().and_then(|production| production.config.last_day);
            let wanted = Wanted { addresses: addresses(at), names, last_day };
            certificate::of_our_own(&serving.data, &wanted, utc_now())
        }
    }
    .map_err(|error| error.to_string())?;
    let url = args.https_url.clone().unwrap_or_else(|| url_of("https", at));
    Ok(Some(SecureDoor { listener, certificate, url: url.trim_end_matches('/').to_owned() }))
}

/// The addresses that a certificate of ours must name.
fn addresses(at: SocketAddr) -> Vec<IpAddr> {
    let here = [IpAddr::V4(Ipv4Addr::LOCALHOST), IpAddr::V6(Ipv6Addr::LOCALHOST)];
    let there = if at.ip().is_unspecified() { own_address() } else { Some(at.ip()) };
    here.into_iter().chain(there.filter(|ip| !ip.is_loopback())).collect()
}

/// The address under which others find this machine.
fn url_of(scheme: &str, at: SocketAddr) -> String {
    let ip = if at.ip().is_unspecified() { own_address().unwrap_or(at.ip()) } else { at.ip() };
    format!("{scheme}://{}", SocketAddr::new(ip, at.port()))
}

/// The address of the way out of this machine. Nothing is sent: connecting a UDP socket only looks up the route, here
/// to an address that RFC 5737 reserves for documents.
fn own_address() -> Option<IpAddr> {
    let socket = UdpSocket::bind("0.0.0.0:0").ok()?;
    socket.connect("192.0.2.1:9").ok()?;
    Some(socket.local_addr().ok()?.ip())
}
