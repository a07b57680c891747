//! NATS, over its text protocol (docs.nats.io, "Client Protocol").

use std::io::Write;
use std::net::TcpStream;
use std::path::Path;

use super::{Kind, expect};

pub(super) const KIND: Kind = Kind { name: "NATS", program: "nats-server", arguments, subscribe, publish };

fn arguments(folder: &Path, port: u16) -> Vec<String> {
    let file = folder.join("settings.conf");
    // The members answer no pings, so it is not to ask for any. Without the file it says by itself that it cannot begin.
    let _ = std::fs::write(&file, format!("host: 127.0.0.1\nport: {port}\nping_interval: \"1h\"\n"));
    vec!["-c".into(), file.display().to_string()]
}

fn subscribe(socket: &mut TcpStream) -> std::io::Result<()> {
    expect(socket, b"INFO ")?;
    socket.write_all(b"CONNECT {\"verbose\":false,\"pedantic\":false,\"echo\":true}\r\nSUB hold 1\r\nPING\r\n")?;
    expect(socket, b"PONG\r\n")
}

fn publish(payload: &[u8]) -> Vec<u8> {
    [format!("PUB hold {}\r\n", payload.len()).as_bytes(), payload, b"\r\n"].concat()
}
