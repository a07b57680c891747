//! The WebSocket library against RFC 6455's own examples: what our socket accepts, decodes and refuses.

use std::io::{Cursor, Read, Write};

use tokio_tungstenite::tungstenite::error::{Error, ProtocolError};
use tokio_tungstenite::tungstenite::handshake::derive_accept_key;
use tokio_tungstenite::tungstenite::protocol::{Role, WebSocket};
use tokio_tungstenite::tungstenite::{Message, accept};

/// A connection whose other end has said all it will ever say; keeps what is written.
#[derive(Debug)]
struct Said {
    input: Cursor<Vec<u8>>,
    written: Vec<u8>,
}

impl Read for Said {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        self.input.read(buffer)
    }
}

impl Write for Said {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.written.write(bytes)
    }
    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

fn socket(role: Role, bytes: &[u8]) -> WebSocket<Said> {
    let said = Said { input: Cursor::new(bytes.to_vec()), written: Vec::new() };
    WebSocket::from_raw_socket(said, role, None)
}

const MASKED_HELLO: [u8; 11] = [0x81, 0x85, 0x37, 0xfa, 0x21, 0x3d, 0x7f, 0x9f, 0x4d, 0x51, 0x58];
const UNMASKED_HELLO: [u8; 7] = [0x81, 0x05, 0x48, 0x65, 0x6c, 0x6c, 0x6f];

/// RFC 6455 section 1.3.
#[test]
fn the_accept_key_is_the_rfcs() {
    assert_eq!(derive_accept_key(b"dGhlIHNhbXBsZSBub25jZQ=="), "s3pPLMBiTxaQ9kYGzzhZRbK+xOo=");
}

/// RFC 6455 section 1.2's request, and the answer that section 1.3 asks for.
#[test]
fn the_rfcs_handshake_is_answered() {
    let request = "GET /chat HTTP/1.1\r\nHost: server.example.com\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n\
        Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nOrigin: http://example.com\r\nSec-WebSocket-Version: 13\r\n\r\n";
    let said = Said { input: Cursor::new(request.into()), written: Vec::new() };
    let socket = accept(said).expect("the RFC's own request is refused");
    let answer = String::from_utf8(socket.get_ref().written.clone()).unwrap().to_lowercase();
    assert!(answer.starts_with("http/1.1 101 "), "{answer}");
    assert!(answer.contains("sec-websocket-accept: s3pplmbitxaq9kygzzhzrbk+xoo="), "{answer}");
}

/// RFC 6455 section 5.7: a masked frame to the server, an unmasked one and a fragmented one to the client.
#[test]
fn the_rfcs_frames_are_read() {
    assert_eq!(socket(Role::Server, &MASKED_HELLO).read().unwrap(), Message::text("Hello"));
    assert_eq!(socket(Role::Client, &UNMASKED_HELLO).read().unwrap(), Message::text("Hello"));
    let fragmented = [0x01, 0x03, 0x48, 0x65, 0x6c, 0x80, 0x02, 0x6c, 0x6f];
    assert_eq!(socket(Role::Client, &fragmented).read().unwrap(), Message::text("Hello"));
}

/// RFC 6455 section 5.7: a ping is answered with a pong of the same body; the server's is not masked.
#[test]
fn a_ping_is_answered_with_its_body() {
    let ping = [0x89, 0x85, 0x37, 0xfa, 0x21, 0x3d, 0x7f, 0x9f, 0x4d, 0x51, 0x58];
    let mut socket = socket(Role::Server, &ping);
    assert_eq!(socket.read().unwrap(), Message::Ping("Hello".into()));
    socket.flush().unwrap();
    assert_eq!(socket.get_ref().written, [0x8a, 0x05, 0x48, 0x65, 0x6c, 0x6c, 0x6f]);
}

/// RFC 6455 section 5.1: a server must not take an unmasked frame, and never masks.
#[test]
fn an_unmasked_frame_to_the_server_is_refused() {
    let refused = socket(Role::Server, &UNMASKED_HELLO).read();
    assert!(matches!(refused, Err(Error::Protocol(ProtocolError::UnmaskedFrameFromClient))), "{refused:?}");
    let mut server = socket(Role::Server, &[]);
    server.send(Message::text("Hello")).unwrap();
    assert_eq!(server.get_ref().written, UNMASKED_HELLO);
}

/// RFC 6455 section 5.1: a client masks everything, with a key that cannot be foretold.
#[test]
fn a_client_masks() {
    let written = [(); 2].map(|()| {
        let mut client = socket(Role::Client, &[]);
        client.send(Message::text("Hello")).unwrap();
        client.get_ref().written.clone()
    });
    for bytes in &written {
        assert_eq!(bytes[..2], [0x81, 0x85]);
        assert_eq!(socket(Role::Server, bytes).read().unwrap(), Message::text("Hello"));
    }
    assert_ne!(written[0], written[1]);
}

/// RFC 6455 section 7.4: 1005, 1006 and 1015 are never seen on the wire.
#[test]
fn close_codes_that_are_never_sent_are_not_taken() {
    for (code, taken) in
        [(1000u16, true), (1008, true), (1009, true), (4000, true), (1005, false), (1006, false), (1015, false)]
    {
        let [high, low] = code.to_be_bytes();
        let frame = [0x88, 0x82, 0, 0, 0, 0, high, low];
        let read = socket(Role::Server, &frame).read();
        let Ok(Message::Close(Some(close))) = &read else {
            assert!(!taken, "{code}: {read:?}");
            continue;
        };
        assert_eq!(u16::from(close.code) == code, taken, "{code} is read as {close:?}");
    }
}
