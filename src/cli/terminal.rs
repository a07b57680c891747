//! What the commands that run for a while share: the log on stderr, the runtime, Ctrl-C, and the caution.

use tracing_subscriber::EnvFilter;

/// What the screens and reports say too: short enough to be read.
pub(crate) const CAUTION: &str = "Holdfast is an aid for rehearsals led by a qualified fight director. The spoken “hold” comes first and never waits \
for a device; a phone and a network are no emergency stop.";

/// The log, for a person: on stderr, so that stdout stays for results. `RUST_LOG` chooses what is in it.
pub(crate) fn log_to_stderr() {
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new("holdfast=info"));
    tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        .with_target(false)
        .with_ansi(std::io::IsTerminal::is_terminal(&std::io::stderr()))
        .init();
}

/// The runtime that everything runs in.
pub(crate) fn runtime() -> Result<tokio::runtime::Runtime, String> {
    tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(|error| format!("The system gives no threads or timers: {error}. Close other programs and try again."))
}

/// Comes when the program is told to stop: Ctrl-C, or a polite end from outside.
pub(crate) async fn stopped() {
    let terminated = async {
        match tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) {
            Ok(mut signal) => drop(signal.recv().await),
            Err(_) => std::future::pending().await,
        }
    };
    tokio::select! {
        _ = tokio::signal::ctrl_c() => {}
        () = terminated => {}
    }
}
