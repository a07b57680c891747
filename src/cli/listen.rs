//! `holdfast listen`: a member at the terminal, for looking at the wire and for scripts.

use std::process::ExitCode;
use std::time::Duration;

use holdfast::clock::MemberTime;
use holdfast::member::{Address, Ending, Happening, Introduction, Member, Shown};
use holdfast::time::ServerClock;
use holdfast::units::Micros;
use holdfast::wire::{Back, Stage, Subject, ToMember, ToServer};
use serde::Serialize;

use super::output;

/// Joins as a member and prints what it receives, one JSON object a line.
///
/// Every message of the server is printed with its own fields and `received_us`, this program's own clock in
/// microseconds. Between them stand lines of this program's own, with `at_us`: `fired` (a cue shown at its time) or
/// `late` (shown too late to sound) with `due_us`, `fired_us`, `late_us` and `bound_us`; `linked`, `lost`,
/// `unreachable`, `unreadable`, `hold` (HOLD was tapped) and `over`. The personal key is not printed.
///
/// Ends with 0 when the server says goodbye or the time is up, 1 when it refuses the invitation, 2 when it cannot be
/// reached.
#[derive(clap::Args)]
pub(crate) struct Listen {
    /// An invitation link, as `holdfast serve` prints it: http://HOST:PORT/join#SECRET
    url: String,
    /// What to be called in the list of members.
    #[arg(long, default_value = "Listener")]
    name: String,
    /// The fighter to play; needs an invitation for performers.
    #[arg(long)]
    part: Option<String>,
    /// Call HOLD once, this many seconds after the first cue is shown. If no run is under way that long after joining,
    /// then call it at that moment.
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    hold_after: Option<Micros>,
    /// The reason to give with the HOLD.
    #[arg(long, value_name = "TEXT", requires = "hold_after")]
    reason: Option<String>,
    /// Show these subjects, separated by commas, and be told of them: roster, devices, holds, fights, troubles, checks,
    /// attendance, missing, why, near-misses, tonight, casts.
    #[arg(long, value_name = "SUBJECTS", value_delimiter = ',', value_parser = subject)]
    show: Vec<Subject>,
    /// Leave after this many seconds.
    #[arg(long = "for", value_name = "SECONDS", value_parser = seconds)]
    stay: Option<Micros>,
}

/// A length of time as people type it: seconds, from 0 to a day, fractions allowed.
///
/// # Errors
/// A sentence that says what can be typed.
pub(crate) fn seconds(text: &str) -> Result<Micros, String> {
    let number: f64 = text.parse().map_err(|_| "give seconds as a number, such as 5 or 2.5".to_owned())?;
    if (0.0..=86_400.0).contains(&number) {
        Ok(Micros((number * 1e6).round() as i64))
    } else {
        Err("give seconds from 0 to 86400 (a day)".to_owned())
    }
}

/// A subject by its name on the wire.
///
/// # Errors
/// A sentence that says which there are.
fn subject(text: &str) -> Result<Subject, String> {
    serde_json::from_value(serde_json::Value::from(text.trim())).map_err(|_| {
        let names = Subject::ALL.map(|subject| serde_json::to_value(subject).unwrap_or_default());
        let names: Vec<&str> = names.iter().filter_map(serde_json::Value::as_str).collect();
        format!("give one of {}", names.join(", "))
    })
}

impl Listen {
    /// Runs it; see [`Listen`] for the exit codes.
    pub(crate) fn run(self) -> ExitCode {
        let address = match Address::parse(&self.url) {
            Ok(address) => address,
            Err(error) => return fail(&error.to_string()),
        };
        match tokio::runtime::Builder::new_current_thread().enable_all().build() {
            Ok(runtime) => runtime.block_on(async { Listener::new(self, address).listen().await }),
            Err(error) => {
                fail(&format!("the system gives no timers or sockets ({error}). Close other programs and try again."))
            }
        }
    }
}

