//! What RFC 6455 says a server must do, case by case with its section, asked of the real server over real sockets: of one
//! that has not been introduced, which the runtime reads, and of a member, whom the sockets' thread reads.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::Duration;

use holdfast::call::Role;
use holdfast::member::Address;
use holdfast::wire::{self, PROTOCOL, ToServer};

use crate::support::house::House;

/// A key that masks (RFC 6455, section 5.3); any does.
const MASK: [u8; 4] = [0x37, 0xfa, 0x21, 0x3d];

/// A masked frame: its first byte, and its body.
fn frame(first: u8, body: &[u8]) -> Vec<u8> {
    let length = u8::try_from(body.len()).unwrap();
    let mut frame = match length {
        0..=125 => vec![first, 0x80 | length],
        _ => vec![first, 0x80 | 126, 0, length],
    };
    frame.extend(MASK);
    frame.extend(body.iter().zip(MASK.iter().cycle()).map(|(byte, mask)| byte ^ mask));
    frame
}

/// The head of a masked frame that says it has so many bytes, and none of them.
fn head(first: u8, length: u64) -> Vec<u8> {
    [&[first, 0x80 | 127], length.to_be_bytes().as_slice(), &MASK].concat()
}

/// A frame that the server sent.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Heard {
    opcode: u8,
    body: Vec<u8>,
}

struct Line {
    stream: TcpStream,
}

impl Line {
    fn open(place: &str) -> Line {
        let mut stream = TcpStream::connect(place).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        let head = request(
            &mut stream,
            place,
            "Upgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n",
        );
        // Section 1.3's worked example.
        assert!(head.starts_with("HTTP/1.1 101") && head.contains("s3pPLMBiTxaQ9kYGzzhZRbK+xOo="), "{head}");
        Line { stream }
    }

    fn joined(address: &Address, name: &str) -> Line {
        let mut line = Line::open(&address.place());
        let invitation = address.secret().to_owned();
        let join = ToServer::Join { protocol: PROTOCOL, invitation, name: name.to_owned(), part: None, page: None };
        line.say(&frame(0x82, &wire::encode(&join).unwrap()));
        let welcome = line.next().expect("the welcome");
        assert_eq!(welcome.opcode, 2);
        line
    }

    fn say(&mut self, bytes: &[u8]) {
        self.stream.write_all(bytes).unwrap();
    }

    /// The next frame; nothing when the connection has ended.
    fn next(&mut self) -> Option<Heard> {
        let mut head = [0; 2];
        self.stream.read_exact(&mut head).ok()?;
        // Section 5.1: a server masks nothing.
        assert_eq!(head[1] & 0x80, 0, "a masked frame from the server");
        let length = match head[1] {
            126 => {
                let mut length = [0; 2];
                self.stream.read_exact(&mut length).ok()?;
                usize::from(u16::from_be_bytes(length))
            }
            127 => {
                let mut length = [0; 8];
                self.stream.read_exact(&mut length).ok()?;
                usize::try_from(u64::from_be_bytes(length)).unwrap()
            }
            length => usize::from(length),
        };
        let mut body = vec![0; length];
        self.stream.read_exact(&mut body).ok()?;
        Some(Heard { opcode: head[0] & 0x0f, body })
    }

    /// The first frame of that kind.
    fn next_of(&mut self, opcode: u8) -> Option<Heard> {
        std::iter::from_fn(|| self.next()).find(|heard| heard.opcode == opcode)
    }

    /// The code of the closing frame, after which the server says nothing more.
    fn closing(&mut self) -> Option<u16> {
        let close = self.next_of(8)?;
        assert_eq!(self.next(), None, "section 5.5.1: nothing follows a closing frame");
        let code = close.body.get(..2).map(|code| u16::from_be_bytes([code[0], code[1]]));
        // Section 7.4.1: a closing frame without a body says nothing of why.
        Some(code.unwrap_or(1005))
    }
}

fn request(stream: &mut TcpStream, place: &str, headers: &str) -> String {
    write!(stream, "GET /ws HTTP/1.1\r\nHost: {place}\r\n{headers}\r\n").unwrap();
    let mut head = Vec::new();
    while !head.ends_with(b"\r\n\r\n") {
        let mut byte = [0];
        stream.read_exact(&mut byte).unwrap();
        head.push(byte[0]);
    }
    String::from_utf8(head).unwrap()
}

