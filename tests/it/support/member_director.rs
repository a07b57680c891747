//! Scenarios of a member: a list of steps and, by the small model, the acts that follow from them. The director makes them
//! by chance: it sees what the model does and goes on from there.

use holdfast::wire::Back;
use serde_json::{Value, json};

use crate::member_model::{Line, Model, Step};
use crate::net_simulated::Random;

/// How far the server's clock is ahead when a scenario begins, µs.
pub(crate) const AHEAD: i64 = 500_000_000;

/// A scenario before it is played.
pub(crate) struct Scenario {
    pub(crate) name: String,
    pub(crate) chance: f64,
    pub(crate) steps: Vec<(i64, Step)>,
}

impl Scenario {
    /// What the model does in it.
    pub(crate) fn acts(&self) -> Vec<Value> {
        let mut model = Model::new(AHEAD, self.chance);
        self.steps.iter().for_each(|(at, step)| model.step(*at, step));
        model.acts
    }

    /// The scenario as a line of the file.
    pub(crate) fn written(&self) -> String {
        let steps: Vec<Value> = self.steps.iter().map(|(at, step)| step.row(*at)).collect();
        json!({ "name": self.name, "chance": self.chance, "steps": steps, "acts": self.acts() }).to_string()
    }
}

/// Makes a scenario by chance.
pub(crate) struct Director {
    random: Random,
    seed: u64,
    model: Model,
    chance: f64,
    steps: Vec<(i64, Step)>,
    /// The generation of the run that goes, and whether a hold stands instead.
    run: u64,
    stands: bool,
    next_cue: u32,
    /// True in a walk-through, where cues have no time.
    walks: bool,
    taps: u32,
}

/// Steps of one kind come at one part of a millisecond, so that no two things happen at the same moment by chance.
const BY_SERVER: i64 = 0;
const BY_PERSON: i64 = 200;
const CLOSED: i64 = 300;
const RELOADED: i64 = 400;
const DUE: i64 = 500;
const SLEPT: i64 = 600;
const OPENED: i64 = 700;

impl Director {
    pub(crate) fn new(seed: u64) -> Director {
        let mut random = Random(seed);
        let chance = [0.0, 0.25, 0.5, 0.75, 1.0][usize::try_from(random.between(0, 4)).unwrap_or(0)];
        let model = Model::new(AHEAD, chance);
        Director {
            random,
            seed,
            model,
            chance,
            steps: Vec::new(),
            run: 1,
            stands: false,
            next_cue: 0,
            walks: seed.is_multiple_of(3),
            taps: 0,
        }
    }

    /// The scenario of the seed.
    pub(crate) fn scenario(mut self) -> Scenario {
        if self.random.unit() < 0.2 {
            self.now(BY_SERVER, Step::Clock { answered: false });
        }
        for _ in 0..self.random.between(15, 45) {
            self.turn();
            if self.model.now > 18_000_000 {
                break;
            }
        }
        let name = format!("seed {}", self.seed);
        Scenario { name, chance: self.chance, steps: self.steps }
    }

    fn turn(&mut self) {
        match self.model.line {
            Line::Over => self.over(),
            Line::Away { .. } => self.away(),
            Line::Dialled { .. } => self.dialled(),
            Line::Open { let_in: false, .. } => self.before_the_welcome(),
            Line::Open { let_in: true, .. } => self.linked(),
        }
    }

    /// So long after the last step, in milliseconds, at that part of a millisecond.
    fn after(&mut self, ms: (i64, i64), part: i64, step: Step) {
        let ms = self.model.now / 1_000 + self.random.between(ms.0.max(1), ms.1);
        self.at(ms * 1_000 + part, step);
    }

    fn now(&mut self, part: i64, step: Step) {
        self.after((1, 20), part, step);
    }

    fn at(&mut self, at: i64, step: Step) {
        // A good line carries the server's pulses meanwhile.
        while self.model.let_in() && !matches!(step, Step::Freeze) {
            let pulse = (self.model.now / 1_000 + 400) * 1_000 + BY_SERVER;
            if pulse >= at {
                break;
            }
            self.put(pulse, Step::Pulse { generation: 0 });
        }
        self.put(at, step);
    }

