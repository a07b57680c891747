//! A real server on a real socket with a real journal, and members who talk to it.

use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use holdfast::call::{Fight, Role, Settings, UsualEvening, Why};
use holdfast::member::{Address, Behaviour, Seen, StandIn, StandInHandle};
use holdfast::outputs::Outputs;
use holdfast::production::{Limits, Production};
use holdfast::server::{Freezer, Links, SecureDoor, Serving, VisitorLimits, certificate};
use holdfast::sound::{Library, Sound};
use holdfast::time::{ServerClock, SleepClock};
use holdfast::units::Micros;
use holdfast::wire::{DriveKind, Setup, Stage, Subject, ToServer};
use tokio::net::TcpListener;
use tokio::sync::oneshot;
use tokio::task::JoinHandle;

/// Long enough for any machine; a test that waits so long has failed.
const PATIENCE: Duration = Duration::from_secs(20);
/// A loaded machine may take long over what a quiet one does at once: a test is not about that.
const LONG: Duration = Duration::from_secs(60);

/// A server that runs until it is told to stop.
pub(crate) struct House {
    pub(crate) links: Links,
    pub(crate) clock: ServerClock,
    pub(crate) sound: Sound,
    stop: oneshot::Sender<()>,
    task: JoinHandle<()>,
}

/// How a house is reached over TLS.
pub(crate) struct Secure {
    pub(crate) port: u16,
    /// Whom to trust, PEM.
    pub(crate) authority: Arc<str>,
}

impl House {
    /// Opens the server on a free port, with its journal in `data`.
    pub(crate) async fn open(data: &Path, fights: Vec<Arc<Fight>>) -> House {
        House::open_with(data, fights, Vec::new()).await
    }

    /// The same, with the roles whose lost link holds the run.
    pub(crate) async fn open_with(data: &Path, fights: Vec<Arc<Fight>>, hold_on_lost_link: Vec<Role>) -> House {
        House::serve(House::serving(data, fights, hold_on_lost_link)).await
    }

    /// The same, with threads that a test freezes.
    pub(crate) async fn open_freezing(data: &Path, fights: Vec<Arc<Fight>>, freezer: Freezer) -> House {
        House::serve(Serving { freezer, ..House::serving(data, fights, Vec::new()) }).await
    }

    /// The same, on a machine that sleeps when the test says so.
    pub(crate) async fn open_sleeping(data: &Path, fights: Vec<Arc<Fight>>, sleep: SleepClock) -> House {
        House::serve(Serving { sleep, ..House::serving(data, fights, Vec::new()) }).await
    }

    /// The same, with room for so few at its door.
    pub(crate) async fn open_limited(data: &Path, visitors: VisitorLimits) -> House {
        House::serve(Serving { visitors, ..House::serving(data, Vec::new(), Vec::new()) }).await
    }

    /// The same, which takes no more than that from those who come.
    pub(crate) async fn open_taking(data: &Path, limits: Limits) -> House {
        House::serve(Serving { limits, ..House::serving(data, Vec::new(), Vec::new()) }).await
    }

    /// The same, which does not wait for the last call to be played again.
    pub(crate) async fn open_impatient(data: &Path, fights: Vec<Arc<Fight>>) -> House {
        House::serve(Serving { patience: Duration::ZERO, ..House::serving(data, fights, Vec::new()) }).await
    }

    /// The same, with HTTPS beside HTTP.
    pub(crate) async fn open_secure(data: &Path, fights: Vec<Arc<Fight>>) -> (House, Secure) {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let at = listener.local_addr().unwrap();
        let now = holdfast::time::utc_now();
        let wanted = certificate::Wanted { addresses: vec![at.ip()], ..certificate::Wanted::default() };
        let certificate = certificate::of_our_own(data, &wanted, now).unwrap();
        let secure = Secure { port: at.port(), authority: certificate.authority.clone().unwrap().pem };
        let door = SecureDoor { listener, certificate, url: format!("https://{at}") };
        let serving = Serving { secure: Some(door), ..House::serving(data, fights, Vec::new()) };
        (House::serve(serving).await, secure)
    }

    /// The same, with sounds.
    pub(crate) async fn open_stocked(data: &Path, fights: Vec<Arc<Fight>>, library: Library) -> House {
        let serving = House::serving(data, fights, Vec::new());
        serving.sound.stock(Arc::new(library));
        House::serve(serving).await
    }

    /// The same, whose company checks these things before a call and has that order and those covers on an evening.
    pub(crate) async fn open_planned(
        data: &Path,
        fights: Vec<Arc<Fight>>,
        checks: &[&str],
        usual: UsualEvening,
    ) -> House {
        let mut serving = House::serving(data, fights, Vec::new());
        serving.settings.before_call = checks.iter().map(|check| (*check).to_owned()).collect();
        serving.settings.evening = usual;
        House::serve(serving).await
    }

    /// The same, with outputs.
    pub(crate) async fn open_with_outputs(data: &Path, outputs: Outputs) -> House {
        House::serve(Serving { outputs, ..House::serving(data, Vec::new(), Vec::new()) }).await
    }

