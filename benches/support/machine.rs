//! The machine on which it is measured: how many files may be open, and how much else goes on.

use std::process::ExitCode;

use nix::sys::resource::{Resource, getrlimit, setrlimit};

/// Begins to measure with these options: says how busy the machine is, or why it was not understood what is wanted.
///
/// # Errors
/// The code with which the program ends.
pub(crate) fn begin<T>(options: Result<T, String>) -> Result<T, ExitCode> {
    let options = options.map_err(|sentence| {
        eprintln!("{sentence}");
        ExitCode::from(2)
    })?;
    open_more_files();
    println!("Load of this machine before: {}.", load());
    Ok(options)
}

/// A socket is an open file, and many systems allow a thousand of them until they are asked.
pub(crate) fn open_more_files() {
    if let Ok((_, most)) = getrlimit(Resource::RLIMIT_NOFILE) {
        let _ = setrlimit(Resource::RLIMIT_NOFILE, most, most);
    }
}

/// How many others wanted a processor lately. From half a processor on the figures are about them as well.
fn load() -> String {
    let load = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    load.split_whitespace().next().unwrap_or("not known").to_owned()
}
