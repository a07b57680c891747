//! A connection whose handshake is done and whose other side has not said who they are: messages in, messages out, on
//! the runtime. Once they are known the socket goes to the sockets' thread, with whatever came behind the introduction.

use std::io;

use hyper::upgrade::Upgraded;
use hyper_util::rt::TokioIo;
use hyper_util::server::conn::auto::upgrade::downcast;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio_rustls::server::TlsStream;

use super::close;
use super::ending::End;
use super::sockets::{Decoded, Decoder, Framed, Transport, closing, framed};
use super::visitors::Visitor;
use crate::wire::{ToMember, ToServer};

/// Bytes that are read at a time.
const READ: usize = 2 * 1024;

/// The connection.
pub(super) struct Doorstep {
    stream: Stream,
    decoder: Decoder,
    /// Frames that have come and are not counted yet, of those that end no message.
    fragments: u32,
}

enum Stream {
    Plain(Visitor<TcpStream>),
    Tls(Box<TlsStream<Visitor<TcpStream>>>),
}

impl Doorstep {
    /// The socket under an upgraded connection. Nothing when it is of a kind that this server does not listen on.
    pub(super) fn of(upgraded: Upgraded) -> Option<Doorstep> {
        let upgraded = match downcast::<TokioIo<Visitor<TcpStream>>>(upgraded) {
            Ok(parts) => {
                let stream = Stream::Plain(parts.io.into_inner());
                return Some(Doorstep { stream, decoder: Decoder::new(&parts.read_buf), fragments: 0 });
            }
            Err(other) => other,
        };
        let parts = downcast::<TokioIo<TlsStream<Visitor<TcpStream>>>>(upgraded).ok()?;
        let stream = Stream::Tls(Box::new(parts.io.into_inner()));
        Some(Doorstep { stream, decoder: Decoder::new(&parts.read_buf), fragments: 0 })
    }

    /// The next frame: a message, or nothing for one that the protocol answers by itself, and for a fragment. Can be dropped without losing
    /// anything.
    ///
    /// # Errors
    /// Why the connection ends.
    pub(super) async fn next(&mut self) -> Result<Option<ToServer>, End> {
        loop {
            self.fragments = self.fragments.saturating_add(self.decoder.fragments());
            if let Some(left) = self.fragments.checked_sub(1) {
                self.fragments = left;
                return Ok(None);
            }
            let decoded = self.decoder.decode()?;
            if let Some(pong) = self.decoder.answer() {
                self.write(&pong).await?;
            }
            match decoded {
                Some(Decoded::Message(message)) => return Ok(Some(*message)),
                Some(Decoded::Control) => return Ok(None),
                None => {}
            }
            let mut buffer = [0; READ];
            let bytes = match &mut self.stream {
                Stream::Plain(stream) => stream.read(&mut buffer).await,
                Stream::Tls(stream) => stream.read(&mut buffer).await,
            };
            match bytes.map_err(broken)? {
                0 => return Err(End::Closed),
                bytes => self.decoder.feed(&buffer[..bytes]),
            }
        }
    }

    /// Says something.
    ///
    /// # Errors
    /// When the connection is gone.
    pub(super) async fn tell(&mut self, message: &ToMember) -> Result<(), End> {
        match framed(message) {
            Some(framed) => self.write_framed(&framed).await,
            None => Ok(()),
        }
    }

    /// The parting words, and the end.
    pub(super) async fn part(&mut self, end: &End) -> Result<(), End> {
        match end {
            End::Left(code) => self.write(&closing(*code, "")).await?,
            _ => {
                self.tell(&ToMember::Goodbye { reason: end.reason(), back: end.back() }).await?;
                self.write(&closing(end.code(), &close::short(&end.reason()))).await?;
            }
        }
        match &mut self.stream {
            Stream::Plain(stream) => stream.shutdown().await.map_err(broken)?,
            Stream::Tls(stream) => stream.shutdown().await.map_err(broken)?,
        }
        // What still comes is read away: a socket that is closed with something unread takes the parting words with it.
        while let Ok(Some(_)) = self.next().await {}
        Ok(())
    }

    /// The socket for the sockets' thread, and what came on it.
    ///
    /// # Errors
    /// When the runtime does not let go of the socket.
    pub(super) fn into_parts(self) -> io::Result<(Transport, Decoder)> {
        let transport = match self.stream {
            Stream::Plain(stream) => Transport::plain(stream.into_inner().into_std()?),
            Stream::Tls(stream) => {
                let (stream, session) = stream.into_inner();
                Transport::tls(stream.into_inner().into_std()?, session)
            }
        };
        Ok((transport, self.decoder))
    }

    async fn write_framed(&mut self, framed: &Framed) -> Result<(), End> {
        for frame in framed.frames() {
            self.write(frame).await?;
        }
        Ok(())
    }

    async fn write(&mut self, bytes: &[u8]) -> Result<(), End> {
        let written = match &mut self.stream {
            Stream::Plain(stream) => stream.write_all(bytes).await,
            Stream::Tls(stream) => match stream.write_all(bytes).await {
                Ok(()) => stream.flush().await,
                error => error,
            },
        };
        written.map_err(broken)
    }
}

fn broken(error: io::Error) -> End {
    End::Broken(error.to_string())
}
