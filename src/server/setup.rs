//! What a server is made of, and how it begins: the journal is opened, the invitations are found or made, everybody
//! who joined before is known again.

use std::collections::BTreeMap;
use std::future::{Future, IntoFuture};
use std::net::SocketAddr;
use std::panic::AssertUnwindSafe;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::connect_info::IntoMakeServiceWithConnectInfo;
use axum::serve::ListenerExt;
use futures_util::FutureExt;
use jiff::{SignedDuration, Timestamp};
use socket2::SockRef;
use tokio::net::{TcpListener, TcpStream};
use tokio::task::JoinHandle;
use tracing::{debug, warn};

use super::audit::audit;
use super::brake::{Brake, Sounding};
use super::certificate::Certificate;
use super::company::{Address, Company};
use super::directory::{Directory, NoRandomness};
use super::fights::Fights;
use super::foot;
use super::freezer::Freezer;
use super::gate::Gate;
use super::hosts::Hosts;
use super::house::House;
use super::http;
use super::hub::{self, Lanes, Parts};
use super::look_back::look_back;
use super::open_files::open_files;
use super::reached::Reached;
use super::reload::{self, Shelf};
use super::remembered::{Remembered, remembered};
use super::replay::{BUILD, Beginning, KnownTap, PATIENCE, Recalled, recall};
use super::request::ToHub;
use super::restock::Sources;
use super::review::Reviews;
use super::scores::Scores;
use super::sockets::{self, Lines};
use super::sound_page::Kept;
use super::study::Study;
use super::telling::Teller;
use super::tls::TlsListener;
use super::visitors::{Door, VisitorLimits, Visitors};
use super::writer::Writer;
use crate::call::{Before, Fight, HoldId, MemberId, Role, Settings, TapFate, Taps};
use crate::faults::{Faults, Part};
use crate::journal::{Journal, JournalError, SessionStart};
use crate::outputs::Outputs;
use crate::production::{Limits, OnLostLink, Production, invitations};
use crate::sound::Sound;
use crate::time::{ServerClock, SleepClock, utc_now};
use crate::units::Micros;

/// Bytes that the kernel may keep for a slow member.
const SEND_BUFFER: usize = 64 * 1024;
/// Of these, so many may be unsent: a stop is not to wait behind a pile of old cues (`TCP_NOTSENT_LOWAT`, tcp(7)).
const UNSENT: u32 = 4 * 1024;

/// From "start" to the first beat of the count-in: time for the first cue to reach a phone on a poor network, and for a
/// person to look up.
const LEAD: Micros = Micros::millis(1_000);

/// What lets pages in, to the desk.
const DOOR: Part = Part {
    name: "The door for pages",
    costs: "Whoever is in stays in; nobody comes in or comes back until the server is started anew.",
};

/// What is served.
pub struct Serving {
    /// The production's name.
    pub production: String,
    /// Its fights.
    pub fights: Vec<Arc<Fight>>,
    /// What is wrong with its files, a sentence each.
    pub troubles: Vec<String>,
    /// Beats of the usual count-in; nothing is one bar.
    pub count_in: Option<u32>,
    /// For how many days an invitation lets people in.
    pub invitation_days: u32,
    /// What the house decides about calls.
    pub settings: Settings,
    /// The production as it was read: its scores can be written, and are read anew when they are saved; nothing for none.
    pub folder: Option<Arc<Production>>,
    /// The folder of the journal and the invitations.
    pub data: PathBuf,
    /// How phones reach this server: `http://address:port`, without a slash at the end.
    pub base_url: String,
    /// HTTPS beside HTTP, if it is wanted.
    pub secure: Option<SecureDoor>,
    /// The loudspeakers.
    pub sound: Sound,
    /// MIDI and OSC.
    pub outputs: Outputs,
    /// The server's clock.
    pub clock: ServerClock,
    /// How many connections may be open whose other side has not said who it is.
    pub visitors: VisitorLimits,
    /// By which names this machine is called, besides its own.
    pub names: Vec<String>,
    /// How much is taken from those who come.
    pub limits: Limits,
    /// Tells when this machine was asleep.
    pub sleep: SleepClock,
    /// What tests and benches freeze; usually nothing.
    pub freezer: Freezer,
    /// How long it may take to play the call again that went on when the last server stopped.
    pub patience: Duration,
}

/// A listener for HTTPS.
pub struct SecureDoor {
    /// Where it listens.
    pub listener: TcpListener,
    /// Its certificate.
    pub certificate: Certificate,
    /// How phones reach it: `https://address:port`, without a slash at the end.
    pub url: String,
}

