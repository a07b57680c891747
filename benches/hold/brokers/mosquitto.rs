//! Mosquitto, over MQTT 3.1.1 (OASIS Standard, 29 October 2014), quality of service 0.

use std::io::Write;
use std::net::TcpStream;
use std::path::Path;

use super::{Kind, expect};

pub(super) const KIND: Kind = Kind { name: "mosquitto", program: "mosquitto", arguments, subscribe, publish };

const TOPIC: &[u8] = b"\x00\x04hold";

fn arguments(folder: &Path, port: u16) -> Vec<String> {
    let file = folder.join("settings.conf");
    let settings = format!("listener {port} 127.0.0.1\nallow_anonymous true\nset_tcp_nodelay true\nlog_type error\n");
    // Without the file it says by itself, in the row, that it does not answer.
    let _ = std::fs::write(&file, settings);
    vec!["-c".into(), file.display().to_string()]
}

fn subscribe(socket: &mut TcpStream) -> std::io::Result<()> {
    // CONNECT (3.1): protocol name and level, a clean session, no keep-alive, an empty client identifier.
    socket.write_all(b"\x10\x0c\x00\x04MQTT\x04\x02\x00\x00\x00\x00")?;
    // CONNACK (3.2), accepted.
    expect(socket, b"\x20\x02\x00\x00")?;
    // SUBSCRIBE (3.8): packet 1, the topic, QoS 0. SUBACK (3.9): packet 1, granted QoS 0.
    socket.write_all(&[b"\x82\x09\x00\x01".as_slice(), TOPIC, b"\x00"].concat())?;
    expect(socket, b"\x90\x03\x00\x01\x00")
}

/// PUBLISH (3.3): the remaining length takes two bytes from 128 on (2.2.3).
fn publish(payload: &[u8]) -> Vec<u8> {
    let length = TOPIC.len() + payload.len();
    [&[0x30, (length % 128) as u8 | 0x80, (length / 128) as u8], TOPIC, payload].concat()
}