    fn serving(data: &Path, fights: Vec<Arc<Fight>>, hold_on_lost_link: Vec<Role>) -> Serving {
        let clock = ServerClock::new();
        let settings = Settings {
            horizon: Micros::millis(1_500),
            lead: Micros::millis(500),
            hold_on_lost_link,
            before_call: Vec::new(),
            why: Why::default(),
            evening: UsualEvening::default(),
        };
        let bare = Serving::bare(data.to_owned(), fights, settings, Sound::null(clock), clock);
        Serving { production: "The Harbour Company".into(), patience: LONG, ..bare }
    }

    /// Serves a production's folder.
    pub(crate) async fn of_folder(folder: &Path) -> House {
        let clock = ServerClock::new();
        let production = Production::open(folder).unwrap();
        let serving = Serving::of(&production, String::new(), Sound::null(clock), clock);
        House::serve(Serving { patience: LONG, ..serving }).await
    }

    async fn serve(serving: Serving) -> House {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let (clock, sound) = (serving.clock, serving.sound.clone());
        let base_url = format!("http://{}", listener.local_addr().unwrap());
        let ready = Serving { base_url, ..serving }.open().unwrap();
        let links = ready.links.clone();
        let (stop, stopped) = oneshot::channel();
        let task = tokio::spawn(async move {
            let shutdown = async move { drop(stopped.await) };
            ready.run(listener, shutdown).await.unwrap();
        });
        House { links, clock, sound, stop, task }
    }

    pub(crate) fn address(&self, role: Role) -> Address {
        let (_, link) = self.links.iter().find(|(of, _)| *of == role).unwrap();
        Address::parse(link).unwrap()
    }

    /// Somebody who joins and does what a person would. Whoever does not perform shows everything there is.
    pub(crate) async fn join(&self, role: Role, name: &str, part: Option<&str>) -> Person {
        let shows = if role == Role::Performer { Vec::new() } else { Subject::ALL.to_vec() };
        let is_told = |seen: &Seen| role == Role::Performer || seen.known.missing.is_some();
        let behaviour = Behaviour { ready_after: Some(Micros::millis(1)), shows, ..Behaviour::default() };
        let hand = StandIn::spawn(self.address(role), name, part.map(str::to_owned), behaviour, self.clock);
        let person = Person { hand };
        person.until("is linked and told", |seen| seen.linked && seen.state.is_some() && is_told(seen)).await;
        person
    }

    pub(crate) async fn stop(self) {
        drop(self.stop);
        self.task.await.unwrap();
    }
}

/// Somebody at a phone or a desk.
pub(crate) struct Person {
    pub(crate) hand: StandInHandle,
}

impl Person {
    /// Waits until something is true of what they see.
    pub(crate) async fn until(&self, what: &str, is_so: impl FnMut(&Seen) -> bool) -> Seen {
        let mut seen = self.hand.seen();
        let found = tokio::time::timeout(PATIENCE, seen.wait_for(is_so)).await;
        match found {
            Ok(Ok(seen)) => seen.clone(),
            _ => {
                panic!("{} waited in vain until it {what}; it sees {:#?}", self.hand.name(), *self.hand.seen().borrow())
            }
        }
    }

    pub(crate) async fn until_stage(&self, stage: Stage) -> Seen {
        self.until(&format!("sees {stage:?}"), |seen| seen.state.as_ref().is_some_and(|state| state.stage == stage))
            .await
    }

    pub(crate) fn say(&self, message: ToServer) {
        self.hand.say(message);
    }

    /// Calls places for the whole of the first fight, waits until everybody with a part is ready, and starts.
    pub(crate) async fn run_the_fight(&self, percent: u16) {
        self.call_places(percent).await;
        let seen = self
            .until("sees everybody ready", |seen| {
                let state = seen.state.as_ref().unwrap();
                state.stage == Stage::Places && seen.known.members().all(|member| member.part.is_none() || member.ready)
            })
            .await;
        let state = seen.state.unwrap();
        self.say(ToServer::Start { generation: state.generation, anyway: false, seen: state.last_event });
    }

    /// Starts what places are called for, whoever is missing; gives its generation.
    pub(crate) async fn start_anyway(&self) -> u64 {
        let state = self.until_stage(Stage::Places).await.state.unwrap();
        self.say(ToServer::Start { generation: state.generation, anyway: true, seen: state.last_event });
        state.generation
    }

    pub(crate) async fn call_places(&self, percent: u16) {
        let seen = self.hand.seen().borrow().clone();
        let fight = &seen.known.fights.as_ref().unwrap()[0];
        let setup = Setup {
            fight: fight.fight.clone(),
            weapons: None,
            from: 0,
            from_move: None,
            to: u32::try_from(fight.phrases.len()).unwrap() - 1,
            percent,
            count_in: 2,
            drive: DriveKind::Clock,
        };
        self.say(ToServer::Places { setup, seen: seen.state.unwrap().last_event });
        self.until_stage(Stage::Places).await;
    }

    /// Releases the hold that stands, having seen all who called it.
    pub(crate) fn release(&self) {
        let state = self.hand.seen().borrow().state.clone().unwrap();
        let hold = state.hold.as_ref().unwrap();
        self.say(ToServer::Release { hold: hold.hold, seen: hold.last_event });
    }
}
