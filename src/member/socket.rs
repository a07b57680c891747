//! A WebSocket to the server, set up for many small frames: Nagle off, a small read buffer, binary MessagePack.

use std::collections::VecDeque;
use std::future::Future;
use std::pin::Pin;
use std::task::{Context, Poll, ready};

use futures_util::{Sink, SinkExt, Stream};
use tokio::net::TcpStream;
use tokio_tungstenite::tungstenite::protocol::WebSocketConfig;
use tokio_tungstenite::tungstenite::{Error, Message};
use tokio_tungstenite::{WebSocketStream, client_async_with_config};

use super::Address;
use crate::rules::LONGEST_MESSAGE;
use crate::wire::{Pieces, ToMember, ToServer, decode, encode};

/// A connection that is coming about; or the reason why it does not, in words.
pub(super) type Opening = Pin<Box<dyn Future<Output = Result<Socket, String>> + Send>>;

/// An open connection.
pub(super) struct Socket {
    stream: WebSocketStream<TcpStream>,
    pieces: Pieces,
}

/// What came over it.
pub(super) enum Heard {
    Message(Box<ToMember>),
    /// A piece of a message that is not whole yet.
    Piece,
    Unreadable(String),
    /// It is closed. The server has said why before, in a message.
    Closed,
}

impl Socket {
    /// Begins to connect. How long that may take is the caller's to say.
    pub(super) fn open(address: Address) -> Opening {
        Box::pin(async move {
            let place = address.place();
            connect(&address).await.map_err(|why| format!("{place} cannot be reached: {why}"))
        })
    }

    /// Writes what is in the outbox as far as the connection takes it, and reads the next message.
    pub(super) fn poll(&mut self, context: &mut Context<'_>, outbox: &mut VecDeque<ToServer>) -> Poll<Heard> {
        if self.write(context, outbox).is_err() {
            return Poll::Ready(Heard::Closed);
        }
        loop {
            let heard = match ready!(Pin::new(&mut self.stream).poll_next(context)) {
                Some(Ok(Message::Binary(bytes))) => match decode(&bytes) {
                    Ok(ToMember::Piece { of, part, last, bytes }) => {
                        match self.pieces.take(of, part, last, &bytes).as_deref().map(decode) {
                            Some(Ok(message)) => Heard::Message(Box::new(message)),
                            Some(Err(error)) => Heard::Unreadable(error.to_string()),
                            None => Heard::Piece,
                        }
                    }
                    Ok(message) => Heard::Message(Box::new(message)),
                    Err(error) => Heard::Unreadable(error.to_string()),
                },
                Some(Ok(Message::Text(_))) => Heard::Unreadable("a text frame; this wire is binary".into()),
                // Pings are answered by the library; pongs and raw frames say nothing.
                Some(Ok(Message::Ping(_) | Message::Pong(_) | Message::Frame(_))) => continue,
                Some(Ok(Message::Close(_)) | Err(_)) | None => Heard::Closed,
            };
            return Poll::Ready(heard);
        }
    }

    /// Writes what is in the outbox, and closes.
    pub(super) async fn close(&mut self, outbox: &mut VecDeque<ToServer>) {
        while let Some(message) = outbox.pop_front() {
            let Ok(bytes) = encode(&message) else { return };
            if self.stream.send(Message::Binary(bytes.into())).await.is_err() {
                return;
            }
        }
        // Closed is closed: an error says that it was closed already.
        let _ = self.stream.close(None).await;
    }

    fn write(&mut self, context: &mut Context<'_>, outbox: &mut VecDeque<ToServer>) -> Result<(), ()> {
        let mut stream = Pin::new(&mut self.stream);
        while !outbox.is_empty() {
            match stream.as_mut().poll_ready(context) {
                Poll::Pending => return Ok(()),
                Poll::Ready(ready) => ready.map_err(drop)?,
            }
            if let Some(message) = outbox.pop_front() {
                let bytes = encode(&message).map_err(drop)?;
                stream.as_mut().start_send(Message::Binary(bytes.into())).map_err(drop)?;
            }
        }
        match stream.poll_flush(context) {
            Poll::Ready(flushed) => flushed.map_err(drop),
            Poll::Pending => Ok(()),
        }
    }
}

async fn connect(address: &Address) -> Result<Socket, String> {
    let stream = TcpStream::connect(address.place()).await.map_err(|error| error.to_string())?;
    stream.set_nodelay(true).map_err(|error| error.to_string())?;
    let config = WebSocketConfig::default()
        .read_buffer_size(4 * 1024)
        .write_buffer_size(4 * 1024)
        .max_message_size(Some(LONGEST_MESSAGE))
        .max_frame_size(Some(LONGEST_MESSAGE));
    let (stream, _) =
        client_async_with_config(address.socket_url(), stream, Some(config)).await.map_err(|error| match error {
            Error::Http(answer) => format!("it answers {} and not as a Holdfast server does", answer.status()),
            other => format!("it does not speak as a Holdfast server does ({other})"),
        })?;
    Ok(Socket { stream, pieces: Pieces::default() })
}
