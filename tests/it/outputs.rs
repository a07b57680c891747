//! The outputs driven by a real call, as the hub drives them: a run's clicks and sounds become notes, a foot switch
//! holds, and then there is only silence.

use std::sync::mpsc::{self, Receiver, Sender};
use std::time::Duration;

use holdfast::call::{
    Act, Before, Call, Drive, Input, MemberId, Output, Puller, Pulling, Role, Settings, SetupRequest, Stage,
    UsualEvening, Why,
};
use holdfast::event::{Entry, EventId, EventKind};
use holdfast::midi::port::{NotSent, Port};
use holdfast::midi::settings::ShowControl;
use holdfast::midi::show_control::{Device, Format};
use holdfast::midi::{Channel, MidiOut, MidiSettings, Note, SevenBits, SoundNote};
use holdfast::osc::OscOut;
use holdfast::outputs::{Off, Outputs};
use holdfast::production::Config;
use holdfast::rules::STEP_BOUNCE;
use holdfast::time::ServerClock;
use holdfast::units::{Generation, Micros};

use crate::support::fights::fight_of;

struct Paper(Sender<Vec<u8>>);

impl Port for Paper {
    fn send(&mut self, message: &[u8]) -> Result<(), NotSent> {
        self.0.send(message.to_vec()).map_err(|_| NotSent)
    }
}

const DESK: MemberId = MemberId(1);

fn call() -> Call {
    let settings = Settings {
        horizon: Micros::millis(1_500),
        lead: Micros::millis(50),
        hold_on_lost_link: Vec::new(),
        before_call: Vec::new(),
        why: Why::default(),
        evening: UsualEvening::default(),
    };
    let mut call =
        Call::new(settings, vec![fight_of("The Salt Stair", 300.0, &[&[0, 1, 2, 3], &[0, 1]])], Before::default());
    let desk = Input::Joined { member: DESK, name: "Ilse".into(), role: Role::Desk, part: None, instead_of: None };
    call.handle(ServerClock::new().now(), desk);
    call
}

fn places(drive: Drive, seen: EventId) -> Act {
    let fight = "The Salt Stair".to_owned();
    Act::Places {
        request: SetupRequest {
            fight,
            weapons: None,
            first: 0,
            from_move: None,
            last: 1,
            percent: 100,
            count_in: 0,
            drive,
        },
        seen,
    }
}

struct Desk {
    clock: ServerClock,
    call: Call,
    outputs: Outputs,
    entries: Vec<(EventKind, String)>,
    /// How far the test is ahead of the clock.
    ahead: Micros,
}

impl Desk {
    /// What the foot switch's thread does: the outputs fall silent, and the call is told.
    fn foot_hold(&mut self) {
        let (dead, at) = (self.call.generation(), self.clock.now());
        self.outputs.silence(dead.next());
        self.give(Input::Pulled(Pulling { by: Puller::FootSwitch, at, dead }));
    }

    fn give(&mut self, input: Input) {
        let now = self.clock.now() + self.ahead;
        let mut outputs = self.call.handle(now, input);
        outputs.extend(self.call.settle(now));
        for output in outputs {
            match output {
                Output::Silence(lives) | Output::Lives(lives) => self.outputs.silence(lives),
                Output::RunChanged => {
                    if let (Some(run), Stage::Going(..)) = (self.call.run(), self.call.stage()) {
                        self.outputs.run(run, self.call.generation());
                    }
                }
                Output::Cue(cue) => self.outputs.cue(self.call.run().unwrap(), &cue),
                Output::Click { due, accent, generation } => self.outputs.click(due, accent, generation),
                Output::Changed => self.outputs.state(&self.call),
                Output::Journal(Entry::Event(event)) => {
                    let who = event.name().unwrap_or_default().to_owned();
                    self.entries.push((event.what.kind().unwrap(), who));
                }
                _ => {}
            }
        }
    }

    fn start(&mut self, drive: Drive) {
        self.give(Input::From(DESK, places(drive, self.call.last_event())));
        let (generation, seen) = (self.call.generation(), self.call.last_event());
        self.give(Input::From(DESK, Act::Start { generation, anyway: true, seen }));
    }
}