/// Why a server cannot begin.
#[derive(Debug, thiserror::Error)]
pub enum ServingError {
    /// The journal cannot be used; the sentence says what to do.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// No secrets can be made.
    #[error(transparent)]
    NoRandomness(#[from] NoRandomness),
    /// The system gives no thread for the sockets, or no way to wait for them.
    #[error(
        "The system does not let the server wait for its sockets: {0}. Close other programs, or restart this machine."
    )]
    NoSockets(#[from] std::io::Error),
}

/// The link of each role's invitation, in the order of the roles.
pub type Links = Vec<(Role, String)>;

/// A server that is ready to run.
pub struct Ready {
    folder: Option<Arc<Production>>,
    secure: Option<SecureDoor>,
    data: PathBuf,
    parts: Parts,
    kept: Kept,
    clock: ServerClock,
    journal: Journal,
    lanes: Lanes,
    hosts: Hosts,
    fights: Arc<Fights>,
    /// The invitations' links.
    pub links: Links,
}

impl Serving {
    /// What a production's folder says is to be served.
    pub fn of(production: &Production, base_url: String, sound: Sound, clock: ServerClock) -> Serving {
        let config = &production.config;
        let holds = |role: &Role| config.links.of(*role) == OnLostLink::Hold;
        Serving {
            production: config.name.clone(),
            fights: production.playable(),
            troubles: production.troubles(),
            count_in: config.count_in,
            invitation_days: config.invitation_days,
            settings: Settings {
                horizon: config.horizon,
                lead: LEAD,
                hold_on_lost_link: Role::ALL.into_iter().filter(holds).collect(),
                before_call: config.before_call.clone(),
                why: config.why.clone(),
                evening: config.evening.clone(),
            },
            folder: Some(Arc::new(production.clone())),
            data: production.data(),
            base_url,
            secure: None,
            sound,
            outputs: Outputs::open(config.outputs.clone(), clock),
            clock,
            visitors: VisitorLimits::chosen(open_files(), &config.limits),
            names: config.names.clone(),
            limits: config.limits,
            sleep: SleepClock::of_this_machine(),
            freezer: Freezer::none(),
            patience: PATIENCE,
        }
    }

    /// A server with nothing around it: no files of a production, no outputs, HTTP alone. What tests and simulations want
    /// otherwise they say.
    pub fn bare(
        data: PathBuf,
        fights: Vec<Arc<Fight>>,
        settings: Settings,
        sound: Sound,
        clock: ServerClock,
    ) -> Serving {
        /// As many files as most systems give a process.
        const FILES: u64 = 4_096;
        Serving {
            production: "The Salt Stair".to_owned(),
            fights,
            troubles: Vec::new(),
            count_in: None,
            invitation_days: 30,
            settings,
            folder: None,
            data,
            base_url: String::new(),
            secure: None,
            sound,
            outputs: Outputs::off(),
            clock,
            visitors: VisitorLimits::of_files(FILES),
            names: Vec::new(),
            limits: Limits::default(),
            sleep: SleepClock::of_this_machine(),
            freezer: Freezer::none(),
            patience: PATIENCE,
        }
    }

    /// Opens the journal and the invitations. Waits for the disk.
    ///
    /// # Errors
    /// [`ServingError`]; nothing has been changed then but what the journal itself marks when it is opened.
    pub fn open(self) -> Result<Ready, ServingError> {
        let journal = Journal::open(&self.data, &session_start())?;
        self.open_with(journal)
    }

    /// The same with a journal that is open already: elsewhere, or one that cannot be written.
    ///
    /// # Errors
    /// [`ServingError`].
    pub fn open_with(self, journal: Journal) -> Result<Ready, ServingError> {
        self.open_on(journal, sockets::start)
    }

