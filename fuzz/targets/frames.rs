//! What comes over a member's socket. The bytes are taken as one message, and as a stream of WebSocket frames (RFC
//! 6455), whole and byte by byte. A message that is understood is written and read again as the same; the quick reader of
//! a HOLD agrees with the general one; how the stream is cut changes nothing.

use std::fmt::Debug;

use holdfast::server::{Decoded, Decoder};
use holdfast::wire::{ToMember, ToServer, decode, encode, quick_hold};
use serde::Serialize;
use serde::de::DeserializeOwned;

pub(crate) fn run(bytes: &[u8]) {
    comes_back::<ToServer>(bytes);
    comes_back::<ToMember>(bytes);
    if let Some(tap) = quick_hold(bytes) {
        assert_eq!(decode::<ToServer>(bytes).unwrap(), ToServer::Hold(tap), "two readers of one HOLD");
    }
    let whole = heard([bytes]);
    assert_eq!(whole, heard(bytes.chunks(1)), "the stream was cut and means something else");
    for message in whole.messages {
        comes_back::<ToServer>(&message);
    }
}

/// A message is written and read as the same message: compared as bytes, for what is no number equals nothing.
fn comes_back<T: Serialize + DeserializeOwned + Debug>(bytes: &[u8]) {
    match decode::<T>(bytes) {
        Ok(message) => {
            let written = encode(&message).unwrap();
            let again: T = decode(&written).unwrap_or_else(|error| panic!("{message:?} is not read again: {error}"));
            assert_eq!(encode(&again).unwrap(), written, "{message:?} came back as {again:?}");
        }
        Err(error) => assert!(error.to_string().len() > 20, "{error}"),
    }
}

/// What was heard of a stream: its messages, each written again, and how it ended if it did.
#[derive(Debug, PartialEq)]
struct Heard {
    messages: Vec<Vec<u8>>,
    controls: usize,
    end: Option<(u16, String)>,
}

fn heard<'a>(pieces: impl IntoIterator<Item = &'a [u8]>) -> Heard {
    let mut decoder = Decoder::new(&[]);
    let mut heard = Heard { messages: Vec::new(), controls: 0, end: None };
    for piece in pieces {
        decoder.feed(piece);
        loop {
            match decoder.decode() {
                Ok(Some(Decoded::Message(message))) => heard.messages.push(encode(&message).unwrap()),
                Ok(Some(Decoded::Control)) => heard.controls += 1,
                Ok(None) => break,
                Err(end) => {
                    assert!(!end.reason().is_empty() && end.code() >= 1_000);
                    heard.end = Some((end.code(), end.reason()));
                    return heard;
                }
            }
            assert!(decoder.answer().is_none_or(|answer| answer.len() <= 127), "an answer is a small frame");
        }
    }
    heard
}