fn fail(sentence: &str) -> ExitCode {
    output::complain(&format!("holdfast listen: {sentence}"));
    ExitCode::from(2)
}

fn refused(reason: &str) -> ExitCode {
    output::complain(&format!("holdfast listen: the server refuses: {reason}"));
    ExitCode::FAILURE
}

/// A line: what the wire says, and when.
#[derive(Serialize)]
struct Received<'a> {
    received_us: i64,
    #[serde(flatten)]
    message: &'a ToMember,
}

/// A line of this program's own.
#[derive(Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case", rename_all_fields = "snake_case")]
enum Own<'a> {
    Fired(Came),
    Late(Came),
    Linked,
    Lost,
    Unreachable { reason: &'a str },
    Unreadable { reason: &'a str },
    Hold { tap: &'a str },
    Over { refused: bool, reason: &'a str },
}

#[derive(Serialize)]
struct Came {
    cue: u32,
    generation: u64,
    due_us: Option<i64>,
    fired_us: Option<i64>,
    late_us: Option<i64>,
    bound_us: Option<i64>,
}

#[derive(Serialize)]
struct At<'a> {
    at_us: i64,
    #[serde(flatten)]
    own: Own<'a>,
}

struct Listener {
    member: Member,
    hold_after: Option<Micros>,
    reason: Option<String>,
    show: Vec<Subject>,
    leave_at: Option<MemberTime>,
    joined: Option<MemberTime>,
    first_cue: Option<MemberTime>,
    under_way: bool,
    was_linked: bool,
}

impl Listener {
    fn new(args: Listen, address: Address) -> Listener {
        let Listen { name, part, hold_after, reason, show, stay, .. } = args;
        let introduction = Introduction::Join { invitation: address.secret().to_owned(), name, part };
        let member = Member::new(address, introduction, ServerClock::new());
        let leave_at = stay.map(|stay| member.now() + stay);
        Listener {
            member,
            hold_after,
            reason,
            show,
            leave_at,
            joined: None,
            first_cue: None,
            under_way: false,
            was_linked: false,
        }
    }

    async fn listen(mut self) -> ExitCode {
        let mut interrupted = std::pin::pin!(tokio::signal::ctrl_c());
        loop {
            let timer = wait(self.leave_at.into_iter().chain(self.hold_at()).min(), self.member.now());
            let done = tokio::select! {
                biased;
                _ = &mut interrupted => Some(ExitCode::SUCCESS),
                happening = self.member.next() => self.happened(happening).unwrap_or(Some(ExitCode::SUCCESS)),
                () = timer => self.timer().unwrap_or(Some(ExitCode::SUCCESS)),
            };
            if let Some(code) = done {
                if self.member.follower().linked() {
                    self.member.say(ToServer::Leave {});
                }
                self.member.close().await;
                return code;
            }
        }
    }

    /// When HOLD is to be called: from the first cue if there was one, else from joining unless a run is under way.
    fn hold_at(&self) -> Option<MemberTime> {
        let from = self.first_cue.or(self.joined.filter(|_| !self.under_way))?;
        Some(from + self.hold_after?)
    }

    /// The exit code if this ends it. An error says that nobody reads the output any more.
    fn happened(&mut self, happening: Happening) -> std::io::Result<Option<ExitCode>> {
        match happening {
            Happening::Heard(now, message) => return self.heard(now, *message),
            // Shown before, over an earlier link: told once.
            Happening::Shown(shown) if shown.again => {}
            Happening::Shown(shown) => {
                self.first_cue = self.first_cue.or(Some(self.member.now()));
                self.own(came(&shown))?;
            }
            Happening::Linked => {
                self.was_linked = true;
                if !self.show.is_empty() {
                    self.member.say(ToServer::Show { subjects: self.show.clone() });
                }
                self.joined = self.joined.or(Some(self.member.now()));
                self.own(Own::Linked)?;
            }
            Happening::Lost => self.own(Own::Lost)?,
            Happening::Unreadable(_, reason) => self.own(Own::Unreadable { reason: &reason })?,
            Happening::Unsaid(_) => {}
            Happening::Unreachable(reason) if self.was_linked => self.own(Own::Unreachable { reason: &reason })?,
            Happening::Unreachable(reason) => {
                return Ok(Some(fail(&format!("{reason}. Is `holdfast serve` running there, and is this its link?"))));
            }
            Happening::Over(Ending::Goodbye(reason)) => {
                self.own(Own::Over { refused: false, reason: &reason })?;
                return Ok(Some(ExitCode::SUCCESS));
            }
            Happening::Over(Ending::Refused(reason)) => {
                self.own(Own::Over { refused: true, reason: &reason })?;
                return Ok(Some(refused(&reason)));
            }
        }
        Ok(None)
    }

    fn heard(&mut self, now: MemberTime, mut message: ToMember) -> std::io::Result<Option<ExitCode>> {
        let stage = match &mut message {
            ToMember::Welcome(welcome) => {
                welcome.key = None;
                Some(welcome.state.stage)
            }
            ToMember::State(state) => Some(state.stage),
            _ => None,
        };
        if let Some(stage) = stage {
            self.under_way = matches!(stage, Stage::CountIn | Stage::Running);
        }
        print(&Received { received_us: now.0, message: &message })?;
        Ok(match message {
            // A goodbye for good is told once more by the member itself, with its end.
            ToMember::Goodbye { back: Back::ByItself, .. } if self.was_linked => Some(ExitCode::SUCCESS),
            ToMember::Goodbye { back: Back::ByItself, reason } => Some(refused(&reason)),
            _ => None,
        })
    }

    fn timer(&mut self) -> std::io::Result<Option<ExitCode>> {
        let now = self.member.now();
        if self.leave_at.is_some_and(|at| at <= now) {
            return Ok(Some(ExitCode::SUCCESS));
        }
        if self.hold_at().is_some_and(|at| at <= now) {
            self.hold_after = None;
            let tap = self.member.hold(self.reason.take());
            self.own(Own::Hold { tap: &tap })?;
        }
        Ok(None)
    }

    fn own(&self, own: Own<'_>) -> std::io::Result<()> {
        print(&At { at_us: self.member.now().0, own })
    }
}

fn came(shown: &Shown) -> Own<'static> {
    let came = Came {
        cue: shown.cue.cue,
        generation: shown.cue.generation,
        due_us: shown.cue.due_us,
        fired_us: shown.at.map(|at| at.0),
        late_us: shown.late.map(|late| late.0),
        bound_us: shown.bound.map(|bound| bound.0),
    };
    if shown.sounds() { Own::Fired(came) } else { Own::Late(came) }
}

/// Prints a line and flushes it, so that a script sees it at once.
fn print(line: &impl Serialize) -> std::io::Result<()> {
    let text = serde_json::to_string(line)?;
    output::print_json(&format!("{text}\n"))
}

/// Waits until that time; for ever if there is none.
async fn wait(until: Option<MemberTime>, now: MemberTime) {
    match until {
        Some(until) => {
            tokio::time::sleep(Duration::from_micros(u64::try_from(until.since(now).0).unwrap_or(0))).await;
        }
        None => std::future::pending().await,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_subject_is_read_by_its_name_on_the_wire() {
        assert_eq!(subject("roster"), Ok(Subject::Roster));
        assert_eq!(subject(" missing"), Ok(Subject::Missing));
        let refused = subject("everything").unwrap_err();
        assert!(refused.starts_with("give one of roster, devices, holds, fights, "), "{refused}");
    }

    #[test]
    fn seconds_are_read_as_people_type_them() {
        assert_eq!(seconds("2.5"), Ok(Micros(2_500_000)));
        assert_eq!(seconds("0"), Ok(Micros(0)));
        for wrong in ["", "-1", "NaN", "inf", "1e9", "5s"] {
            assert!(seconds(wrong).is_err(), "{wrong}");
        }
    }
}
