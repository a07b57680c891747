//! `holdfast stand-ins`: simulated members on simulated phones, to rehearse the rehearsal and to load the server.

use std::process::ExitCode;
use std::time::Duration;

use holdfast::member::{
    Address, Behaviour, Ending, Invited, LookError, StandIn, StandInHandle, Statistics, Summary, look,
};
use holdfast::time::ServerClock;
use holdfast::units::Micros;

use super::listen::seconds;
use super::output;

/// Simulates members on their phones: they join, say ready when places are called, follow the cues and report like
/// phones.
///
/// With a performers' invitation they take the parts that are free, in order; the rest follow as understudies. Every
/// five seconds a line says how many are linked, how many cues they showed, how many came late, the bound of their
/// clock error, and how long after its time a cue was shown. Ends with Ctrl-C, or when the server says goodbye or has
/// been gone for ten seconds. Exit code 0; 1 when the server refuses them all; 2 when it cannot be reached.
#[derive(clap::Args)]
pub(crate) struct StandIns {
    /// An invitation link, as `holdfast serve` prints it: http://HOST:PORT/join#SECRET
    url: String,
    /// How many.
    #[arg(long, default_value_t = 4, value_parser = clap::value_parser!(u32).range(1..=5_000))]
    count: u32,
    /// What to call them, separated by commas; beyond that, names are invented.
    #[arg(long, value_delimiter = ',')]
    names: Vec<String>,
    /// How long after places are called they say ready, in milliseconds.
    #[arg(long, value_name = "MS", default_value_t = 600, value_parser = clap::value_parser!(u32).range(..=600_000))]
    ready_after: u32,
    /// One of them calls HOLD, once, this many seconds after its first cue.
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    hold_after: Option<Micros>,
    /// Which of them calls it, counted from 1.
    #[arg(long, value_name = "K", default_value_t = 1, requires = "hold_after", value_parser = clap::value_parser!(u32).range(1..))]
    hold_by: u32,
    /// Print the last line only.
    #[arg(long)]
    quiet: bool,
}

/// Names for people who do not exist.
const INVENTED: [&str; 24] = [
    "Alvy", "Brisa", "Corin", "Dagny", "Elko", "Fenna", "Garrow", "Hesper", "Ivo", "Junia", "Kestin", "Lumi", "Mirek",
    "Nerys", "Orla", "Piran", "Quill", "Runa", "Sorrel", "Tamsin", "Ulric", "Vesna", "Wystan", "Yara",
];

const LINE_EVERY: Duration = Duration::from_secs(5);
const LOOK_EVERY: Duration = Duration::from_millis(250);
const GONE_AFTER: Duration = Duration::from_secs(10);

/// Between two of them joining: a thousand people do not open a page in the same millisecond.
const BETWEEN: Duration = Duration::from_millis(4);
/// So many come that quickly; a server lets in no more of them at once, and the others come at the pace that it takes.
const QUICK: u32 = 150;
/// Between two of the others.
const UNHURRIED: Duration = Duration::from_millis(60);

impl StandIns {
    /// Runs it; see [`StandIns`] for the exit codes.
    pub(crate) fn run(self) -> ExitCode {
        let address = match Address::parse(&self.url) {
            Ok(address) => address,
            Err(error) => return fail(2, &error.to_string()),
        };
        if self.hold_by > self.count {
            return fail(2, "--hold-by names one that is not there. Give a number up to --count.");
        }
        let runtime = match tokio::runtime::Builder::new_multi_thread().enable_all().build() {
            Ok(runtime) => runtime,
            Err(error) => {
                return fail(
                    2,
                    &format!("the system gives no threads or sockets ({error}). Ask for fewer, or close programs."),
                );
            }
        };
        runtime.block_on(async {
            match look(&address).await {
                Ok(invited) => stand_in(&self, address, invited).await,
                Err(LookError::Refused(reason)) => fail(1, &format!("the server refuses this invitation: {reason}")),
                Err(LookError::Unreachable(reason)) => {
                    fail(2, &format!("{reason}. Is `holdfast serve` running there, and is this its link?"))
                }
            }
        })
    }
}

fn fail(code: u8, sentence: &str) -> ExitCode {
    output::complain(&format!("holdfast stand-ins: {sentence}"));
    ExitCode::from(code)
}

