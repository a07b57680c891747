//! What the commands that run for a while share: the terminal, the runtime, Ctrl-C, and the caution.
//!
//! A terminal can stand still: Ctrl-S stops it, and a pipe that nobody reads is full at some time. So no thread of a
//! server writes to it. Log and words are handed over to two threads (one for standard error, one for standard output),
//! over queues that have an end and never make anyone wait. What does not fit in is dropped, counted, and said once the
//! terminal takes lines again. A panic is handed over in the same way.

use std::backtrace::{Backtrace, BacktraceStatus};
use std::fmt::Debug;
use std::io::{self, Write};
use std::panic::{self, PanicHookInfo};
use std::sync::{Arc, OnceLock, mpsc};
use std::thread;
use std::time::Duration;

use holdfast::faults::said;
use holdfast::safe_text;
use tokio::signal::unix::{Signal, SignalKind, signal};
use tracing::field::Field;
use tracing_appender::non_blocking::{ErrorCounter, NonBlocking, NonBlockingBuilder, WorkerGuard};
use tracing_subscriber::field::MakeExt;
use tracing_subscriber::filter::Targets;
use tracing_subscriber::fmt::FormatFields;
use tracing_subscriber::fmt::format::{Writer, debug_fn};
use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::util::SubscriberInitExt;

/// What the screens and reports say too: short enough to be read.
pub(crate) const CAUTION: &str = "Holdfast is an aid for rehearsals led by a qualified fight director. The spoken “hold” comes first and never waits \
for a device; a phone and a network are no emergency stop.";

/// What goes into the log: what `RUST_LOG` asks for, as `holdfast=debug,warn`; without it, or where that is not understood,
/// everything of ours that a person should read.
fn wanted() -> Targets {
    let asked = std::env::var("RUST_LOG").ok().filter(|asked| !asked.is_empty()).and_then(|asked| asked.parse().ok());
    asked.unwrap_or_else(|| Targets::new().with_target("holdfast", tracing::Level::INFO))
}

/// Lines that wait while the terminal stands still. A quiet evening has some hundred.
const LINES: usize = 4_096;
/// How long the end of the program waits for what is left to be written.
const FLUSH: Duration = Duration::from_secs(2);

/// The terminal of a command that serves. When it goes, what waits is written, for two seconds at the most.
pub(crate) struct Terminal {
    out: NonBlocking,
    err: NonBlocking,
    guards: Vec<WorkerGuard>,
}

impl Terminal {
    /// Takes the terminal: from now on the log goes to standard error, so that standard output stays for results, and
    /// so do panics. `RUST_LOG` chooses what is in the log. Once in a program.
    pub(crate) fn begin() -> Terminal {
        let (out, out_guard) = lines_to(io::stdout(), LINES, "words");
        let (err, err_guard) = lines_to(io::stderr(), LINES, "log");
        let lines = tracing_subscriber::fmt::layer()
            .fmt_fields(safe_fields())
            .with_writer(err.clone())
            .with_target(false)
            .with_ansi(io::IsTerminal::is_terminal(&io::stderr()));
        tracing_subscriber::registry().with(wanted()).with(lines).init();
        panic::set_hook(Box::new(log_panic));
        Terminal { out, err, guards: vec![out_guard, err_guard] }
    }

    /// Says something on standard output, with a line end after it. Never waits.
    pub(crate) fn say(&self, text: &str) {
        hand_over(&self.out, text);
    }

    /// Asks the person at the terminal, and waits for the answer: true for yes, in full. Where nobody can be asked,
    /// because words or answers go elsewhere, no.
    pub(crate) fn asks(&self, text: &str, question: &str) -> bool {
        use io::IsTerminal as _;
        if !(io::stdin().is_terminal() && io::stderr().is_terminal()) {
            return false;
        }
        self.complain(&format!("{text}\n\n{question} Type yes, or anything else to leave it."));
        let mut answer = String::new();
        io::stdin().read_line(&mut answer).is_ok() && answer.trim().eq_ignore_ascii_case("yes")
    }

