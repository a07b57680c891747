//! The least that a member says and hears over a WebSocket (RFC 6455), on a stream that may be plain or TLS: the opening,
//! frames to the server, and, for the desk alone, whole messages from it.

use std::io::{self, Read, Write};

/// What asks for a WebSocket at `/ws`.
pub(crate) fn asking(host: &str) -> String {
    // The key is the example of RFC 6455, section 1.3: it proves nothing to anybody here.
    format!(
        "GET /ws HTTP/1.1\r\nHost: {host}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n\
         Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n"
    )
}

/// Opens a WebSocket there.
pub(crate) fn open(stream: &mut (impl Read + Write), host: &str) -> io::Result<()> {
    stream.write_all(asking(host).as_bytes())?;
    stream.flush()?;
    let mut answer = Vec::new();
    let mut byte = [0];
    while !answer.ends_with(b"\r\n\r\n") {
        stream.read_exact(&mut byte)?;
        answer.push(byte[0]);
    }
    if answer.starts_with(b"HTTP/1.1 101 ") {
        return Ok(());
    }
    Err(io::Error::other(format!("no WebSocket: {}", String::from_utf8_lossy(&answer).lines().next().unwrap_or(""))))
}

/// A binary frame to the server, masked with zeros (section 5.2): the mask is there for proxies, and there are none here.
pub(crate) fn frame(payload: &[u8]) -> Vec<u8> {
    let mut frame = vec![0x82];
    match payload.len() {
        short @ 0..=125 => frame.push(0x80 | short as u8),
        long => {
            frame.push(0x80 | 126);
            frame.extend(u16::try_from(long).unwrap().to_be_bytes());
        }
    }
    frame.extend([0; 4]);
    frame.extend(payload);
    frame
}

/// Takes the first whole frame out of what has arrived; the payload of a binary one, nothing in it for all others.
pub(crate) fn take(arrived: &mut Vec<u8>) -> Option<Vec<u8>> {
    let second = *arrived.get(1)?;
    let (length, head) = match second & 0x7f {
        126 => (usize::from(u16::from_be_bytes(arrived.get(2..4)?.try_into().ok()?)), 4),
        127 => (usize::try_from(u64::from_be_bytes(arrived.get(2..10)?.try_into().ok()?)).ok()?, 10),
        short => (usize::from(short), 2),
    };
    if arrived.len() < head + length {
        return None;
    }
    let binary = arrived[0] == 0x82;
    let payload = arrived[head..head + length].to_vec();
    arrived.drain(..head + length);
    Some(if binary { payload } else { Vec::new() })
}
