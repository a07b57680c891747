//! A member as small as it can be said: what it must do at each step of a scenario, rule by rule, from the words of the
//! wire and the numbers of `src/rules.rs`. It shares no code with the members that it judges, knows no socket, no
//! estimator and no store, and looks at everything again at every moment instead of keeping what it could work out.

use std::collections::BTreeSet;

use holdfast::rules::{INTRODUCTION, LATE, OPENING, RETRY_FIRST, RETRY_LONGEST, SILENCE, TAPS_WITH_KEY, UNTOLD};
use holdfast::wire::Back;
use serde_json::{Value, json};

/// What happens to a member at one moment of a scenario.
#[derive(Clone, Debug)]
pub(crate) enum Step {
    /// The line that was dialled is open.
    Open,
    /// The line is closed by the other side, or cannot be opened.
    Close,
    /// The server lets the member in; another server than before when its clock is said to be moved, µs.
    Welcome {
        generation: u64,
        stage: &'static str,
        moved: i64,
    },
    Pulse {
        generation: u64,
    },
    /// The server's machine slept this long and its clock with it, µs; a pulse says so, as do those after it.
    Stood {
        length: i64,
    },
    /// A pulse whose time is an hour ahead of the server's own.
    Future {
        generation: u64,
    },
    State {
        generation: u64,
        stage: &'static str,
    },
    Stop {
        generation: u64,
    },
    Held {
        generation: u64,
    },
    Cue {
        generation: u64,
        cue: u32,
        due: Option<i64>,
        /// The number of the step, in a walk-through.
        step: Option<u32>,
    },
    Answer {
        tap: String,
        outcome: &'static str,
    },
    Refused,
    Goodbye {
        back: Back,
    },
    /// A message of a kind that nobody knows.
    Noise,
    /// From now on a question about the time is answered at once when the member does not know it, or not at all.
    Clock {
        answered: bool,
    },
    /// The last question about the time is answered as an honest server does.
    Time,
    /// Answers about the time that cannot be: before their question, from no question, longer at the server than away.
    Lies,
    /// The machine slept this long and its clock with it, µs.
    Sleep {
        length: i64,
    },
    /// Nothing was done since the step before, though time went by.
    Freeze,
    /// The person taps HOLD; the name is the tap's if it is a new one.
    Tap {
        tap: String,
        reason: Option<&'static str>,
    },
    /// The member starts again with what it has kept.
    Reload,
}

impl Step {
    /// True for what the server says over the line.
    fn is_said(&self) -> bool {
        !matches!(
            self,
            Step::Open
                | Step::Close
                | Step::Clock { .. }
                | Step::Sleep { .. }
                | Step::Freeze
                | Step::Tap { .. }
                | Step::Reload
        )
    }

    pub(crate) fn row(&self, at: i64) -> Value {
        match self {
            Step::Open => json!([at, "open"]),
            Step::Close => json!([at, "close"]),
            Step::Welcome { generation, stage, moved } => json!([at, "welcome", generation, stage, moved]),
            Step::Pulse { generation } => json!([at, "pulse", generation]),
            Step::Stood { length } => json!([at, "stood", length]),
            Step::Future { generation } => json!([at, "future", generation]),
            Step::State { generation, stage } => json!([at, "state", generation, stage]),
            Step::Stop { generation } => json!([at, "stop", generation]),
            Step::Held { generation } => json!([at, "held", generation]),
            Step::Cue { generation, cue, due, step } => json!([at, "cue", generation, cue, due, step]),
            Step::Answer { tap, outcome } => json!([at, "answer", tap, outcome]),
            Step::Refused => json!([at, "refused"]),
            Step::Goodbye { back } => json!([at, "goodbye", back]),
            Step::Noise => json!([at, "noise"]),
            Step::Clock { answered } => json!([at, "clock", answered]),
            Step::Time => json!([at, "time"]),
            Step::Lies => json!([at, "lies"]),
            Step::Sleep { length } => json!([at, "sleep", length]),
            Step::Freeze => json!([at, "freeze"]),
            Step::Tap { tap, reason } => json!([at, "tap", tap, reason]),
            Step::Reload => json!([at, "reload"]),
        }
    }
}

/// Where the line is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Line {
    Away { dials: i64 },
    Dialled { at: i64 },
    Open { heard: i64, let_in: bool },
    Over,
}

#[derive(Clone, Debug)]
pub(crate) struct ModelTap {
    pub(crate) id: String,
    generation: u64,
    reason: Option<&'static str>,
    queued: bool,
    pub(crate) told: bool,
    tapped: Option<i64>,
    screen: Option<u32>,
}

