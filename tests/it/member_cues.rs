//! Cues, one case at a time: what a member does when everything is well, and at the edges of being late.

use holdfast::clock::MemberTime;
use holdfast::member::{Act, Event, Follower, Introduction, Shown};
use holdfast::units::Micros;
use holdfast::wire::{Cue, Fired, TapOutcome, ToMember, ToServer};

use crate::net_messages::{cue, held, welcome};

const AHEAD: i64 = 5_000_000;

/// A member with a good link in generation 1, whose clock is known exactly.
struct Linked(Follower);

impl Linked {
    fn at(now: i64) -> Linked {
        let mut linked = Linked(Follower::new(Introduction::Return { key: "k".into() }));
        linked.0.handle(MemberTime(now), Event::Time);
        linked.0.handle(MemberTime(now), Event::Opened);
        linked.hear(now, ToMember::Welcome(Box::new(welcome(now + AHEAD, 1))));
        let there = now + AHEAD;
        linked.hear(now, ToMember::Clock { sent_us: now, received_us: there, answered_us: there });
        linked
    }

    fn hear(&mut self, now: i64, message: ToMember) -> Vec<Act> {
        self.0.handle(MemberTime(now), Event::Heard(&message))
    }

    fn cue(&mut self, now: i64, cue: Cue) -> Vec<Shown> {
        shown(self.hear(now, ToMember::Cue(Box::new(cue))))
    }

    fn time(&mut self, now: i64) -> Vec<Shown> {
        shown(self.0.handle(MemberTime(now), Event::Time))
    }
}

fn shown(acts: Vec<Act>) -> Vec<Shown> {
    acts.into_iter().filter_map(|act| if let Act::Show(shown) = act { Some(*shown) } else { None }).collect()
}

fn reports(acts: &[Act]) -> Vec<Fired> {
    let report = |act: &Act| if let Act::Send(ToServer::Report(fired)) = act { Some(fired.clone()) } else { None };
    acts.iter().filter_map(report).collect()
}

fn due(now: i64) -> Option<i64> {
    Some(now + AHEAD)
}

#[test]
fn a_cue_waits_for_its_time_sounds_and_is_reported() {
    let mut member = Linked::at(0);
    assert_eq!(member.cue(1_000, cue(1, 3, due(200_000))), vec![]);
    assert_eq!(member.0.deadline(MemberTime(1_000)), Some(MemberTime(50_000)), "the next question about the time");
    assert_eq!(member.time(199_000), vec![]);
    let acts = member.0.handle(MemberTime(200_007), Event::Time);
    let report =
        Fired { generation: 1, cue: 3, due_us: 200_000 + AHEAD, fired_us: Some(200_007 + AHEAD), bound_us: Some(102) };
    assert_eq!(reports(&acts), vec![report]);
    let [shown] = shown(acts).try_into().unwrap();
    assert!(shown.sounds() && shown.late.is_none());
}

#[test]
fn the_deadline_is_the_cue_when_nothing_else_comes_before() {
    let mut member = Linked::at(0);
    member.cue(1_000, cue(1, 3, due(40_000)));
    assert_eq!(member.0.deadline(MemberTime(1_000)), Some(MemberTime(40_000)));
}

#[test]
fn what_arrives_after_its_time_is_shown_as_late_and_never_sounds() {
    let mut member = Linked::at(0);
    let [late] = member.cue(50_000, cue(1, 3, due(49_999))).try_into().unwrap();
    assert_eq!((late.late, late.sounds()), (Some(Micros(1)), false));
}

#[test]
fn what_is_shown_more_than_25_ms_after_its_time_is_late_too() {
    for (woken, late) in [(125_000, None), (125_001, Some(Micros(25_001)))] {
        let mut member = Linked::at(0);
        member.cue(1_000, cue(1, 3, due(100_000)));
        assert_eq!(member.time(woken)[0].late, late);
    }
}

#[test]
fn a_late_cue_does_not_push_a_newer_one_off_the_screen() {
    let mut member = Linked::at(0);
    member.cue(1_000, cue(1, 4, due(100_000)));
    assert_eq!(member.time(100_000).len(), 1);
    let acts = member.hear(110_000, ToMember::Cue(Box::new(cue(1, 3, due(60_000)))));
    assert_eq!(reports(&acts)[0].fired_us, None, "it was not shown");
    let [overtaken] = shown(acts).try_into().unwrap();
    assert!(overtaken.overtaken && !overtaken.sounds());
}

#[test]
fn a_cue_that_is_sent_again_is_shown_once_at_its_last_time() {
    let mut member = Linked::at(0);
    member.cue(1_000, cue(1, 3, due(100_000)));
    member.cue(2_000, cue(1, 3, due(150_000)));
    assert_eq!(member.time(149_999), vec![]);
    assert_eq!(member.time(150_000).len(), 1);
    assert_eq!(member.cue(160_000, cue(1, 3, due(150_000))), vec![]);
}

/// Found by the property in `member_follow`: a step's cue was shown at once while the same cue waited with a time.
#[test]
fn a_cue_that_waits_and_comes_again_as_a_step_is_shown_once() {
    let mut member = Linked::at(0);
    member.cue(1_000, cue(1, 3, due(100_000)));
    assert_eq!(member.cue(2_000, cue(1, 3, None)).len(), 1);
    assert_eq!(member.time(100_000), vec![]);
}

