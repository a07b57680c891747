//! `holdfast demo`: an invented production with stand-ins on the phones, and a fight call under way at once.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;

use holdfast::call::Role;
use holdfast::event::{EventKind, RunEnd};
use holdfast::journal::{EventFilter, EventRow, Reader};
use holdfast::member::{Address, Behaviour, Seen, StandIn, StandInHandle, Summary};
use holdfast::production;
use holdfast::server::Links;
use holdfast::time::ServerClock;
use holdfast::wire::{DriveKind, MissingPart, Setup, Stage, State, Subject, ToServer};
use tokio::sync::oneshot;

use super::terminal::{self, Terminal};
use super::{EXIT_UNUSABLE, EXIT_WRONG, output, season, serve};

/// Shows a fight call with an invented company: no set-up.
///
/// Stand-ins take the parts. They say ready, the run counts in and clicks, one of them calls a hold in mid-phrase, the
/// captain releases it, and the run starts again from the phrase. Then the desk is yours: open the desk link.
///
/// Exit code: 0 shown; 1 (with --once) something did not happen as it should; 2 could not begin, with the reason.
#[derive(clap::Args)]
pub(crate) struct Demo {
    /// One whole call, then a summary of what happened, and out.
    #[arg(long)]
    once: bool,
    /// The address and port to listen on; port 0 is any that is free.
    #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:8740")]
    listen: SocketAddr,
    /// Keep the production in this new folder, to go on with it; otherwise it is gone afterwards.
    #[arg(long, value_name = "DIR")]
    keep: Option<PathBuf>,
    /// Instead of a call, write a season of invented fight calls into the folder of --keep, for `holdfast report`.
    #[arg(long, requires = "keep", conflicts_with = "once")]
    season: bool,
}

/// How long anything in the demo may take.
const PATIENCE: Duration = Duration::from_secs(60);
/// The moves after which one of the stand-ins calls the hold.
const MOVES_BEFORE_HOLD: usize = 4;
/// The log is written within this, and looked at so often until then.
const WRITTEN_WITHIN: Duration = Duration::from_secs(5);
const LOOK_AGAIN: Duration = Duration::from_millis(20);
/// How long the demo's hold stands.
const LOOK_AROUND: Duration = Duration::from_secs(2);

impl Demo {
    pub(crate) fn run(self) -> ExitCode {
        if let Some(folder) = self.keep.as_deref().filter(|_| self.season) {
            return write_season(folder);
        }
        let terminal = Terminal::begin();
        match terminal::runtime().and_then(|runtime| runtime.block_on(demo(&self, &terminal))) {
            Ok(true) => ExitCode::SUCCESS,
            Ok(false) => ExitCode::from(EXIT_WRONG),
            Err(reason) => {
                terminal.complain(&format!("holdfast demo: {reason}"));
                ExitCode::from(EXIT_UNUSABLE)
            }
        }
    }
}

/// Writes the season, and says how to look at it.
fn write_season(folder: &Path) -> ExitCode {
    match season::make(folder) {
        Ok(()) => {
            let folder = folder.display();
            output::say(&format!(
                "Six weeks of invented fight calls are in {folder}. Look at them:\n  \
                 holdfast report {folder}\n  \
                 holdfast report {folder} --format html > review.html\n  \
                 holdfast log {folder} --kind hold\n"
            ));
            ExitCode::SUCCESS
        }
        Err(reason) => {
            output::complain(&format!("holdfast demo: {reason}"));
            ExitCode::from(EXIT_UNUSABLE)
        }
    }
}