    /// The same on an open journal, with another way to start the sockets' thread.
    pub(super) fn open_on(
        mut self,
        journal: Journal,
        start_sockets: impl FnOnce(Arc<Brake>, ToHub, Taps<()>, (SleepClock, Limits)) -> std::io::Result<Lines>,
    ) -> Result<Ready, ServingError> {
        journal.listens_at(&self.base_url);
        let utc = utc_now();
        let opened = journal.opened().clone();
        if !opened.closed_well {
            warn!(runs = ?opened.cut_off, "the last server on this journal went away without closing; its runs are marked as cut off");
        }
        let (mut directory, unkept) = directory(&self.data, self.invitation_days, utc)?;
        let before = Before {
            sessions: u32::try_from(opened.session).unwrap_or(u32::MAX),
            last_run: opened.last_run,
            last_hold: opened.last_hold,
        };
        let Remembered { members, left, joined } = remembered(&opened.members, &mut directory, utc);
        let fate = |hold: Option<u32>| hold.map_or(TapFate::Late, |hold| TapFate::Written(HoldId(hold)));
        let taps = opened.taps.iter().map(|known| KnownTap {
            member: MemberId(known.member),
            tap: known.tap.clone(),
            fate: fate(known.hold),
        });
        let beginning = Beginning {
            data: self.data.clone(),
            build: BUILD.to_owned(),
            settings: self.settings.clone(),
            fights: self.fights,
            before,
            members,
            left,
            taps: taps.collect(),
            epoch: utc.saturating_sub(SignedDuration::from_micros(self.clock.now().0)).unwrap_or(utc),
            patience: self.patience,
        };
        let Recalled { call, left, tape } = recall(beginning, journal.clone());
        let fights = Arc::new(Fights::default());
        fights.read(call.fights());
        call.run().into_iter().for_each(|run| fights.shows(&run.setup.fight));
        let links = directory
            .invitations()
            .map(|(role, invitation)| (role, format!("{}/join#{}", self.base_url, invitation.secret.reveal())))
            .collect();
        let lanes = Lanes::new();
        let sounding =
            Sounding { sound: self.sound.clone(), midi: self.outputs.midi().clone(), osc: self.outputs.osc().clone() };
        let brake = Arc::new(Brake::new(self.clock, sounding));
        let mut pulled = Taps::default();
        for known in opened.taps {
            pulled.put(MemberId(known.member), &known.tap, ());
        }
        for (member, tap) in left.owed_taps() {
            pulled.put(member, tap, ());
        }
        let lines = start_sockets(Arc::clone(&brake), lanes.to_hub.clone(), pulled, (self.sleep, self.limits))?;
        if let Some(events) = self.outputs.take_events() {
            foot::listen(events, Arc::clone(&brake), lines.clone(), lanes.to_hub.clone())?;
        }
        let kept = Kept::load(&self.data, &self.sound, &mut self.outputs);
        let next_member = opened.members.iter().map(|member| member.member).max().unwrap_or(0).saturating_add(1);
        let secure_url = self.secure.as_ref().map(|door| door.url.clone());
        let hosts = Hosts::new(&self.names, &self.base_url, secure_url.as_deref());
        let address = Address {
            production: self.production,
            base_url: self.base_url,
            secure_url,
            fingerprint: self
                .secure
                .as_ref()
                .and_then(|door| Some(door.certificate.authority.as_ref()?.fingerprint.clone())),
        };
        let reached = Arc::new(Reached::new(self.limits, self.clock));
        let parts = Parts {
            clock: self.clock,
            call,
            left,
            tape,
            company: Company::new(address, directory, joined, (next_member, Arc::clone(&reached)))
                .unkept_because(unkept),
            teller: Teller::new(self.settings.horizon, self.count_in, self.troubles, Arc::clone(&reached)),
            writer: Writer::new(journal.clone(), self.clock, lanes.to_hub.written.clone()),
            sound: self.sound,
            outputs: self.outputs,
            brake,
            lines,
            freezer: self.freezer,
            data: self.data.clone(),
            faults: Faults::default(),
            visitors: Visitors::new(self.visitors, Arc::clone(&reached)),
            reached,
        };
        Ok(Ready {
            folder: self.folder,
            secure: self.secure,
            data: self.data,
            parts,
            kept,
            clock: self.clock,
            journal,
            lanes,
            hosts,
            fights,
            links,
        })
    }
}

impl Ready {
    /// What the hub is made of, for a simulation.
    #[cfg(test)]
    pub(super) fn into_hub(self) -> (Parts, Kept, Lanes) {
        (self.parts, self.kept, self.lanes)
    }

    /// What whoever starts the server must know: why the links it shows are not kept.
    pub fn trouble(&self) -> Option<&str> {
        self.parts.company.unkept().map(String::as_str)
    }

    /// The server's journal, for those who start it.
    pub fn journal(&self) -> &Journal {
        &self.journal
    }