    /// The same on standard error.
    pub(crate) fn complain(&self, text: &str) {
        hand_over(&self.err, text);
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let guards = std::mem::take(&mut self.guards);
        let (done, flushed) = mpsc::channel::<()>();
        // Where a terminal stands still the program ends all the same: a guard may wait for it, and this thread does not.
        let flushing = thread::Builder::new().name("flush".into()).spawn(move || {
            drop(guards);
            drop(done);
        });
        if flushing.is_ok() {
            let _ = flushed.recv_timeout(FLUSH);
        }
    }
}

/// One message to the thread that writes, whatever its length. A queue that is full counts it as dropped.
fn hand_over(lines: &NonBlocking, text: &str) {
    let _ = lines.clone().write_all(format!("{}\n", safe_text::terminal(text)).as_bytes());
}

/// How the log writes what it is told: each message and each field safe, and none of them longer than its line.
fn safe_fields() -> impl for<'writer> FormatFields<'writer> + Send + Sync + 'static {
    debug_fn(|writer: &mut Writer<'_>, field: &Field, value: &dyn Debug| {
        let said = format!("{value:?}");
        match field.name() {
            "message" => write!(writer, "{}", safe_text::log_line(&said)),
            name => write!(writer, "{name}={}", safe_text::log_line(&said)),
        }
    })
    .delimited(" ")
}

/// A queue of so many lines, and a thread of that name that writes them.
fn lines_to(target: impl Write + Send + 'static, lines: usize, thread: &str) -> (NonBlocking, WorkerGuard) {
    let counter = Arc::new(OnceLock::new());
    let target = Counted { target, dropped: Arc::clone(&counter), told: 0 };
    let builder = NonBlockingBuilder::default().lossy(true).buffered_lines_limit(lines).thread_name(thread);
    let (queue, guard) = builder.finish(target);
    let _ = counter.set(queue.error_counter());
    (queue, guard)
}

/// What is written to, and how many lines never came to it. Its thread flushes it whenever the queue is empty: what was
/// dropped until then is missing at this place.
struct Counted<W> {
    target: W,
    dropped: Arc<OnceLock<ErrorCounter>>,
    told: usize,
}

impl<W: Write> Write for Counted<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.target.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        let dropped = self.dropped.get().map_or(0, ErrorCounter::dropped_lines);
        if dropped > self.told {
            let lines = dropped - self.told;
            let word = if lines == 1 { "line is" } else { "lines are" };
            self.told = dropped;
            writeln!(
                self.target,
                "Here {lines} {word} missing: nothing could be written for a while. The call went on."
            )?;
        }
        self.target.flush()
    }
}

/// Hands a panic over to the log. The usual hook writes to standard error from the thread that panics, which may hold
/// a lock that others wait for.
fn log_panic(panic: &PanicHookInfo<'_>) {
    let here = thread::current();
    let name = here.name().unwrap_or("without a name");
    let place = panic.location().map_or_else(String::new, |at| format!(" at {at}"));
    let why = said(panic.payload());
    tracing::error!("the thread “{name}” failed{place}: {why}");
    let trace = Backtrace::capture();
    if trace.status() == BacktraceStatus::Captured {
        // A line of the log is one line.
        trace.to_string().lines().for_each(|line| tracing::error!("{line}"));
    }
}

/// The runtime that everything runs in.
pub(crate) fn runtime() -> Result<tokio::runtime::Runtime, String> {
    tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(|error| format!("The system gives no threads or timers: {error}. Close other programs and try again."))
}

/// Listens from now on for what tells the program to stop, Ctrl-C or a polite end from outside; what it gives comes when
/// that does, also when it came before anybody waited for it.
pub(crate) fn stopped() -> impl Future<Output = ()> + Send + 'static {
    let [interrupted, terminated] = [SignalKind::interrupt(), SignalKind::terminate()].map(|kind| signal(kind).ok());
    async move {
        tokio::select! {
            () = told(interrupted) => {}
            () = told(terminated) => {}
        }
    }
}

/// Comes with the signal; never, where the system does not let anybody listen for it.
async fn told(signal: Option<Signal>) {
    match signal {
        Some(mut signal) => drop(signal.recv().await),
        None => std::future::pending().await,
    }
}

#[cfg(test)]
mod tests {
    use std::sync::{Condvar, Mutex};

    use tracing_subscriber::fmt;

    use super::*;

