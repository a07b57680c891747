//! Redis, over RESP3 (redis.io, "Redis serialization protocol specification"): with it a subscriber may publish too, so
//! that one connection a member is enough, as everywhere else.

use std::io::Write;
use std::net::TcpStream;
use std::path::Path;

use super::{Kind, expect};

pub(super) const KIND: Kind = Kind { name: "Redis", program: "redis-server", arguments, subscribe, publish };

fn arguments(_folder: &Path, port: u16) -> Vec<String> {
    let words = ["--bind", "127.0.0.1", "--port", &port.to_string(), "--save", "", "--appendonly", "no"];
    words.map(str::to_owned).into()
}

fn subscribe(socket: &mut TcpStream) -> std::io::Result<()> {
    socket.write_all(b"HELLO 3\r\n")?;
    expect(socket, b"modules\r\n*")?;
    socket.write_all(b"SUBSCRIBE hold\r\n")?;
    expect(socket, b"hold\r\n:1\r\n")
}

fn publish(payload: &[u8]) -> Vec<u8> {
    let head = format!("*3\r\n$7\r\nPUBLISH\r\n$4\r\nhold\r\n${}\r\n", payload.len());
    [head.as_bytes(), payload, b"\r\n"].concat()
}
