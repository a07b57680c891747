//! The outputs driven by a real call, as the hub drives them: a run's clicks and sounds become notes, a foot switch
//! holds, and then there is only silence.

use std::sync::mpsc::{self, Receiver, Sender};
use std::time::Duration;

use holdfast::call::{
    Act, Before, Call, Drive, EntryKind, FootSwitch, Input, MemberId, Output, Role, Settings, SetupRequest, Stage,
};
use holdfast::midi::port::{NotSent, Port};
use holdfast::midi::settings::ShowControl;
use holdfast::midi::show_control::{Device, Format};
use holdfast::midi::{Channel, MidiOut, MidiSettings, Note, SevenBits, SoundNote};
use holdfast::osc::OscOut;
use holdfast::outputs::Outputs;
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
    let settings = Settings { horizon: Micros::millis(1_500), lead: Micros::millis(50), hold_on_lost_link: Vec::new() };
    let mut call =
        Call::new(settings, vec![fight_of("The Salt Stair", 300.0, &[&[0, 1, 2, 3], &[0, 1]])], Before::default());
    let desk = Input::Joined { member: DESK, name: "Ilse".into(), role: Role::Desk, part: None };
    call.handle(ServerClock::new().now(), desk);
    call
}

fn places(drive: Drive) -> Act {
    let fight = "The Salt Stair".to_owned();
    Act::Places(SetupRequest { fight, first: 0, last: 1, percent: 100, count_in: 0, drive })
}

struct Desk {
    clock: ServerClock,
    call: Call,
    outputs: Outputs,
    entries: Vec<(EntryKind, String)>,
}

impl Desk {
    fn give(&mut self, input: Input) {
        for output in self.call.handle(self.clock.now(), input) {
            match output {
                Output::Silence(lives) => self.outputs.silence(lives),
                Output::RunChanged => {
                    if let (Some(run), Stage::Going(..)) = (self.call.run(), self.call.stage()) {
                        self.outputs.run(run, self.call.generation());
                    }
                }
                Output::Cue(cue) => self.outputs.cue(self.call.run().unwrap(), &cue),
                Output::Click { due, accent, generation } => self.outputs.click(due, accent, generation),
                Output::Changed => self.outputs.state(&self.call),
                Output::Journal(entry) => {
                    let who = entry.who.map(|(_, name, _)| name).unwrap_or_default();
                    self.entries.push((entry.kind, who));
                }
                _ => {}
            }
        }
    }

    fn start(&mut self, drive: Drive) {
        self.give(Input::From(DESK, places(drive)));
        let generation = self.call.generation();
        self.give(Input::From(DESK, Act::Start { generation, anyway: true }));
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
    (Desk { clock, call: call(), outputs, entries: Vec::new() }, paper)
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
    desk.give(Input::FootSwitch(FootSwitch::Hold));
    while next(&paper) != [0xFC] {}
    assert_eq!([next(&paper), next(&paper)], [[0xB9, 120, 0], [0xB9, 123, 0]]);
    assert_eq!(next(&paper), [0xF0, 0x7F, 0x7F, 0x02, 0x10, 0x02, 0xF7]);
    desk.give(Input::Tick);
    let Stage::Held(hold, _) = desk.call.stage() else { panic!("{:?}", desk.call.stage()) };
    assert_eq!((hold.callers.len(), hold.callers[0].name.as_str()), (1, "foot switch"));
    assert_eq!(desk.entries.iter().filter(|(kind, _)| *kind == EntryKind::Hold).count(), 1);
    assert!(desk.entries.contains(&(EntryKind::Hold, "foot switch".to_owned())));
    drop(desk);
    // The end of the outputs is one more stop, and nothing else.
    assert!(paper.iter().all(|message| message == [0xFC] || message[0] == 0xB9));
}

#[test]
fn a_foot_switch_steps_a_walk_through_and_nothing_else() {
    let (mut desk, _paper) = desk();
    desk.start(Drive::Step);
    for _ in 0..3 {
        desk.give(Input::FootSwitch(FootSwitch::Step));
    }
    let steps = |desk: &Desk| {
        desk.entries.iter().filter(|(kind, who)| *kind == EntryKind::Step && who == "foot switch").count()
    };
    assert_eq!(steps(&desk), 3);
    desk.give(Input::FootSwitch(FootSwitch::Hold));
    desk.give(Input::FootSwitch(FootSwitch::Step));
    assert_eq!(steps(&desk), 3, "a held run takes no step");
    let before = desk.call.generation();
    desk.give(Input::FootSwitch(FootSwitch::Hold));
    assert_eq!(desk.call.generation(), before, "a second press joins the hold");
    assert!(before > Generation(1));
}