#[test]
fn a_step_is_shown_on_arrival() {
    let mut member = Linked::at(0);
    let [step] = member.cue(7_000, cue(1, 0, None)).try_into().unwrap();
    assert!(step.sounds());
}

#[test]
fn the_persons_own_tap_hushes_until_the_server_has_spoken() {
    for (answer, counts_on) in [(TapOutcome::Late, true), (TapOutcome::Held, true)] {
        let mut member = Linked::at(0);
        member.cue(1_000, cue(1, 3, due(100_000)));
        member.0.handle(MemberTime(50_000), Event::Hold { tap: "t".into(), reason: None });
        assert_eq!(member.time(100_000), vec![]);
        let acts = member.hear(120_000, ToMember::TapAnswer { tap: "t".into(), outcome: answer, hold: None });
        assert_eq!(!shown(acts).is_empty(), counts_on, "{answer:?} without a new generation: what lives goes on");
    }
    let mut member = Linked::at(0);
    member.cue(1_000, cue(1, 3, due(100_000)));
    member.0.handle(MemberTime(50_000), Event::Hold { tap: "t".into(), reason: None });
    assert_eq!(shown(member.hear(60_000, ToMember::Held(Box::new(held(1, 0))))), vec![], "word of an older hold");
    assert_eq!(member.time(100_000), vec![]);
    member.hear(110_000, ToMember::Held(Box::new(held(2, 2))));
    assert_eq!(member.time(120_000), vec![], "the cue is dead");
    let held = ToMember::TapAnswer { tap: "t".into(), outcome: TapOutcome::Held, hold: Some(2) };
    assert_eq!(shown(member.hear(125_000, held)), vec![]);
    assert_eq!(member.cue(130_000, cue(2, 0, due(140_000))), vec![]);
    assert_eq!(member.time(140_000).len(), 1, "the next run counts");
}

/// The link is cut and comes back, with the whole state in generation 1.
fn relink(member: &mut Linked, cut: i64, back: i64) -> Vec<Act> {
    member.0.handle(MemberTime(cut), Event::Closed { chance: 0.0 });
    member.0.handle(MemberTime(back), Event::Time);
    member.0.handle(MemberTime(back), Event::Opened);
    member.hear(back, ToMember::Welcome(Box::new(welcome(back + AHEAD, 1))))
}

#[test]
fn what_waited_when_the_link_was_lost_is_not_shown_over_the_next_one() {
    let mut member = Linked::at(0);
    member.cue(1_000, cue(1, 3, due(500_000)));
    assert_eq!(shown(relink(&mut member, 10_000, 200_000)), vec![]);
    assert_eq!(member.time(500_000), vec![], "the server sends anew what still counts");
    assert_eq!(member.cue(510_000, cue(1, 4, due(520_000))), vec![]);
    assert_eq!(member.time(520_000).len(), 1);
}

#[test]
fn what_was_shown_before_the_link_was_lost_is_shown_again_in_silence_and_not_reported() {
    let mut member = Linked::at(0);
    member.cue(1_000, cue(1, 3, due(5_000)));
    assert_eq!(member.time(5_000).len(), 1);
    relink(&mut member, 10_000, 200_000);
    let acts = member.hear(210_000, ToMember::Cue(Box::new(cue(1, 3, due(5_000)))));
    assert_eq!(reports(&acts), vec![]);
    let [again] = shown(acts).try_into().unwrap();
    assert!(again.again && !again.sounds(), "the screen was empty");
    assert_eq!(member.cue(220_000, cue(1, 3, due(5_000))), vec![], "once over each link");
}

#[test]
fn a_step_that_waits_for_the_answer_to_a_tap_is_not_lost() {
    let mut member = Linked::at(0);
    member.0.handle(MemberTime(5_000), Event::Hold { tap: "t".into(), reason: None });
    assert_eq!(member.cue(7_000, cue(1, 0, None)), vec![]);
    let late = ToMember::TapAnswer { tap: "t".into(), outcome: TapOutcome::Late, hold: None };
    assert_eq!(shown(member.hear(9_000, late)).len(), 1);
}

#[test]
fn a_tap_without_a_link_hushes_over_the_next_link_until_it_is_answered() {
    let mut member = Linked::at(0);
    member.0.handle(MemberTime(10_000), Event::Closed { chance: 0.0 });
    let acts = member.0.handle(MemberTime(20_000), Event::Hold { tap: "t".into(), reason: None });
    assert_eq!(acts, vec![Act::Connect], "a tap waits for no back-off");
    member.0.handle(MemberTime(200_000), Event::Opened);
    member.hear(200_000, ToMember::Welcome(Box::new(welcome(200_000 + AHEAD, 1))));
    member.cue(210_000, cue(1, 3, due(220_000)));
    assert_eq!(member.time(220_000), vec![]);
    let late = ToMember::TapAnswer { tap: "t".into(), outcome: TapOutcome::Late, hold: None };
    assert_eq!(shown(member.hear(230_000, late)).len(), 1);
}

#[test]
fn a_server_that_speaks_from_the_future_has_a_new_clock() {
    let mut member = Linked::at(0);
    member.cue(1_000, cue(1, 3, due(100_000)));
    let hour = 3_600_000_000;
    member.hear(50_000, ToMember::Pulse { now_us: 50_000 + AHEAD + hour, generation: 1, stood_us: Some(0) });
    assert_eq!(member.0.clock().estimate(MemberTime(50_000)), None, "this machine slept");
    assert_eq!(member.time(100_000), vec![], "no cue is shown by a clock that is wrong");
}
