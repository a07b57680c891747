//! What a member sends, from bytes to messages. The protocol is the library's (masks, fragments, pings, closing); it
//! works over memory here, so that the same decoder serves a newcomer's task and the sockets' thread.

use std::io::{self, Read, Write};

use bytes::{Buf, Bytes, BytesMut};
use tokio_tungstenite::tungstenite::protocol::{CloseFrame, Role, WebSocketConfig};
use tokio_tungstenite::tungstenite::{Error, Message, WebSocket};

use super::fragments::Fragments;
use crate::server::close;
use crate::server::ending::End;
use crate::wire::{self, Back, ToServer};

/// The library's own buffer: most frames of a member are under a hundred bytes.
const BUFFER: usize = 512;

/// The decoder of one connection.
#[derive(Debug)]
pub struct Decoder {
    socket: WebSocket<Pipe>,
    fragments: Fragments,
}

/// What comes out of it.
#[derive(Debug)]
pub enum Decoded {
    /// A message.
    Message(Box<ToServer>),
    /// A frame that the library answers by itself.
    Control,
}

/// Bytes that have come in, and bytes that the library wants to go out.
#[derive(Debug, Default)]
struct Pipe {
    incoming: BytesMut,
    outgoing: Vec<u8>,
}

impl Read for Pipe {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if self.incoming.is_empty() {
            return Err(io::ErrorKind::WouldBlock.into());
        }
        let bytes = buffer.len().min(self.incoming.len());
        buffer[..bytes].copy_from_slice(&self.incoming[..bytes]);
        self.incoming.advance(bytes);
        Ok(bytes)
    }
}

impl Write for Pipe {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.outgoing.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Decoder {
    /// A decoder behind the handshake; `first` came together with it.
    pub fn new(first: &[u8]) -> Decoder {
        let config = WebSocketConfig::default()
            .read_buffer_size(BUFFER)
            .write_buffer_size(0)
            .max_message_size(Some(wire::MAX_FRAME))
            .max_frame_size(Some(wire::MAX_FRAME));
        let mut decoder = Decoder {
            socket: WebSocket::from_raw_socket(Pipe::default(), Role::Server, Some(config)),
            fragments: Fragments::default(),
        };
        decoder.feed(first);
        decoder
    }

    /// Bytes have come.
    pub fn feed(&mut self, bytes: &[u8]) {
        let incoming = &mut self.socket.get_mut().incoming;
        if incoming.is_empty() {
            // What was taken out leaves its room behind; a member who once sent much does not keep it.
            *incoming = BytesMut::new();
        }
        incoming.extend_from_slice(bytes);
        self.fragments.feed(bytes);
    }

    /// How many frames have come since this was asked last that end no message.
    pub fn fragments(&mut self) -> u32 {
        self.fragments.take()
    }

    /// The next message, if it is whole.
    ///
    /// # Errors
    /// Why the connection ends.
    pub fn decode(&mut self) -> Result<Option<Decoded>, End> {
        match self.socket.read() {
            Ok(Message::Binary(bytes)) => understand(&bytes).map(|message| Some(Decoded::Message(Box::new(message)))),
            Ok(Message::Ping(_) | Message::Pong(_) | Message::Frame(_)) => Ok(Some(Decoded::Control)),
            Ok(Message::Text(_)) => {
                Err(End::refused("Only binary messages are understood here.", close::UNSUPPORTED, Back::ByItself))
            }
            Ok(Message::Close(frame)) => Err(left(frame.as_ref())),
            Err(Error::ConnectionClosed | Error::AlreadyClosed) => Err(End::Closed),
            Err(Error::Utf8(_)) => {
                Err(End::refused("This is no text: it is not UTF-8.", close::NO_TEXT, Back::ByItself))
            }
            Err(Error::Protocol(error)) => {
                let reason = format!("The link was spoken wrongly and was closed: {error}.");
                Err(End::refused(reason, close::PROTOCOL, Back::ByItself))
            }
            Err(Error::Io(error)) if error.kind() == io::ErrorKind::WouldBlock => Ok(None),
            Err(Error::Capacity(_)) => {
                let most = wire::MAX_FRAME;
                let reason = format!("A message may have {most} bytes at the most.");
                Err(End::refused(reason, close::TOO_BIG, Back::ByItself))
            }
            Err(error) => Err(End::Broken(error.to_string())),
        }
    }

    /// The frame that the library wants to be sent: a pong.
    pub fn answer(&mut self) -> Option<Bytes> {
        // A pipe takes everything, so this only moves the pong into it.
        let _ = self.socket.flush();
        let outgoing = std::mem::take(&mut self.socket.get_mut().outgoing);
        (!outgoing.is_empty()).then(|| Bytes::from(outgoing))
    }
}

/// The other side has sent a closing frame. One with a code that may not be sent breaks the protocol (RFC 6455 §7.4).
fn left(frame: Option<&CloseFrame>) -> End {
    match frame.map(|frame| frame.code) {
        None => End::Left(close::NO_CODE),
        Some(code) if code.is_allowed() => End::Left(code.into()),
        Some(code) => {
            let reason = format!("A closing frame cannot have the code {code}.");
            End::refused(reason, close::PROTOCOL, Back::ByItself)
        }
    }
}

fn understand(bytes: &[u8]) -> Result<ToServer, End> {
    if let Some(tap) = wire::quick_hold(bytes) {
        return Ok(ToServer::Hold(tap));
    }
    wire::decode(bytes).map_err(|error| {
        let error: String = error.to_string().chars().take(200).collect();
        End::refused(
            format!("The message was not understood. Reload the page. ({error})"),
            close::MALFORMED,
            Back::ByItself,
        )
    })
}
