//! Keeps libasound quiet: it writes its own troubles to standard error, past the log, every time a device is looked
//! for. They are caught for the calling thread; what matters comes back as an error value all the same.

/// From here on libasound says nothing on this thread. What it said before is thrown away.
#[cfg(target_os = "linux")]
pub(crate) fn hush() {
    // Without the handler it is only noisier.
    let _ = alsa::Output::local_error_handler();
}

/// Other systems' sound libraries are quiet by themselves.
#[cfg(not(target_os = "linux"))]
pub(crate) fn hush() {}
