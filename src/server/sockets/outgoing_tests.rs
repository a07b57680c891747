use proptest::prelude::*;

use super::*;

fn framed(content: u8) -> Framed {
    Framed::of([Bytes::from(vec![content])])
}

/// Everything that comes out, frame by frame.
fn drain(out: &mut Outgoing, dead: Generation) -> Vec<u8> {
    std::iter::from_fn(|| {
        let first = out.front(dead)?.to_vec();
        out.wrote(first.len());
        Some(first[0])
    })
    .collect()
}

#[test]
fn the_stop_overtakes_and_the_cues_that_it_kills_fall_out() {
    let mut out = Outgoing::default();
    for cue in 0..5 {
        out.push(Frame::Cue(Generation(1), framed(cue)), Generation(0)).unwrap();
    }
    out.push(Frame::Message(framed(9)), Generation(0)).unwrap();
    out.push(Frame::Urgent(framed(8)), Generation(0)).unwrap();
    out.stop(Bytes::from_static(&[7]));
    assert_eq!(drain(&mut out, Generation(1)), [7, 8, 9]);
}

/// The network took nothing of it when its turn came: it has not begun.
#[test]
fn a_frame_of_which_nothing_is_gone_gives_way_to_a_stop_and_falls_out_when_it_is_a_dead_cue() {
    for (frame, left) in [
        (Frame::Cue(Generation(1), framed(1)), vec![7, 9]),
        (Frame::Cue(Generation(2), framed(1)), vec![7, 1, 9]),
        (Frame::Message(framed(1)), vec![7, 1, 9]),
    ] {
        let mut out = Outgoing::default();
        out.push(frame, Generation(0)).unwrap();
        out.push(Frame::Message(framed(9)), Generation(0)).unwrap();
        assert_eq!(out.front(Generation(0)), Some(&[1][..]), "its turn, and the network takes nothing");
        out.stop(Bytes::from_static(&[7]));
        assert_eq!(drain(&mut out, Generation(1)), left);
        assert!(out.is_empty());
    }
}

/// The network takes nothing when the stop's turn comes either, however often it is asked.
#[test]
fn a_frame_that_gave_way_to_a_stop_is_not_lost_while_the_stop_itself_must_wait() {
    let mut out = Outgoing::default();
    out.push(Frame::Message(framed(1)), Generation(0)).unwrap();
    out.push(Frame::Message(framed(9)), Generation(0)).unwrap();
    out.front(Generation(0));
    out.stop(Bytes::from_static(&[7]));
    for _ in 0..3 {
        assert_eq!(out.front(Generation(1)), Some(&[7][..]));
    }
    out.stop(Bytes::from_static(&[8]));
    assert_eq!(drain(&mut out, Generation(1)), [8, 1, 9], "a newer stop takes the older one's place");
}

#[test]
fn a_frame_once_begun_is_finished_first_and_a_large_message_gives_way_between_its_pieces() {
    let mut out = Outgoing::default();
    let pieces = Framed::of([vec![1, 1, 1], vec![2, 2, 2], vec![3, 3, 3]].map(Bytes::from));
    out.push(Frame::Latest(Latest::State, pieces), Generation(0)).unwrap();
    assert_eq!(out.front(Generation(0)), Some(&[1, 1, 1][..]));
    out.wrote(1);
    out.stop(Bytes::from_static(&[7]));
    assert_eq!(out.front(Generation(0)), Some(&[1, 1][..]));
    out.wrote(2);
    assert_eq!(drain(&mut out, Generation(0)), [7, 2, 3]);
}

#[test]
fn a_newer_state_replaces_the_rest_of_an_older_one() {
    let mut out = Outgoing::default();
    out.push(Frame::Latest(Latest::State, Framed::of([vec![1], vec![2]].map(Bytes::from))), Generation(0)).unwrap();
    out.front(Generation(0));
    out.wrote(1);
    out.push(Frame::Latest(Latest::State, framed(3)), Generation(0)).unwrap();
    out.push(Frame::Latest(Latest::Pulse, framed(4)), Generation(0)).unwrap();
    assert_eq!(drain(&mut out, Generation(0)), [3, 4]);
}

#[derive(Clone, Debug)]
enum Step {
    Push(u8, u64),
    Stop,
    Pong,
    Die(u64),
    Write(usize),
    Close,
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        6 => (0u8..4, 0u64..5).prop_map(|(kind, generation)| Step::Push(kind, generation)),
        1 => Just(Step::Stop),
        1 => Just(Step::Pong),
        1 => (0u64..5).prop_map(Step::Die),
        6 => (0usize..5).prop_map(Step::Write),
        1 => prop::bool::weighted(0.1).prop_map(|close| if close { Step::Close } else { Step::Write(1) }),
    ]
}

