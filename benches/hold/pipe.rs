//! A pipe that nobody reads, as standard error is under a terminal that was stopped with Ctrl-S.

use std::io::{self, PipeReader, PipeWriter, Write};

use nix::fcntl::{FcntlArg, OFlag, fcntl};

/// The pipe, held open at both ends.
pub(crate) struct FullPipe {
    _reader: PipeReader,
    writer: PipeWriter,
}

impl FullPipe {
    /// An empty one, and the end for whoever is to write into it.
    pub(crate) fn new() -> io::Result<(FullPipe, PipeWriter)> {
        let (reader, writer) = io::pipe()?;
        let end = writer.try_clone()?;
        Ok((FullPipe { _reader: reader, writer }, end))
    }

    /// Fills it to the brim: whoever writes into it now waits for ever. The flag that lets this end not wait is one with the
    /// other's (open(2): it belongs to the open file), so it is taken back.
    pub(crate) fn fill(&mut self) -> io::Result<()> {
        fcntl(&self.writer, FcntlArg::F_SETFL(OFlag::O_NONBLOCK))?;
        while self.writer.write(&[b'.'; 1024]).is_ok() {}
        while self.writer.write(b".").is_ok() {}
        fcntl(&self.writer, FcntlArg::F_SETFL(OFlag::empty()))?;
        Ok(())
    }
}