fn desk() -> (Desk, Receiver<Vec<u8>>) {
    let clock = ServerClock::new();
    let (sender, paper) = mpsc::channel();
    let click = |key| SoundNote {
        note: Note { channel: Channel::number(10).unwrap(), key: SevenBits::new(key).unwrap() },
        velocity: SevenBits::new(100).unwrap(),
        length: Micros::millis(50),
    };
    let settings = MidiSettings {
        clock: true,
        click: Some((click(76), click(77))),
        show_control: Some(ShowControl { device: Device::ALL, format: Format::Sound, resumes: false }),
        ..MidiSettings::default()
    };
    let midi = MidiOut::to_port(settings.clone(), clock, Box::new(Paper(sender)));
    let outputs = Outputs::of(settings, midi, OscOut::off());
    (Desk { clock, call: call(), outputs, entries: Vec::new(), ahead: Micros::ZERO }, paper)
}

fn next(paper: &Receiver<Vec<u8>>) -> Vec<u8> {
    paper.recv_timeout(Duration::from_secs(20)).unwrap()
}

#[test]
fn a_run_clicks_and_a_foot_switch_stops_it() {
    let (mut desk, paper) = desk();
    desk.start(Drive::Clock);
    let mut seen = Vec::new();
    while seen.last().is_none_or(|message: &Vec<u8>| !message.starts_with(&[0x99, 77])) {
        seen.push(next(&paper));
    }
    // Start, then the clock of the first beat, with it the phrase's cue and the accent.
    let start = seen.iter().position(|message| message == &[0xFA]).unwrap();
    assert_eq!(seen[start + 1], [0xF8]);
    assert_eq!(seen[start + 2], [0xF0, 0x7F, 0x7F, 0x02, 0x10, 0x01, b'1', 0xF7]);
    assert_eq!(seen[start + 3], [0x99, 76, 100]);
    desk.foot_hold();
    while next(&paper) != [0xFC] {}
    assert_eq!([next(&paper), next(&paper)], [[0xB9, 120, 0], [0xB9, 123, 0]]);
    assert_eq!(next(&paper), [0xF0, 0x7F, 0x7F, 0x02, 0x10, 0x02, 0xF7]);
    desk.give(Input::Tick);
    let Stage::Held(hold, _) = desk.call.stage() else { panic!("{:?}", desk.call.stage()) };
    assert_eq!((hold.callers.len(), hold.callers[0].name.as_str()), (1, "foot switch"));
    assert_eq!(desk.entries.iter().filter(|(kind, _)| *kind == EventKind::Hold).count(), 1);
    assert!(desk.entries.contains(&(EventKind::Hold, "foot switch".to_owned())));
    drop(desk);
    // The end of the outputs is one more stop, and nothing else.
    assert!(paper.iter().all(|message| message == [0xFC] || message[0] == 0xB9));
}

#[test]
fn a_foot_switch_steps_a_walk_through_and_nothing_else() {
    let (mut desk, _paper) = desk();
    desk.start(Drive::Step);
    // Each press bounces: it is one step all the same, and so is one right behind it.
    for _ in 0..3 {
        for _ in 0..4 {
            desk.give(Input::FootStep);
            desk.ahead = desk.ahead + Micros::millis(3);
        }
        desk.ahead = desk.ahead + STEP_BOUNCE;
    }
    let steps = |desk: &Desk| {
        desk.entries.iter().filter(|(kind, who)| *kind == EventKind::Step && who == "foot switch").count()
    };
    assert_eq!(steps(&desk), 3);
    desk.foot_hold();
    desk.give(Input::FootStep);
    assert_eq!(steps(&desk), 3, "a held run takes no step");
    let before = desk.call.generation();
    desk.foot_hold();
    assert_eq!(desk.call.generation(), before, "a second press joins the hold");
    assert!(before > Generation(1));
}

#[test]
fn what_is_switched_off_stays_away_and_the_rest_goes_out() {
    let (mut first, notes) = desk();
    first.outputs.switch(Off { timecode: true, ..Off::default() });
    first.start(Drive::Clock);
    let mut seen = Vec::new();
    while seen.last().is_none_or(|message: &Vec<u8>| !message.starts_with(&[0x99, 77])) {
        seen.push(next(&notes));
    }
    assert!(!seen.iter().any(|message| matches!(message[0], 0xF8 | 0xFA)), "no clock: {seen:?}");

    let (mut second, clocks) = desk();
    second.outputs.switch(Off { midi: true, ..Off::default() });
    second.start(Drive::Clock);
    let mut seen = Vec::new();
    // Two beats of clocks after the start, and neither a click nor a cue with them.
    while seen.iter().skip_while(|message| **message != [0xFA]).filter(|message| **message == [0xF8]).count() < 48 {
        seen.push(next(&clocks));
    }
    assert!(!seen.iter().any(|message| matches!(message[0], 0x99 | 0xF0)), "neither note nor cue: {seen:?}");
    // A hold is told whatever is switched off.
    second.foot_hold();
    while next(&clocks) != [0xFC] {}
}

