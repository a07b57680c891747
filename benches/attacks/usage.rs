//! What the server holds: memory and descriptors, before an attack, at most during it, and after it.

use super::process::Process;

/// What a process holds at one time.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Usage {
    /// Memory, KiB.
    pub(crate) memory: u64,
    /// Open files and sockets.
    pub(crate) descriptors: usize,
}

impl Usage {
    /// Now.
    pub(crate) fn of(process: &Process) -> Usage {
        Usage { memory: process.memory(), descriptors: process.descriptors() }
    }

    /// The greater of each.
    pub(crate) fn most(self, other: Usage) -> Usage {
        Usage { memory: self.memory.max(other.memory), descriptors: self.descriptors.max(other.descriptors) }
    }
}

/// Two cells: memory in MiB, and descriptors.
pub(crate) fn cells(all: [Usage; 3]) -> [String; 2] {
    [
        all.map(|usage| (usage.memory / 1024).to_string()).join("/"),
        all.map(|usage| usage.descriptors.to_string()).join("/"),
    ]
}