#[derive(Clone, Debug)]
struct ModelCue {
    /// Its step, or its number by the clock: of two, the greater is the newer.
    place: u32,
    cue: u32,
    due: Option<i64>,
    came_late: bool,
}

/// The member.
pub(crate) struct Model {
    pub(crate) now: i64,
    /// How far the server's clock is ahead, µs.
    ahead: i64,
    /// For how long the server's clock has stood still, and what the member knows of it, µs.
    stood: i64,
    knows_stood: i64,
    /// What chance says at every attempt, 0 to 1.
    chance: f64,
    pub(crate) line: Line,
    attempts: u32,
    pub(crate) generation: u64,
    /// True while a question about the time is answered at once when the member does not know it.
    pub(crate) answered: bool,
    pub(crate) clock_known: bool,
    cues: Vec<ModelCue>,
    done: BTreeSet<u32>,
    shown: BTreeSet<u32>,
    /// The place and the number of the cue on it.
    screen: Option<(u32, u32)>,
    pub(crate) taps: Vec<ModelTap>,
    tap_said: &'static str,
    again: Option<i64>,
    /// What was last said of link, tap and store.
    said: (&'static str, &'static str, Vec<String>),
    pub(crate) acts: Vec<Value>,
}

impl Model {
    pub(crate) fn new(ahead: i64, chance: f64) -> Model {
        let mut model = Model {
            now: 0,
            ahead,
            stood: 0,
            knows_stood: 0,
            chance,
            line: Line::Away { dials: 0 },
            attempts: 0,
            generation: 0,
            answered: true,
            clock_known: false,
            cues: Vec::new(),
            done: BTreeSet::new(),
            shown: BTreeSet::new(),
            screen: None,
            taps: Vec::new(),
            tap_said: "none",
            again: None,
            said: ("away", "none", Vec::new()),
            acts: Vec::new(),
        };
        model.run_timers();
        model
    }

    /// Server time now.
    pub(crate) fn server(&self) -> i64 {
        self.now + self.ahead
    }

    pub(crate) fn let_in(&self) -> bool {
        matches!(self.line, Line::Open { let_in: true, .. })
    }

    /// Time goes on to that moment, and then this happens.
    pub(crate) fn step(&mut self, at: i64, step: &Step) {
        if !matches!(step, Step::Freeze) {
            while let Some(next) = self.next().filter(|next| *next <= at) {
                self.now = self.now.max(next);
                self.run_timers();
            }
        }
        self.now = at;
        if matches!(step, Step::Freeze) {
            while self.next().is_some_and(|next| next <= at) {
                self.run_timers();
            }
        }
        self.take(step);
        self.show_due();
        self.say();
    }

    /// When something is to be done of itself.
    fn next(&self) -> Option<i64> {
        let line = match self.line {
            Line::Away { dials } => Some(dials),
            Line::Dialled { at } => Some(at + OPENING.0),
            Line::Open { heard, let_in } => Some(heard + if let_in { SILENCE.0 } else { INTRODUCTION.0 }),
            Line::Over => None,
        };
        let cue = self.cues.iter().filter_map(|cue| cue.due).min().filter(|_| self.counts() && self.clock_known);
        line.into_iter().chain(self.again).chain(cue.map(|due| due - self.ahead)).min()
    }

    fn run_timers(&mut self) {
        let silent = match self.line {
            Line::Dialled { at } => at + OPENING.0 <= self.now,
            Line::Open { heard, let_in } => heard + if let_in { SILENCE.0 } else { INTRODUCTION.0 } <= self.now,
            _ => false,
        };
        if silent {
            self.hang_up();
        }
        self.show_due();
        if self.again.is_some_and(|again| again <= self.now) {
            self.again = Some(self.now + UNTOLD.0);
            self.tap_said = "untold";
            self.send_untold();
        }
        if let Line::Away { dials } = self.line
            && dials <= self.now
        {
            self.act(json!(["dial"]));
            self.line = Line::Dialled { at: self.now };
        }
        self.say();
    }

