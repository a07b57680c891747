//! How many files and connections this process may have open.

use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
use tracing::debug;

/// Raises the number of files that this process may have open as far as the system lets it, and says how many they are.
pub(super) fn open_files() -> u64 {
    /// Where there is no limit, as many as any company needs.
    const MANY: u64 = 1 << 16;
    let mut limit = getrlimit(Resource::Nofile);
    if limit.current < limit.maximum || limit.maximum.is_none() {
        let raised = Rlimit { current: limit.maximum.or(Some(MANY)), maximum: limit.maximum };
        match setrlimit(Resource::Nofile, raised) {
            Ok(()) => limit = raised,
            Err(error) => debug!("the number of open files stays as it is: {error}"),
        }
    }
    limit.current.unwrap_or(MANY)
}