proptest! {
    /// However few bytes the network takes, in whatever order things come: only whole frames come out, each begun frame is
    /// finished first, a stop is the next frame after the one that was begun, no cue that was dead when it was begun,
    /// nothing after the close, and without one every message that was taken.
    #[test]
    fn only_whole_frames_come_out_in_their_order(steps in prop::collection::vec(step(), 0..400)) {
        let mut out = Outgoing::default();
        let mut dead = Generation(0);
        let mut stream: Vec<u8> = Vec::new();
        let (mut stops, mut closed, mut number) = (Vec::new(), false, 0u8);
        // A frame of this test is: kind, number, generation, length of the rest, the rest.
        let mut frame = |kind: u8, generation: u64| {
            number = number.wrapping_add(1);
            let rest = usize::from(number % 5);
            let mut bytes = vec![kind, number, generation as u8, rest as u8];
            bytes.extend(std::iter::repeat_n(0xEE, rest));
            Bytes::from(bytes)
        };
        let (mut born_dead, mut taken) = (Vec::new(), Vec::new());
        for step in steps {
            match step {
                Step::Push(kind, generation) => {
                    let bytes = frame(kind, generation);
                    let name = (kind, bytes[1]);
                    let framed = Framed::of([bytes]);
                    let frame = match kind {
                        0 => Frame::Cue(Generation(generation), framed),
                        1 => Frame::Latest(Latest::State, framed),
                        2 => Frame::Urgent(framed),
                        _ => Frame::Message(framed),
                    };
                    if out.push(frame, dead).is_ok() && kind >= 2 {
                        taken.push(name);
                    }
                }
                Step::Stop => {
                    let whole = frames(&stream).1;
                    if !closed {
                        stops.push(whole.len());
                    }
                    out.stop(frame(10, 0));
                }
                Step::Pong => out.pong(frame(11, 0)),
                Step::Die(up_to) => dead = dead.max(Generation(up_to)),
                Step::Close => {
                    out.close(Some(Framed::of([frame(12, 0)])), frame(13, 0));
                    closed = true;
                }
                Step::Write(most) => {
                    let begins = frames(&stream).0 == stream.len();
                    if let Some(bytes) = out.front(dead) {
                        if most > 0 && begins && bytes[0] == 0 && Generation(u64::from(bytes[2])) <= dead {
                            born_dead.push(bytes[1]);
                        }
                        let some = bytes.len().min(most);
                        stream.extend_from_slice(&bytes[..some]);
                        out.wrote(some);
                    }
                }
            }
        }
        while let Some(bytes) = out.front(dead) {
            stream.extend_from_slice(bytes);
            let all = bytes.len();
            out.wrote(all);
        }
        prop_assert!(out.is_empty());
        let (read, all) = frames(&stream);
        prop_assert_eq!(read, stream.len(), "only whole frames");
        prop_assert!(born_dead.is_empty(), "no cue was begun that was dead");
        // A close sends away what waits.
        for (kind, number) in taken.into_iter().filter(|_| !closed) {
            prop_assert!(all.iter().any(|frame| frame[..2] == [kind, number]), "message {number} was taken and is lost");
        }
        let at = all.iter().position(|frame| frame[0] == 13);
        prop_assert_eq!(at.is_some(), closed);
        prop_assert!(at.is_none_or(|at| at == all.len() - 1), "nothing follows the close");
        for whole in stops {
            // The frame that was begun may stand before it; a later stop may have taken its place.
            let stop = all.iter().skip(whole).position(|frame| frame[0] == 10);
            prop_assert!(stop.is_some_and(|behind| behind <= 1), "a stop waits for one frame at the most");
        }
    }
}

/// How many bytes are whole frames, and these.
fn frames(stream: &[u8]) -> (usize, Vec<&[u8]>) {
    let (mut at, mut all) = (0, Vec::new());
    while let Some(head) = stream.get(at..at + 4) {
        let end = at + 4 + usize::from(head[3]);
        let Some(frame) = stream.get(at..end) else { break };
        all.push(frame);
        at = end;
    }
    (at, all)
}

#[test]
fn what_waits_is_bounded() {
    let mut out = Outgoing::default();
    let mut taken = 0;
    while out.push(Frame::Message(framed(1)), Generation(0)).is_ok() {
        taken += 1;
    }
    assert_eq!(taken, MOST_WAITING);
    let urgent = (0..).take_while(|_| out.push(Frame::Urgent(framed(2)), Generation(0)).is_ok()).count();
    assert_eq!(urgent, MOST_URGENT, "a member who never reads does not fill the memory with answers");
    for _ in 0..100 {
        out.pong(Bytes::from_static(&[3]));
        out.stop(Bytes::from_static(&[4]));
    }
    assert_eq!(drain(&mut out, Generation(0)).len(), MOST_WAITING + MOST_URGENT + MOST_PONGS + 1);
}