    fn take(&mut self, step: &Step) {
        if let Step::Stood { length } = step {
            (self.ahead, self.stood) = (self.ahead - length, self.stood + length);
        }
        match (&mut self.line, step.is_said()) {
            (Line::Open { heard, .. }, true) => *heard = self.now,
            // Nothing is heard without a line.
            (_, true) => return,
            (_, false) => {}
        }
        match step {
            Step::Open if matches!(self.line, Line::Dialled { .. }) => self.open(),
            Step::Close if matches!(self.line, Line::Dialled { .. } | Line::Open { .. }) => self.gone(),
            Step::Welcome { generation, stage, moved } => self.welcomed(*generation, stage, *moved),
            Step::Held { generation } => self.raise(*generation),
            Step::Pulse { generation } => self.pulse(*generation),
            Step::Stood { .. } => self.pulse(0),
            Step::Future { generation } => {
                self.clock_known &= self.answered;
                self.pulse(*generation);
            }
            Step::State { generation, stage } => {
                self.raise(*generation);
                self.stands(stage);
            }
            Step::Stop { generation } => self.raise(generation + 1),
            Step::Cue { generation, cue, due, step } => self.cue(*generation, *cue, *due, *step),
            Step::Answer { tap, outcome } => self.answer(tap, outcome),
            Step::Refused if self.let_in() => {}
            Step::Refused => self.end(),
            Step::Goodbye { back } => self.goodbye(*back),
            Step::Clock { answered } => self.answered = *answered,
            Step::Time => self.clock_known |= self.let_in(),
            Step::Sleep { length } => {
                self.ahead += length;
                self.clock_known = self.answered && self.let_in();
                if let (Line::Open { heard, let_in: true }, true) = (&mut self.line, self.answered) {
                    *heard = self.now;
                }
            }
            Step::Tap { tap, reason } => self.tap(tap, *reason),
            Step::Reload => self.reload(),
            Step::Open | Step::Close | Step::Noise | Step::Lies | Step::Freeze => {}
        }
    }

    fn pulse(&mut self, generation: u64) {
        if self.let_in() && self.knows_stood != self.stood {
            self.knows_stood = self.stood;
            self.clock_known &= self.answered;
        }
        self.raise(generation);
    }

    // The line.

    fn open(&mut self) {
        self.line = Line::Open { heard: self.now, let_in: false };
        self.taps.iter_mut().for_each(|tap| tap.queued = true);
        let ids: Vec<&str> = self.taps.iter().take(TAPS_WITH_KEY).map(|tap| tap.id.as_str()).collect();
        let said = json!(["return", ids]);
        self.act(said);
        for tap in self.taps.clone().iter().skip(TAPS_WITH_KEY) {
            self.send(tap);
        }
    }

    fn welcomed(&mut self, generation: u64, stage: &str, moved: i64) {
        self.ahead += moved;
        let same = self.clock_known && moved == 0;
        self.clock_known = self.answered || same;
        if !same || generation != self.generation {
            self.done.clear();
        }
        self.line = Line::Open { heard: self.now, let_in: true };
        (self.attempts, self.generation) = (0, generation);
        self.again = self.taps.iter().any(|tap| !tap.told).then_some(self.now + UNTOLD.0);
        self.stands(stage);
    }

    /// The member closes the line itself.
    fn hang_up(&mut self) {
        self.act(json!(["hang-up"]));
        self.gone();
    }

    fn gone(&mut self) {
        let doubled = (0..self.attempts).fold(RETRY_FIRST.0, |wait, _| (wait * 2).min(RETRY_LONGEST.0));
        self.line = Line::Away { dials: self.now + (doubled as f64 * (0.5 + self.chance / 2.0)) as i64 };
        self.attempts += 1;
        self.forget_line();
    }

    /// What nobody has heard of is brought once more: also where the page is not wanted any more, if it was let in.
    fn goodbye(&mut self, back: Back) {
        let untold = self.taps.iter().any(|tap| !tap.told);
        match back {
            Back::ByItself => self.hang_up(),
            Back::WhenAsked if untold => self.hang_up(),
            Back::Never if untold && self.let_in() => self.hang_up(),
            Back::WhenAsked => {
                self.act(json!(["hang-up"]));
                self.line = Line::Over;
                self.forget_line();
            }
            Back::Never => self.end(),
        }
    }

    fn end(&mut self) {
        self.act(json!(["hang-up"]));
        self.line = Line::Over;
        self.forget_line();
        if self.taps.iter().any(|tap| !tap.told) {
            self.tap_said = "refused";
        }
        self.taps.clear();
    }

    fn forget_line(&mut self) {
        self.cues.clear();
        self.shown.clear();
        (self.screen, self.again) = (None, None);
        if self.taps.iter().any(|tap| !tap.told) {
            self.tap_said = "untold";
        }
    }

    fn reload(&mut self) {
        let taps = std::mem::take(&mut self.taps).into_iter().map(|tap| ModelTap { queued: true, told: false, ..tap });
        let taps: Vec<ModelTap> = taps.collect();
        let (acts, said) = (std::mem::take(&mut self.acts), std::mem::take(&mut self.said));
        let (now, answered, stood) = (self.now, self.answered, self.stood);
        *self = Model { now, answered, stood, ..Model::new(self.ahead, self.chance) };
        self.tap_said = if taps.is_empty() { "none" } else { "untold" };
        (self.acts, self.said, self.taps, self.line) = (acts, said, taps, Line::Away { dials: now });
        self.run_timers();
    }

    // The run.