    /// A terminal that takes nothing while it is stopped.
    #[derive(Clone, Default)]
    struct Screen(Arc<(Mutex<Shown>, Condvar)>);

    #[derive(Default)]
    struct Shown {
        stopped: bool,
        /// A line is at the terminal and waits there.
        waits: bool,
        text: String,
    }

    impl Screen {
        fn change(&self, change: impl FnOnce(&mut Shown)) {
            change(&mut self.0.0.lock().unwrap());
            self.0.1.notify_all();
        }

        fn until(&self, is_so: impl Fn(&Shown) -> bool) -> String {
            let shown = self.0.1.wait_while(self.0.0.lock().unwrap(), |shown| !is_so(shown)).unwrap();
            shown.text.clone()
        }
    }

    impl Write for Screen {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            self.change(|shown| shown.waits = true);
            self.until(|shown| !shown.stopped);
            self.change(|shown| {
                shown.waits = false;
                shown.text.push_str(std::str::from_utf8(bytes).unwrap());
            });
            Ok(bytes.len())
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn nobody_waits_for_a_terminal_that_stands_still_and_what_is_dropped_is_said() {
        let screen = Screen::default();
        screen.change(|shown| shown.stopped = true);
        let (lines, guard) = lines_to(screen.clone(), 8, "log");
        hand_over(&lines, "line 0");
        screen.until(|shown| shown.waits);
        for n in 1..100 {
            hand_over(&lines, &format!("line {n}"));
        }
        screen.change(|shown| shown.stopped = false);
        // One line was at the terminal, eight in the queue, 91 had no room.
        let text = screen.until(|shown| shown.text.contains("missing"));
        let expected: String = (0..9).map(|n| format!("line {n}\n")).collect();
        assert_eq!(
            text,
            expected + "Here 91 lines are missing: nothing could be written for a while. The call went on.\n"
        );
        hand_over(&lines, "line 100");
        drop(guard);
        assert!(screen.until(|_| true).ends_with("on.\nline 100\n"), "said once, and what comes later is there");
    }

    /// The server's log speaks an event as one message (`server::writer`), and names in fields.
    #[test]
    fn nothing_that_was_typed_acts_on_the_log_or_forges_a_line_of_it() {
        let screen = Screen::default();
        let (lines, guard) = lines_to(screen.clone(), 8, "log");
        let log = fmt().fmt_fields(safe_fields()).with_writer(lines.clone()).with_ansi(false).finish();
        let typed =
            "Zoë\r\n2026-01-01T00:00:00Z  INFO holdfast: released\u{1b}]52;c;x\u{7}\u{9b}2J\u{202e}\u{2028}\u{feff}";
        tracing::subscriber::with_default(log, || {
            tracing::warn!("HOLD: {typed}");
            tracing::info!(name = typed, from = %typed, "link closed: {typed}");
        });
        hand_over(&lines, typed);
        drop(guard);
        let text = screen.until(|_| true);
        assert_eq!(text.matches('\n').count(), 4, "two events, and a text that has a line end of its own: {text}");
        assert!(!text.contains(|it| safe_text::acts(it) && it != '\n'), "{text:?}");
        assert_eq!(text.matches("Zoë").count(), 5);
        assert!(text.contains("HOLD: Zoë\\r\\n2026"), "{text}");
    }

    /// A thread that panics while the terminal stands still goes on to its end, and what it said is in the log.
    #[test]
    fn a_panic_does_not_wait_for_the_terminal() {
        let screen = Screen::default();
        screen.change(|shown| shown.stopped = true);
        let (lines, guard) = lines_to(screen.clone(), 8, "log");
        let log = fmt().with_writer(lines).with_ansi(false).finish();
        let usual = panic::take_hook();
        panic::set_hook(Box::new(log_panic));
        let failed = tracing::subscriber::with_default(log, || panic::catch_unwind(|| panic!("number {}", 7)));
        panic::set_hook(usual);
        assert!(failed.is_err());
        screen.change(|shown| shown.stopped = false);
        let text = screen.until(|shown| shown.text.contains('\n'));
        assert!(text.contains("ERROR") && text.contains("number 7") && text.contains("terminal.rs"), "{text}");
        drop(guard);
    }
}