    /// Serves until the shutdown comes; then says goodbye, writes what waits, and closes the journal.
    ///
    /// # Errors
    /// [`ServingError::Journal`] when something could not be written at the end.
    pub async fn run(
        self,
        listener: TcpListener,
        shutdown: impl Future<Output = ()> + Send + 'static,
    ) -> Result<(), ServingError> {
        let lanes = self.lanes;
        let shelf = self.folder.map(|production| Arc::new(Shelf::new(production, Arc::clone(&self.fights))));
        let house_hub = lanes.to_hub.clone();
        let house = House {
            hub: lanes.to_hub.clone(),
            lines: self.parts.lines.clone(),
            brake: Arc::clone(&self.parts.brake),
            keys: self.parts.company.directory().keys(),
            clock: self.clock,
            gate: Arc::new(Gate::default()),
            hosts: Arc::new(self.hosts),
            reached: Arc::clone(&self.parts.reached),
            fights: Arc::clone(&self.fights),
            paces: Arc::default(),
        };
        let scores = Scores::new(house.clone(), shelf.clone(), self.journal.clone());
        let production = self.parts.company.production().to_owned();
        let study = Study {
            house: house.clone(),
            sound: self.parts.sound.clone(),
            data: self.data.clone(),
            production: production.as_str().into(),
        };
        let data = self.data.clone();
        let reviews = Reviews::new(self.data, shelf.clone(), production);
        let authority =
            self.secure.as_ref().and_then(|door| Some(Arc::clone(&door.certificate.authority.as_ref()?.pem)));
        let router =
            http::router(study, scores, reviews, authority).into_make_service_with_connect_info::<SocketAddr>();
        let faults = self.parts.faults.clone();
        let visitors = Arc::clone(&self.parts.visitors);
        let door = Door { listener, visitors: Arc::clone(&visitors), tune };
        let secure = self.secure.and_then(|door| secured(door, router.clone(), visitors, faults.clone()));
        // The tap changes nothing: with it, the library tells who connected.
        let listener = door.tap_io(|_| ());
        let site = tokio::spawn(watched(axum::serve(listener, router).into_future(), faults.clone()));
        let watching = shelf.map(|shelf| {
            let sources = Arc::new(Sources::new(&shelf.get(), self.parts.sound.clone()));
            tokio::spawn(reload::watch(shelf, sources, house_hub, faults))
        });
        let auditing = tokio::spawn(audit(self.journal.clone()));
        let looking_back = tokio::spawn(look_back(data, house.hub));
        hub::run(self.parts, self.kept, lanes, shutdown).await;
        // The goodbyes are on their way; a moment is enough for them on any network that could run a fight.
        tokio::time::sleep(std::time::Duration::from_millis(100)).await;
        site.abort();
        auditing.abort();
        looking_back.abort();
        if let Some(secure) = secure {
            secure.abort();
        }
        if let Some(watching) = watching {
            watching.abort();
        }
        self.journal.close()?;
        Ok(())
    }
}

type Pages = IntoMakeServiceWithConnectInfo<Router, SocketAddr>;

/// Serves the same pages over HTTPS.
fn secured(door: SecureDoor, router: Pages, visitors: Arc<Visitors>, faults: Faults) -> Option<JoinHandle<()>> {
    let plain = Door { listener: door.listener, visitors, tune };
    match TlsListener::new(plain, door.certificate.config) {
        Ok(listener) => {
            let served = axum::serve(listener.tap_io(|_| ()), router).into_future();
            Some(tokio::spawn(watched(served, faults)))
        }
        Err(error) => {
            warn!("HTTPS is not served: {error}");
            None
        }
    }
}

/// A door that fails is told at the desk: it would have to be opened anew.
async fn watched(served: impl Future, faults: Faults) {
    if let Err(payload) = AssertUnwindSafe(served).catch_unwind().await {
        faults.note(DOOR, payload.as_ref(), false);
    }
}

/// What every socket needs: no waiting for more to send, and little room for what is old.
fn tune(socket: &TcpStream) {
    let reference = SockRef::from(socket);
    let tuned = socket
        .set_nodelay(true)
        .and_then(|()| reference.set_send_buffer_size(SEND_BUFFER))
        .and_then(|()| unsent(&reference));
    if let Err(error) = tuned {
        debug!("a socket keeps its defaults: {error}");
    }
}

#[cfg(any(target_os = "linux", target_os = "android"))]
fn unsent(socket: &SockRef<'_>) -> std::io::Result<()> {
    socket.set_tcp_notsent_lowat(UNSENT)
}

/// Elsewhere the send buffer alone limits it.
#[cfg(not(any(target_os = "linux", target_os = "android")))]
fn unsent(_: &SockRef<'_>) -> std::io::Result<()> {
    Ok(())
}

/// What a journal is told of a start that is now.
pub fn session_start() -> SessionStart {
    SessionStart { utc: utc_now(), server: env!("CARGO_PKG_VERSION").to_owned() }
}

/// The invitations, as they were kept or new, and why those that are in use are not on disk, where they are not: the show
/// begins all the same. A file that cannot be read is left as it is.
fn directory(data: &Path, days: u32, utc: Timestamp) -> Result<(Directory, Option<String>), NoRandomness> {
    let (kept, unread) = match invitations::load(data, utc) {
        Ok(kept) => (kept, None),
        Err(error) => (BTreeMap::new(), Some(error)),
    };
    let directory = Directory::new(kept, days, utc)?;
    let unkept = unread.or_else(|| invitations::save(data, &directory.to_keep()).err());
    let says = |error| {
        let good =
            "The links and codes that are shown now are good until this server stops; hand them out anew after that.";
        format!("The invitations are not kept. {error} {good}")
    };
    Ok((directory, unkept.map(says)))
}