/// True when everything happened that should.
async fn demo(args: &Demo, terminal: &Terminal) -> Result<bool, String> {
    let listener = serve::listen(args.listen).await?;
    let at = listener.local_addr().map_err(|error| error.to_string())?;
    let temporary = match &args.keep {
        Some(_) => None,
        None => Some(tempfile::tempdir().map_err(|error| format!("No temporary folder can be made: {error}."))?),
    };
    let dir = args.keep.clone().or_else(|| Some(temporary.as_ref()?.path().join("demo"))).unwrap_or_default();
    production::start_demo(&dir).map_err(|error| error.to_string())?;
    let serving = serve::serving(&dir, format!("http://{at}"))?;
    let (data, clock) = (serving.data.clone(), serving.clock);
    terminal.say(&format!("{}: a demo with stand-ins, at {at}.\n", serving.production));
    let ready = serving.open().map_err(|error| error.to_string())?;
    let links = ready.links.clone();
    if !args.once {
        serve::print_links(terminal, &links);
    }
    terminal.say(&format!("{}\n", terminal::CAUTION));
    let (stop, stopped) = oneshot::channel::<()>();
    let server = tokio::spawn(ready.run(listener, async move { drop(stopped.await) }));
    let company = Company::arrive(terminal, &links, clock).await?;
    let shown = tokio::time::timeout(PATIENCE, company.show(args.once)).await;
    let shown = match shown {
        Ok(shown) => shown,
        Err(_) => Err(format!("it took more than {} seconds", PATIENCE.as_secs())),
    };
    let whole = match shown {
        Ok(()) if args.once => {
            until_written(&data).await?;
            company.summary(&data)?
        }
        Ok(()) => {
            company.hand_over(&links).await;
            true
        }
        Err(what) => {
            terminal.complain(&format!("The demo did not go as it should: {what}."));
            false
        }
    };
    drop(company);
    drop(stop);
    server.await.map_err(|error| error.to_string())?.map_err(|error| error.to_string())?;
    Ok(whole)
}

/// Everybody in the room, all of them stand-ins.
struct Company<'t> {
    terminal: &'t Terminal,
    desk: StandInHandle,
    captain: StandInHandle,
    performers: Vec<StandInHandle>,
    fight: String,
}