#[test]
fn a_cue_that_is_sent_again_to_somebody_is_played_once() {
    let (mut desk, paper) = desk();
    desk.start(Drive::Clock);
    // Everybody who comes in during a run is sent the cues that are on their way.
    for number in 2..5 {
        let member = MemberId(number);
        desk.give(Input::Joined {
            member,
            name: format!("Member {number}"),
            role: Role::Observer,
            part: None,
            instead_of: None,
        });
    }
    let mut cues = Vec::new();
    while cues.last() != Some(&[0xF0, 0x7F, 0x7F, 0x02, 0x10, 0x01, b'2', 0xF7].to_vec()) {
        desk.give(Input::Tick);
        if let Ok(message) = paper.recv_timeout(Duration::from_millis(5)) {
            cues.extend((message[0] == 0xF0).then_some(message));
        }
    }
    assert_eq!(cues.len(), 2, "{cues:?}");
}

#[test]
fn what_is_wrong_with_midi_and_osc_is_a_sentence() {
    let rows = [
        ("[midi]\nclock = 'yes'", "line 3: `midi.clock` is \"yes\"; it has to be on or off."),
        ("[midi]\ntimecode = '29'", "line 3: `midi.timecode` is \"29\"; it has to be off, 24, 25, 29.97 or 30"),
        (
            "[midi]\ntimecode = '29.97'\ntimecode_start = '00:01:00:00'",
            "line 4: `midi.timecode_start` is \"00:01:00:00\"; it is a number that drop-frame counting leaves out; take frame 02.",
        ),
        (
            "[midi]\nhold = 'pedal'",
            "line 3: `midi.hold` is \"pedal\"; it has to be note, control or program, then the channel (1 to 16)",
        ),
        (
            "[midi]\nclick = { channel = 17, note = 76 }",
            "`midi.click.channel` is 17; it has to be a number from 1 to 16.",
        ),
        (
            "[midi]\nclick = { channel = 10 }",
            "`midi.click.note` is missing; it has to be a whole number from 0 to 127.",
        ),
        ("[midi.notes]\nsteel = 38", "line 3: `midi.notes.steel` is a number; it has to be a table in braces."),
        (
            "[midi.notes]\nsteel = { note = 38, velocty = 9 }",
            "`midi.notes.steel.velocty` is not known here; did you mean `velocity`?",
        ),
        (
            "[midi]\nshow_control_device = 128",
            "line 3: `midi.show_control_device` is 128; it has to be a number from 0 to 127.",
        ),
        (
            "[osc]\ntarget = 'here'",
            "line 3: `osc.target` is \"here\"; it has to be a host and a port, such as \"192.168.1.30:9000\".",
        ),
    ];
    for (text, says) in rows {
        let problems = Config::read(&format!("name = 'a'\n{text}"), "production.toml").unwrap_err();
        let said: Vec<String> = problems.iter().map(ToString::to_string).collect();
        assert!(said.len() == 1 && said[0].contains(says), "{said:?}");
    }
}

#[test]
fn the_rows_that_new_writes_for_midi_and_osc_are_good_without_their_marks() {
    let text = include_str!("../../configs/new/production.toml");
    let (_, outputs) = text.split_once("[midi]").unwrap();
    let is_row = |line: &str| line.split_once(" = ").is_some_and(|(key, _)| !key.contains(' '));
    let rows = outputs.lines().map(|line| line.strip_prefix("# ").filter(|row| is_row(row)).unwrap_or(line));
    let text = format!("name = 'a'\n[midi]{}", rows.collect::<Vec<_>>().join("\n"));
    let settings = Config::read(&text, "production.toml").unwrap().outputs;
    assert_eq!(settings.midi.notes.len(), 2);
    assert!(settings.midi.out.is_some() && settings.midi.input.is_some() && settings.midi.click.is_some());
    assert!(settings.midi.hold.is_some() && settings.midi.step.is_some());
    assert_eq!(settings.osc.unwrap().to_string(), "192.168.1.30:9000");
}