async fn stand_in(args: &StandIns, address: Address, invited: Invited) -> ExitCode {
    if !args.quiet {
        let (count, production, role) = (args.count, &invited.production, invited.role.title());
        output::say_line(&format!("{count} stand-ins join “{production}” as {role}."));
    }
    let interrupted = tokio::signal::ctrl_c();
    tokio::pin!(interrupted);
    let mut crowd = Vec::new();
    let stopped = tokio::select! {
        _ = &mut interrupted => true,
        () = join(args, address, &invited, &mut crowd) => false,
    };
    if !stopped {
        tokio::select! {
            _ = interrupted => {}
            () = watch(&crowd, args.quiet) => {}
        }
    }
    end(crowd).await
}

async fn join(args: &StandIns, address: Address, invited: &Invited, crowd: &mut Vec<StandInHandle>) {
    let clock = ServerClock::new();
    let mut free = invited.parts.iter().filter(|part| part.taken_by.is_none()).map(|part| part.part.clone());
    for number in 0..args.count {
        let behaviour = Behaviour {
            ready_after: Some(Micros::millis(i64::from(args.ready_after))),
            hold_after: args.hold_after.filter(|_| number + 1 == args.hold_by),
            ..Behaviour::default()
        };
        let name = name(&args.names, number as usize);
        crowd.push(StandIn::spawn(address.clone(), name, free.next(), behaviour, clock));
        tokio::time::sleep(if number < QUICK { BETWEEN } else { UNHURRIED }).await;
    }
}

/// The given name, or an invented one with a number once the list is through.
fn name(given: &[String], number: usize) -> String {
    if let Some(name) = given.get(number) {
        return name.trim().to_owned();
    }
    let number = number - given.len();
    let name = INVENTED[number % INVENTED.len()];
    match number / INVENTED.len() {
        0 => name.to_owned(),
        round => format!("{name} {}", round + 1),
    }
}

/// Prints a line now and then; returns when all are over or the server is gone.
async fn watch(crowd: &[StandInHandle], quiet: bool) {
    let (mut since_line, mut gone) = (Duration::ZERO, Duration::ZERO);
    loop {
        tokio::time::sleep(LOOK_EVERY).await;
        let (mut over, mut linked) = (true, false);
        for handle in crowd {
            let seen = handle.seen();
            let seen = seen.borrow();
            over &= seen.ended.is_some();
            linked |= seen.linked;
        }
        gone = if linked { Duration::ZERO } else { gone + LOOK_EVERY };
        if over || gone >= GONE_AFTER {
            return;
        }
        since_line += LOOK_EVERY;
        if since_line >= LINE_EVERY {
            since_line = Duration::ZERO;
            if !quiet {
                output::say_line(&summary(crowd).to_string());
            }
        }
    }
}

fn summary(crowd: &[StandInHandle]) -> Summary {
    let all: Vec<Statistics> = crowd.iter().map(StandInHandle::statistics).collect();
    Summary::of(&all)
}

/// The last line, everybody leaves, and the exit code.
async fn end(crowd: Vec<StandInHandle>) -> ExitCode {
    output::say_line(&summary(&crowd).to_string());
    let joined = crowd.iter().any(|handle| handle.seen().borrow().member.is_some());
    let refused = crowd.iter().find_map(|handle| match &handle.seen().borrow().ended {
        Some(Ending::Refused(reason)) => Some(reason.clone()),
        _ => None,
    });
    let unreachable = crowd.iter().find_map(|handle| handle.seen().borrow().unreachable.clone());
    let leaving: Vec<_> = crowd.into_iter().map(|handle| tokio::spawn(handle.stop())).collect();
    for left in leaving {
        // A stand-in that panicked would have said so itself.
        let _ = left.await;
    }
    match (joined, refused, unreachable) {
        (false, Some(reason), _) => fail(1, &format!("the server refuses them all: {reason}")),
        (false, None, Some(reason)) => fail(2, &format!("{reason}.")),
        _ => ExitCode::SUCCESS,
    }
}

#[cfg(test)]
mod tests {
    use holdfast::names::Likeness;

    use super::*;

    #[test]
    fn no_two_have_the_same_name() {
        let names: Vec<String> = (0..1_000).map(|number| name(&[], number)).collect();
        let looks: Vec<Likeness> = names.iter().map(|name| Likeness::of(name)).collect();
        for (number, one) in looks.iter().enumerate() {
            let other = looks.iter().skip(number + 1).position(|other| one.is_like(other));
            assert_eq!(other, None, "the server would refuse one that looks like {}", names[number]);
        }
        let given = ["Zan".to_owned(), " Ode ".to_owned()];
        assert_eq!([0, 1, 2].map(|number| name(&given, number)), ["Zan", "Ode", "Alvy"]);
        assert_eq!(name(&[], 24), "Alvy 2");
    }
}
