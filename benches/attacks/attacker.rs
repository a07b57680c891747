//! The attacker, seen from whoever measures: a process of its own, so that it shares no thread with the measuring. It says
//! when its attack is under way, is told when a hold is being measured, and says at its end what it has done.

use std::io::{BufRead, BufReader, Write};
use std::process::{ChildStdin, ChildStdout, Command, Stdio};
use std::sync::mpsc::{self, Receiver, TryRecvError};
use std::time::Duration;

use holdfast::wire::Stage;

use super::attack::{Kind, MEASURED, MEASURING, READY, WORD};
use super::crowd::{Crowd, Stuck};
use super::holdfast::Holdfast;
use super::process::Process;

/// The thousands have so long to come.
const UNDER_WAY: Duration = Duration::from_secs(15);

/// An attack that is under way. It ends with this.
pub(crate) struct Attacker {
    process: Process,
    say: Option<ChildStdin>,
    lines: Receiver<String>,
}

impl Attacker {
    /// Begins to attack the server, or a sink in its place, and waits until the attack is under way.
    pub(crate) fn begin(
        kind: &Kind,
        holdfast: &mut Holdfast,
        sink: Option<u16>,
        crowd: &mut Crowd,
    ) -> Result<Attacker, Stuck> {
        let stuck = |error: std::io::Error| Stuck(format!("the attacker does not start: {error}"));
        let program = std::env::current_exe().map_err(stuck)?;
        let mut command = Command::new(program);
        command.args([WORD, kind.name, &holdfast.observer.link(), &holdfast.performer.link()]);
        command.arg(sink.unwrap_or(0).to_string()).stdin(Stdio::piped()).stdout(Stdio::piped());
        let mut process = Process::start(&mut command).map_err(stuck)?;
        let say = process.child.stdin.take();
        let lines = read(process.child.stdout.take());
        let attacker = Attacker { process, say, lines };
        crowd.until(UNDER_WAY, "the attack is under way", |crowd| {
            holdfast.desk.read(crowd);
            !matches!(attacker.lines.try_recv(), Err(TryRecvError::Empty))
        })?;
        if kind.holds && sink.is_none() {
            holdfast.desk.until(crowd, "the attacker's hold", |desk| desk.stage() == Some(Stage::Held))?;
        }
        Ok(attacker)
    }

    /// Tells it whether a hold is being measured.
    pub(crate) fn measuring(&mut self, is: bool) {
        let word = if is { MEASURING } else { MEASURED };
        if let Some(say) = &mut self.say {
            // One that has ended is found out at the end.
            let _ = writeln!(say, "{word}").and_then(|()| say.flush());
        }
    }

    /// Ends it; returns what it says it has done.
    pub(crate) fn end(mut self) -> String {
        drop(self.say.take());
        let done = self.lines.iter().filter(|line| line != READY).last();
        let _ = self.process.child.wait();
        done.unwrap_or_else(|| "the attacker failed".to_owned())
    }
}

fn read(output: Option<ChildStdout>) -> Receiver<String> {
    let (tell, lines) = mpsc::channel();
    if let Some(output) = output {
        std::thread::spawn(move || {
            BufReader::new(output).lines().map_while(Result::ok).try_for_each(|it| tell.send(it))
        });
    }
    lines
}
