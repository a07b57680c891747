//! Lets a test or a bench freeze a thread of the server at its next turn: a hold must not notice.

use std::fmt;
use std::sync::Arc;

/// Called by threads at each of their turns, with their name. What it does there, they wait for.
#[derive(Clone, Default)]
pub struct Freezer(Option<Arc<dyn Fn(&'static str) + Send + Sync>>);

impl Freezer {
    /// Freezes nobody.
    pub fn none() -> Freezer {
        Freezer(None)
    }

    /// Calls `turn` with the name of the thread at each of its turns: the hub's, which is `hub`.
    pub fn new(turn: impl Fn(&'static str) + Send + Sync + 'static) -> Freezer {
        Freezer(Some(Arc::new(turn)))
    }

    /// True when it may freeze somebody.
    pub(crate) fn freezes(&self) -> bool {
        self.0.is_some()
    }

    /// A thread's turn.
    pub(crate) fn turn(&self, thread: &'static str) {
        if let Some(turn) = &self.0 {
            turn(thread);
        }
    }
}

impl fmt::Debug for Freezer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if self.0.is_some() { "Freezer(some)" } else { "Freezer(none)" })
    }
}