    fn put(&mut self, at: i64, step: Step) {
        self.model.step(at, &step);
        self.steps.push((at, step));
    }

    /// A tap, now and then more of them than come with a key.
    fn tap(&mut self, ms: (i64, i64)) {
        let reasons = ["Blade bent", "My grip", "Light", "Slipped", "Knee", "Eye", "Sweat", "Door"];
        let many = self.random.unit() < 0.06;
        let first = if many { 0 } else { self.random.between(0, 15) };
        for n in 0..if many { 8 } else { 1 } {
            self.taps += 1;
            let tap = format!("t{}", self.taps);
            let reason = reasons.get(usize::try_from(first + n).unwrap_or(0)).copied();
            self.after(if n == 0 { ms } else { (1, 30) }, BY_PERSON, Step::Tap { tap, reason });
        }
    }

    fn over(&mut self) {
        match self.random.between(0, 3) {
            0 | 1 => self.tap((50, 2_000)),
            2 => self.after((50, 500), RELOADED, Step::Reload),
            _ => self.after((1_000, 4_000), BY_SERVER, Step::Freeze),
        }
    }

    fn away(&mut self) {
        match self.random.between(0, 9) {
            0 | 1 => self.tap((1, 60)),
            2 => self.after((1, 60), RELOADED, Step::Reload),
            3 => {
                let answered = !self.model.answered || self.model.clock_known;
                self.now(BY_SERVER, Step::Clock { answered });
            }
            4 => self.after((1, 900), SLEPT, Step::Sleep { length: 1_000 * self.model.now.rem_euclid(700) + 20_000 }),
            _ => self.wait_for_the_dial(),
        }
    }

    fn wait_for_the_dial(&mut self) {
        if let Line::Away { dials } = self.model.line {
            let ms = (dials - self.model.now) / 1_000 + 1;
            self.after((ms, ms), BY_SERVER, Step::Freeze);
        }
    }

    /// A link that is lost and comes back, with nothing in between.
    fn link_again(&mut self) {
        self.after((1, 300), CLOSED, Step::Close);
        self.wait_for_the_dial();
        self.after((1, 300), OPENED, Step::Open);
        if matches!(self.model.line, Line::Open { .. }) {
            self.welcome();
        }
    }

    fn dialled(&mut self) {
        match self.random.between(0, 19) {
            0 | 1 => self.tap((1, 100)),
            2 => self.after((1, 100), RELOADED, Step::Reload),
            3..=6 => self.after((1, 200), CLOSED, Step::Close),
            7 => self.after((3_100, 3_400), BY_SERVER, Step::Freeze),
            _ => self.after((1, 300), OPENED, Step::Open),
        }
    }

    fn before_the_welcome(&mut self) {
        match self.random.between(0, 29) {
            0 => self.tap((1, 100)),
            1 => self.after((1, 100), RELOADED, Step::Reload),
            2 => self.after((1, 200), CLOSED, Step::Close),
            3 => self.after((500, 5_500), BY_SERVER, Step::Refused),
            4 | 5 => self.goodbye(),
            6 => self.now(BY_SERVER, Step::Noise),
            7 | 8 => self.answer(),
            9 => self.after((10_100, 10_900), BY_SERVER, Step::Freeze),
            _ => self.welcome(),
        }
    }

    fn goodbye(&mut self) {
        let back = [Back::ByItself, Back::WhenAsked, Back::Never][self.random.between(0, 2).unsigned_abs() as usize];
        self.now(BY_SERVER, Step::Goodbye { back });
    }

    fn welcome(&mut self) {
        let another = self.random.unit() < 0.15;
        if another || self.random.unit() < 0.2 {
            self.run = if another { self.random.between(1, 4).unsigned_abs() } else { self.run + 2 };
            (self.stands, self.next_cue) = (false, 0);
        }
        let moved = if another { -1_000_000 * self.random.between(10, 20) } else { 0 };
        let (generation, stage) = if self.stands { (self.run + 1, "held") } else { (self.run, "running") };
        self.after((1, 80), BY_SERVER, Step::Welcome { generation, stage, moved });
        // The cue on everybody's screen comes again.
        if self.walks && self.model.let_in() && !self.stands && self.next_cue > 0 {
            self.now(BY_SERVER, self.walked(self.run, self.next_cue));
        }
    }