/// Cases that fail the connection: what they are, the bytes, the code of the closing frame.
fn failures() -> Vec<(&'static str, Vec<u8>, u16)> {
    vec![
        ("5.1: a frame that is not masked", vec![0x82, 0x01, 0x00], 1002),
        ("5.2: a reserved bit without an extension", frame(0xc2, b"x"), 1002),
        ("5.2: another reserved bit", frame(0xa2, b"x"), 1002),
        ("5.2: a reserved opcode", frame(0x83, b"x"), 1002),
        ("5.2: a reserved control opcode", frame(0x8b, b""), 1002),
        ("5.4: a continuation of nothing", frame(0x80, b"x"), 1002),
        ("5.4: a message in the middle of another", [frame(0x02, b"x"), frame(0x82, b"y")].concat(), 1002),
        ("5.5: a fragmented ping", frame(0x09, b"x"), 1002),
        ("5.5: a ping of 126 bytes", frame(0x89, &[b'x'; 126]), 1002),
        ("5.5: a close of 126 bytes", frame(0x88, &[b'x'; 126]), 1002),
        ("5.6, 8.1: text that is no UTF-8", frame(0x81, &[0xc3, 0x28]), 1007),
        ("8.1: UTF-8 that is cut short", frame(0x81, &[0xe2, 0x82]), 1007),
        ("8.1: a surrogate in UTF-8", frame(0x81, &[0xed, 0xa0, 0x80]), 1007),
        ("7.4.1: text, where only binary messages are taken", frame(0x81, b"hold"), 1003),
        ("7.4.1: more than is taken", head(0x82, 100_000_000), 1009),
        ("5.2, 7.4.1: the longest length that there is", head(0x82, (1 << 63) - 1), 1009),
        ("5.5.1: a close whose body is one byte", frame(0x88, &[0x03]), 1002),
        ("7.4.2: a close with a code that nobody may send", frame(0x88, &999u16.to_be_bytes()), 1002),
        ("7.4.1: a close with 1005", frame(0x88, &1005u16.to_be_bytes()), 1002),
        ("7.4.1: a close with 1006", frame(0x88, &1006u16.to_be_bytes()), 1002),
        ("5.5.1, 8.1: a close whose reason is no UTF-8", frame(0x88, &[0x03, 0xe8, 0xc3, 0x28]), 1007),
        // Section 5.5.1: the answer has the code of the close.
        ("5.5.1: a close is answered", frame(0x88, &1000u16.to_be_bytes()), 1000),
        ("5.5.1: a close with a reason", frame(0x88, &[0x03, 0xe9, b'b', b'y', b'e']), 1001),
        ("5.5.1: a close without a body", frame(0x88, b""), 1005),
        ("7.4.2: a close with a code of a program's own", frame(0x88, &4999u16.to_be_bytes()), 4999),
        (
            "5.5.1: what follows a close is not looked at",
            [frame(0x88, &1000u16.to_be_bytes()), vec![0xff; 9]].concat(),
            1000,
        ),
    ]
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn whatever_must_fail_a_connection_fails_it_with_the_code_for_it() {
    let folder = tempfile::tempdir().unwrap();
    let house = House::open(folder.path(), Vec::new()).await;
    let address = house.address(Role::Observer);
    let walked = tokio::task::spawn_blocking(move || {
        let mut wrong = Vec::new();
        for (number, (case, bytes, code)) in failures().into_iter().enumerate() {
            for (who, mut line) in [
                ("a stranger", Line::open(&address.place())),
                ("a member", Line::joined(&address, &format!("Pim {number}"))),
            ] {
                line.say(&bytes);
                let closed = line.closing();
                if closed != Some(code) {
                    wrong.push(format!("{case}, from {who}: {closed:?} instead of {code}"));
                }
            }
        }
        wrong
    });
    assert_eq!(walked.await.unwrap(), Vec::<String>::new());
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn pings_and_fragments_are_answered_as_they_must_be() {
    let folder = tempfile::tempdir().unwrap();
    let house = House::open(folder.path(), Vec::new()).await;
    let address = house.address(Role::Observer);
    tokio::task::spawn_blocking(move || {
        let clock = wire::encode(&ToServer::Clock { sent_us: 7 }).unwrap();
        for mut line in [Line::open(&address.place()), Line::joined(&address, "Pim")] {
            // 5.5.2, 5.5.3: a pong has the body of the ping, also an empty one and the longest; one that nobody asked for
            // is not answered.
            line.say(&frame(0x8a, b"unasked"));
            for body in [b"Hello".as_slice(), b"", &[0xff; 125]] {
                line.say(&frame(0x89, body));
                assert_eq!(line.next_of(10).unwrap().body, body);
            }
        }
        let mut member = Line::joined(&address, "Ode");
        // 5.4: fragments make one message, empty ones among them, and a ping may stand between them.
        let (one, two) = clock.split_at(5);
        for bytes in [frame(0x02, one), frame(0x89, b"between"), frame(0x00, b""), frame(0x80, two)] {
            member.say(&bytes);
        }
        assert_eq!(member.next_of(10).unwrap().body, b"between");
        let is_clock =
            |heard: &Heard| matches!(wire::decode(&heard.body), Ok(wire::ToMember::Clock { sent_us: 7, .. }));
        assert!(std::iter::from_fn(|| member.next_of(2)).take(50).any(|heard| is_clock(&heard)));
        // 5.2: the same length may be written with more bytes than it needs by one that does not keep to it; read all the
        // same, it is the same message (the decoder is no judge of its sender).
        let body: Vec<u8> = clock.iter().zip(MASK.iter().cycle()).map(|(byte, mask)| byte ^ mask).collect();
        member.say(&[head(0x82, clock.len() as u64), body].concat());
        assert!(std::iter::from_fn(|| member.next_of(2)).take(50).any(|heard| is_clock(&heard)));
    })
    .await
    .unwrap();
    house.stop().await;
}

/// Section 5.4 sets no bound to the fragments of a message, so the server counts them: a message that never ends is cut off,
/// whoever sends it.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_message_that_never_ends_is_cut_off() {
    let folder = tempfile::tempdir().unwrap();
    let house = House::open(folder.path(), Vec::new()).await;
    let address = house.address(Role::Observer);
    tokio::task::spawn_blocking(move || {
        for mut line in [Line::open(&address.place()), Line::joined(&address, "Pim")] {
            let fragments = [frame(0x02, b""), frame(0x00, b"").repeat(2_000)].concat();
            // A server that has closed takes no more.
            let _ = line.stream.write_all(&fragments);
            assert_eq!(line.closing(), Some(4004));
        }
    })
    .await
    .unwrap();
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_handshake_that_is_none_is_refused_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let house = House::open(folder.path(), Vec::new()).await;
    let place = house.address(Role::Observer).place();
    tokio::task::spawn_blocking(move || {
        const UPGRADE: &str = "Upgrade: websocket\r\nConnection: Upgrade\r\n";
        const KEY: &str = "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n";
        let rows = [
            // 4.4: a version that is not spoken is answered with the one that is.
            (
                "4.2.2, 4.4: version 8",
                format!("{UPGRADE}{KEY}Sec-WebSocket-Version: 8\r\n"),
                "426",
                "sec-websocket-version: 13",
            ),
            ("4.2.1: no version", format!("{UPGRADE}{KEY}"), "426", "sec-websocket-version: 13"),
            ("4.2.1: no key", format!("{UPGRADE}Sec-WebSocket-Version: 13\r\n"), "400", ""),
            ("4.2.1: no upgrade", format!("{KEY}Sec-WebSocket-Version: 13\r\n"), "400", ""),
        ];
        for (case, headers, status, says) in rows {
            let mut stream = TcpStream::connect(&place).unwrap();
            stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
            let answer = request(&mut stream, &place, &headers).to_lowercase();
            assert!(answer.starts_with(&format!("http/1.1 {status}")) && answer.contains(says), "{case}: {answer}");
        }
    })
    .await
    .unwrap();
    house.stop().await;
}