    fn raise(&mut self, generation: u64) {
        if generation > self.generation {
            self.generation = generation;
            self.cues.clear();
            self.shown.clear();
            self.done.clear();
            self.screen = None;
        }
    }

    fn stands(&mut self, stage: &str) {
        if stage != "held" && self.taps.iter().all(|tap| tap.told) {
            self.tap_said = "none";
        }
    }

    fn counts(&self) -> bool {
        self.let_in() && self.taps.iter().all(|tap| tap.told)
    }

    fn cue(&mut self, generation: u64, cue: u32, due: Option<i64>, step: Option<u32>) {
        let place = step.unwrap_or(cue);
        self.raise(generation);
        if generation < self.generation || self.shown.contains(&place) {
            return;
        }
        if self.cues.iter().any(|known| known.place == place && known.due == due) {
            return;
        }
        let came_late = self.clock_known && due.is_some_and(|due| due < self.server());
        self.cues.retain(|known| known.place != place);
        self.cues.push(ModelCue { place, cue, due, came_late });
    }

    fn show_due(&mut self) {
        if !self.counts() {
            return;
        }
        let server = self.server();
        self.cues.sort_by_key(|cue| (cue.due, cue.place));
        let (due, wait): (Vec<_>, Vec<_>) = self.cues.drain(..).partition(|cue| match cue.due {
            Some(due) => self.clock_known && due <= server,
            None => true,
        });
        self.cues = wait;
        for ModelCue { place, cue, due, came_late } in due {
            let overtaken = self.screen.is_some_and(|(screen, _)| screen > place);
            let first = self.done.insert(place);
            self.shown.insert(place);
            if let (Some(due), true) = (due, first) {
                self.act(json!(["report", self.generation, cue, due, (!overtaken).then_some(server)]));
            }
            if !overtaken {
                self.screen = Some((place, cue));
                let late = due.map(|due| server - due).filter(|late| came_late || *late > LATE.0);
                self.act(json!(["show", self.generation, cue, late, late.is_none() && first]));
            }
        }
    }

    // The taps.

    fn tap(&mut self, id: &str, reason: Option<&'static str>) {
        let good = matches!(self.line, Line::Open { heard, let_in: true } if self.now < heard + SILENCE.0);
        let same = |tap: &&ModelTap| {
            !tap.told && tap.generation == self.generation && (reason.is_none() || tap.reason == reason)
        };
        if self.taps.iter().find(same).is_none() {
            self.taps.push(ModelTap {
                id: id.to_owned(),
                generation: self.generation,
                reason,
                queued: !good,
                told: false,
                tapped: self.clock_known.then(|| self.server()),
                screen: self.screen.map(|(_, cue)| cue),
            });
        }
        self.tap_said = if good { "sending" } else { "untold" };
        if self.let_in() {
            self.again.get_or_insert(self.now + UNTOLD.0);
        }
        match self.line {
            Line::Open { .. } => self.send_untold(),
            Line::Away { .. } | Line::Over => {
                self.line = Line::Away { dials: self.now };
                self.run_timers();
            }
            Line::Dialled { .. } => {}
        }
    }

    fn send_untold(&mut self) {
        for tap in self.taps.clone().iter().filter(|tap| !tap.told) {
            self.send(tap);
        }
    }

    fn send(&mut self, tap: &ModelTap) {
        self.act(json!(["hold", tap.id, tap.generation, tap.queued, tap.tapped, tap.screen, tap.reason]));
    }

    fn answer(&mut self, id: &str, outcome: &'static str) {
        let Some(place) = self.taps.iter().position(|tap| tap.id == id) else { return };
        if outcome == "held" {
            self.taps[place].told = true;
        } else {
            self.taps.remove(place);
        }
        if self.taps.iter().all(|tap| tap.told) {
            (self.again, self.tap_said) = (None, outcome);
        }
    }

    // What is to be seen.

    fn act(&mut self, act: Value) {
        let Value::Array(mut row) = act else { return };
        row.insert(0, json!(self.now));
        self.acts.push(Value::Array(row));
    }

    /// Link, tap and store, where they have changed.
    fn say(&mut self) {
        let link = match self.line {
            Line::Open { let_in: true, .. } => "linked",
            Line::Over => "over",
            _ => "away",
        };
        let kept: Vec<String> = self.taps.iter().map(|tap| tap.id.clone()).collect();
        let before = std::mem::replace(&mut self.said, (link, self.tap_said, kept.clone()));
        if before.0 != link {
            self.act(json!(["link", link]));
        }
        if before.1 != self.tap_said {
            self.act(json!(["tap", self.tap_said]));
        }
        if before.2 != kept {
            self.act(json!(["kept", kept]));
        }
    }
}