    fn linked(&mut self) {
        match self.random.between(0, 99) {
            0..=44 => self.cue(),
            45..=52 if self.walks => self.link_again(),
            45..=52 => self.tap((1, 400)),
            53..=66 => self.answer(),
            67..=71 => self.stop(),
            72..=76 => self.state(),
            77..=80 => self.after((1, 300), CLOSED, Step::Close),
            81..=83 => self.after((1_100, 2_500), BY_SERVER, Step::Freeze),
            84..=86 => self.after((30, 700), BY_SERVER, Step::Freeze),
            87..=88 => self.after((1, 100), RELOADED, Step::Reload),
            89 | 90 => self.goodbye(),
            91..=93 => self.after((1, 300), BY_SERVER, Step::Lies),
            94 => self.after((1, 300), BY_SERVER, Step::Future { generation: 0 }),
            95 => self.after((1, 600), BY_SERVER, Step::Noise),
            97 => {
                self.after((1, 300), BY_SERVER, Step::Stood { length: 1_000 * self.model.now.rem_euclid(900) + 3_000 })
            }
            96 => self.after((1, 300), SLEPT, Step::Sleep { length: 1_000 * self.model.now.rem_euclid(900) + 12_000 }),
            _ if !self.model.answered => self.after((1, 200), BY_SERVER, Step::Time),
            _ => self.after((100, 700), BY_SERVER, Step::Pulse { generation: 0 }),
        }
    }

    fn cue(&mut self) {
        let at = self.model.now / 1_000 + self.random.between(1, 150);
        let due_in =
            [self.random.between(20, 1_200), self.random.between(-300, 30)][usize::from(self.random.unit() < 0.2)];
        // What a walk-through is made of has no time; a dead cue may come from a run before.
        let due = (!self.walks && self.random.unit() < 0.95).then(|| (at + due_in) * 1_000 + DUE + self.ahead());
        let stale = self.random.unit() < 0.1;
        let again = self.random.unit() < 0.2;
        let number = if again { self.next_cue.saturating_sub(1) } else { self.next_cue };
        self.next_cue = self.next_cue.max(number + 1);
        let generation = if stale { self.run.saturating_sub(1) } else { self.run };
        let step = match self.walks {
            true => self.walked(generation, number + 1),
            false => Step::Cue { generation, cue: number, due, step: None },
        };
        self.at(at * 1_000 + BY_SERVER, step.clone());
        if self.random.unit() < 0.15 && self.model.let_in() {
            self.now(BY_SERVER, step);
        }
    }

    /// A cue of a walk-through that goes back as well as on.
    fn walked(&self, generation: u64, step: u32) -> Step {
        Step::Cue { generation, cue: step * 7 % 5, due: None, step: Some(step) }
    }

    fn ahead(&self) -> i64 {
        self.model.server() - self.model.now
    }

    fn answer(&mut self) {
        let kept = &self.model.taps;
        let unknown = self.random.unit() < 0.1;
        let tap = kept.get(usize::try_from(self.random.between(0, 7)).unwrap_or(0)).or(kept.first());
        let tap = tap.filter(|_| !unknown).map_or_else(|| "nobody's".to_owned(), |tap| tap.id.clone());
        let outcome =
            ["held", "held", "written", "late", "unkept"][usize::try_from(self.random.between(0, 4)).unwrap_or(0)];
        self.after((1, 300), BY_SERVER, Step::Answer { tap, outcome });
    }

    fn stop(&mut self) {
        let generation = self.run;
        self.after((1, 200), BY_SERVER, Step::Stop { generation });
        self.stands = true;
        if self.model.let_in() {
            self.now(BY_SERVER, Step::Held { generation: generation + 1 });
        }
    }

    fn state(&mut self) {
        if self.stands {
            (self.stands, self.run, self.next_cue) = (false, self.run + 2, 0);
        }
        let (generation, stage) =
            (self.run, ["running", "count-in", "places"][usize::try_from(self.random.between(0, 2)).unwrap_or(0)]);
        self.after((1, 200), BY_SERVER, Step::State { generation, stage });
    }
}