impl<'t> Company<'t> {
    async fn arrive(terminal: &'t Terminal, links: &Links, clock: ServerClock) -> Result<Company<'t>, String> {
        let join = |role: Role, name: &str, part: Option<String>, shows: &[Subject]| -> Result<StandInHandle, String> {
            let (_, link) = links.iter().find(|(of, _)| *of == role).ok_or("a role without a link")?;
            let address = Address::parse(link).map_err(|error| error.to_string())?;
            let behaviour = Behaviour { shows: shows.to_vec(), ..Behaviour::default() };
            Ok(StandIn::spawn(address, name, part, behaviour, clock))
        };
        let desk = join(Role::Desk, "Ines (stand-in)", None, &[Subject::Fights, Subject::Missing])?;
        let captain = join(Role::Captain, "Bram (stand-in)", None, &[Subject::Checks])?;
        let seen = until(&desk, "the desk knows the fights", |seen| seen.known.fights.is_some()).await?;
        let fight = seen.known.fights.iter().flatten().next().ok_or("the demo has no fight")?;
        let names = ["Lotte", "Yusuf", "Mirel", "Tomas", "Ayo", "Sanne"];
        let mut performers = Vec::new();
        for (part, name) in fight.fighters.iter().zip(names) {
            performers.push(join(Role::Performer, &format!("{name} (stand-in)"), Some(part.clone()), &[])?);
        }
        Ok(Company { terminal, desk, captain, performers, fight: fight.fight.clone() })
    }

    /// Places, ready, run, hold, release, places, ready, run; with `whole`, to the end of the phrase.
    async fn show(&self, whole: bool) -> Result<(), String> {
        self.sign_checks().await?;
        self.run_first_phrase().await?;
        let first = self.performers.first().ok_or("nobody performs")?;
        let after = self.cue_after_moves().await?;
        until(first, "four moves are done", |seen| seen.cue.is_some_and(|cue| cue >= after)).await?;
        let caller = self.performers.last().unwrap_or(first);
        caller.hold(Some("lost my grip".to_owned()));
        let state = state_when(&self.captain, "the captain sees the hold on disk", |state| {
            state.stage == Stage::Held && state.hold.as_ref().is_some_and(|hold| hold.written)
        })
        .await?;
        let hold = state.hold.as_ref().ok_or("the hold is gone")?;
        self.terminal
            .say(&format!("HOLD, called by {}.", hold.callers.first().map_or("nobody", |caller| &caller.name)));
        // A captain looks before releasing, and whoever watches the desk sees the hold stand.
        tokio::time::sleep(LOOK_AROUND).await;
        let release = ToServer::Release { hold: hold.hold, seen: hold.last_event };
        self.captain.say(release);
        state_when(&self.desk, "the captain has released", |state| state.stage == Stage::Stopped).await?;
        self.terminal.say("Released by the captain. Nothing moves before places are called again.");
        self.run_first_phrase().await?;
        if whole {
            state_when(&self.desk, "the phrase is complete", |state| state.stage == Stage::Complete).await?;
            self.terminal.say("The phrase is complete.");
        }
        Ok(())
    }

    /// The captain signs what the company checks before a call.
    async fn sign_checks(&self) -> Result<(), String> {
        let seen = until(&self.captain, "the captain knows the checks", |seen| seen.known.checks.is_some()).await?;
        for check in seen.known.checks.iter().flatten() {
            self.captain.say(ToServer::Sign { check: check.check.clone(), in_order: true, note: None, by: None });
        }
        let signed = |seen: &Seen| seen.known.checks.iter().flatten().all(|check| check.signed.is_some());
        until(&self.captain, "the checks are signed", signed).await?;
        self.terminal.say("The captain has signed the checks.");
        Ok(())
    }

    async fn run_first_phrase(&self) -> Result<(), String> {
        self.terminal.say("Places.");
        for performer in &self.performers {
            until(performer, "everybody is here", |seen| seen.you.as_ref().is_some_and(|you| you.part.is_some()))
                .await?;
        }
        let known = Arc::clone(&self.desk.seen().borrow().known);
        let beats = known.fights.iter().flatten().next().map_or(4, |fight| fight.beats_per_bar);
        let (fight, drive) = (self.fight.clone(), DriveKind::Clock);
        let setup =
            Setup { fight, weapons: None, from: 0, from_move: None, to: 0, percent: 100, count_in: beats, drive };
        let state = state_when(&self.desk, "the desk knows where the call stands", |_| true).await?;
        self.desk.say(ToServer::Places { setup, seen: state.last_event });
        let seen = until(&self.desk, "everybody is ready", |seen| places_that_are_ready(seen).is_some()).await?;
        let generation = places_that_are_ready(&seen).unwrap_or_default();
        self.terminal.say("Everybody is ready. Counting in.");
        let state = state_when(&self.desk, "places stand", |state| state.generation == generation).await?;
        self.desk.say(ToServer::Start { generation, anyway: false, seen: state.last_event });
        state_when(&self.desk, "the fight runs", |state| state.stage == Stage::Running).await?;
        Ok(())
    }

    /// The number of the cue with which the hold comes: the count-in and some moves.
    async fn cue_after_moves(&self) -> Result<u32, String> {
        let state = state_when(&self.desk, "the run is known", |state| state.setup.is_some()).await?;
        let count_in = state.setup.as_ref().map_or(0, |setup| setup.count_in);
        Ok(count_in + u32::try_from(MOVES_BEFORE_HOLD).unwrap_or(0))
    }

    /// The desk is the visitor's; the others stay and say ready.
    async fn hand_over(&self, links: &Links) {
        let desk = links.iter().find(|(role, _)| *role == Role::Desk).map_or("", |(_, link)| link.as_str());
        self.terminal.say("The desk is yours. Open it here; the stand-ins stay and say ready. Ctrl-C ends the demo.");
        self.terminal.say(&format!("\n    {desk}\n"));
        self.desk.say(ToServer::Leave {});
        terminal::stopped().await;
    }

    /// What happened, from the log; false when something is missing from it.
    fn summary(&self, data: &Path) -> Result<bool, String> {
        let reader = Reader::open(data).map_err(|error| error.to_string())?;
        let events = reader.events(EventFilter::default()).map_err(|error| error.to_string())?;
        let runs = reader.runs().map_err(|error| error.to_string())?;
        self.terminal.say("\nWhat the log says:");
        for run in &runs {
            let to = run.last.as_ref().and_then(|last| last.number).unwrap_or(0);
            let how = run.how.map_or("open", RunEnd::word);
            let (number, fight, from) = (run.begun.run, &run.begun.fight, &run.begun.from_name);
            self.terminal.say(&format!("  run {number}: {fight}, {from}, {to} moves, {how}"));
        }
        let of = |kind: EventKind| events.iter().filter(move |row| row.event.what.kind() == Some(kind));
        for hold in of(EventKind::Hold) {
            self.terminal.say(&format!("  {}", in_words(hold)));
        }
        let all: Vec<_> =
            [&self.desk, &self.captain].into_iter().chain(&self.performers).map(StandInHandle::statistics).collect();
        self.terminal.say(&format!("What the phones say:\n  {}", Summary::of(&all)));
        let whole = runs.iter().any(|run| run.how == Some(RunEnd::Complete));
        Ok(whole && of(EventKind::Hold).count() == 1 && of(EventKind::Release).count() == 1)
    }
}

/// Waits until the end of the complete run is in the log: the desk hears of it before the disk does.
async fn until_written(data: &Path) -> Result<(), String> {
    let reader = Reader::open(data).map_err(|error| error.to_string())?;
    let written = async {
        loop {
            let runs = reader.runs().map_err(|error| error.to_string())?;
            if runs.iter().any(|run| run.how == Some(RunEnd::Complete)) {
                return Ok(());
            }
            tokio::time::sleep(LOOK_AGAIN).await;
        }
    };
    // What is still missing then is told by the summary.
    tokio::time::timeout(WRITTEN_WITHIN, written).await.unwrap_or(Ok(()))
}

fn in_words(hold: &EventRow) -> String {
    let event = &hold.event;
    let speed = event.percent.map_or(String::new(), |percent| format!(", at {percent} %"));
    let place = event.spot.as_ref().map_or_else(
        || "no place".to_owned(),
        |spot| {
            let (number, words) = (spot.number.unwrap_or(0), spot.words.as_deref().unwrap_or("?"));
            format!("{}, beat {}, move {number}: {words}", spot.phrase_name, spot.beat)
        },
    );
    let reason = event.what.says().unwrap_or_else(|| "?".to_owned());
    format!("hold by {}: {reason}; {place}{speed}", event.name().unwrap_or("?"))
}

/// The generation of the places that are called, when nobody is missing at them.
fn places_that_are_ready(seen: &Seen) -> Option<u64> {
    let called = seen.state.as_ref().filter(|state| state.stage == Stage::Places)?.generation;
    let nobody = |(generation, parts): &(u64, Vec<MissingPart>)| *generation == called && parts.is_empty();
    seen.known.missing.as_ref().is_some_and(nobody).then_some(called)
}

async fn until(who: &StandInHandle, what: &str, is_so: impl FnMut(&Seen) -> bool) -> Result<Seen, String> {
    let mut seen = who.seen();
    let found = seen.wait_for(is_so).await.map_err(|_| format!("{} was gone before {what}", who.name()))?;
    Ok(found.clone())
}

async fn state_when(
    who: &StandInHandle,
    what: &str,
    is_so: impl Fn(&State) -> bool,
) -> Result<std::sync::Arc<State>, String> {
    let seen = until(who, what, |seen| seen.state.as_ref().is_some_and(|state| is_so(state))).await?;
    seen.state.ok_or_else(|| format!("{} sees nothing", who.name()))
}
