//! The rules that a member and the server go by, and every member alike, written once: the Rust member, the pages and
//! the server take them from here. `src/wire/typescript.rs` writes them into the pages (`clients/core/wire.ts`), times as
//! whole microseconds with `_US` after their names.

use crate::units::{Generation, Micros};

/// Declares rules, and the list of them that the pages are given.
macro_rules! rules {
    ($( $(#[doc = $doc:literal])+ $name:ident: $type:ty = $value:expr; )+) => {
        $( $(#[doc = $doc])+ pub const $name: $type = $value; )+

        /// Every rule, in the order in which they stand here.
        pub(crate) fn all() -> Vec<Rule> {
            vec![$( Rule { name: stringify!($name), doc: &[$($doc),+], unit: <$type>::UNIT, value: $name.script() } ),+]
        }
    };
}

rules! {
    /// How often each side says "I am here", µs.
    PULSE: Micros = Micros::millis(300);
    /// A link on which nothing was heard for this long is lost, µs: the member stops counting, the desk is told.
    SILENCE: Micros = Micros::seconds(1);

    /// A connection that is not open this long after it was dialled is given up, µs. TCP asks again after one second and
    /// then after two more, so that with [`RETRY_LONGEST`] a network that heals is tried within three seconds.
    OPENING: Micros = Micros::seconds(3);
    /// How long the answer to an introduction may take, µs, counted from the opening or the last word before the welcome.
    /// It is longer than [`LONGEST_REFUSAL`], so that a member who is refused hears it and stays away.
    INTRODUCTION: Micros = Micros::seconds(10);
    /// A refusal is held back for no longer than this, µs.
    LONGEST_REFUSAL: Micros = Micros::seconds(5);
    /// The wait before the first attempt after a lost link, µs. It doubles with every attempt that brings no welcome;
    /// chance takes up to half of it away.
    RETRY_FIRST: Micros = Micros::millis(200);
    /// The longest wait between two attempts, µs.
    RETRY_LONGEST: Micros = Micros::seconds(1);

    /// A tap on HOLD that is unanswered for this long has reached nobody, as far as the person is told, and is sent again,
    /// µs; and again after as long.
    UNTOLD: Micros = Micros::millis(500);
    /// This many taps come with the key, and fit a frame whatever their reasons; more of them follow it.
    TAPS_WITH_KEY: usize = 6;

    /// A cue that is shown later than this after its time is late: it says so and makes no sound, flash or vibration, µs.
    /// Players hear 20 to 30 ms as not together (Chafe, Gurevich, Leslie and Tyan, ISMA 2004). A cue that arrives after
    /// its time is late however little it was.
    LATE: Micros = Micros::millis(25);

    /// A hand or foot that is this close behind a step, µs, was on its way before anybody saw what the step showed: it is
    /// no step more. So a double tap, two people at the same instant and a contact that bounces step once. Pages hold what
    /// has stood on the screen for less as not seen; a foot switch, which has no screen, rests for so long after the last
    /// step and its own last press. Longer than people need to see and act, shorter than anybody looks at a move (common
    /// practice, no source).
    STEP_BOUNCE: Micros = Micros::millis(300);

    /// Only this many questions about the time can be answered at once; an older one counts as lost.
    OPEN_QUESTIONS: usize = 32;
    /// This many generations belong to one start of the server: a generation divided by it tells which start.
    GENERATIONS_OF_A_START: u64 = Generation::OF_AN_EPOCH;
    /// A member's machine slept when its monotonic clock stood still for this long, µs: the wall clock beside it is read
    /// in whole milliseconds and is steered.
    ASLEEP: Micros = Micros::millis(10);
    /// How long a clock exchange counts, µs.
    CLOCK_WINDOW: Micros = Micros::seconds(30);
    /// The drift between two clocks that is allowed for, parts in a million: as far as an operating system steers its
    /// clock (MAXFREQ of RFC 5905's appendix A, from memory). Quartz alone stays within a fifth of it.
    DRIFT_PPM: i64 = 500;
    /// Two clocks are read in whole microseconds, so that the legs of an honest exchange can add up to this much less than
    /// they took, µs.
    READING: i64 = 2;
    /// This many exchanges are made quickly.
    FIRST_EXCHANGES: u32 = 32;
    /// The time is asked for this often at first, µs.
    ASK_AT_FIRST: Micros = Micros::millis(50);
    /// The time is asked for this often while a run goes or may begin at any moment, µs.
    ASK_IN_A_RUN: Micros = Micros::millis(125);
    /// The same where the network is uneven, µs.
    ASK_ON_UNEVEN: Micros = Micros::millis(60);
    /// The time is asked for this often otherwise, µs.
    ASK_OTHERWISE: Micros = Micros::seconds(1);
    /// A network whose round trips take this much longer in the middle than at best is uneven, µs.
    UNEVEN: f64 = 20_000.0;
    /// Skews of a clock are looked for up to this first, µs per µs: what two quartz clocks part by, temperature and
    /// ageing included (common practice, no source).
    USUAL_SKEW: f64 = 100e-6;
    /// Skews are looked for up to this when one of them is far more likely than any usual one, µs per µs.
    MOST_SKEW: f64 = 500e-6;
    /// Skews less likely than the likeliest by e to the minus this many are left out.
    SKEWS_LEFT_OUT: f64 = 8.0;
    /// The mean over the skews is taken in this many steps.
    SKEW_STEPS: u32 = 16;

    /// The longest message that is put together from pieces, in bytes: a run sheet of a fight with tens of thousands of
    /// moves.
    LONGEST_MESSAGE: usize = 16 << 20;

    /// The notes that call a hold, on the loudspeakers and on a device: hertz and seconds, one after the other.
    HOLD_NOTES: [(f64, f64); 2] = [(880.0, 0.45), (660.0, 0.75)];
    /// The sound page is told of its meters this often, µs.
    METERS_EVERY: Micros = Micros::millis(200);
}

const _: () = assert!(LONGEST_REFUSAL.0 < INTRODUCTION.0, "a member gives up before it hears that it is refused");
const _: () = assert!(2 * PULSE.0 < SILENCE.0, "one lost pulse must not be a lost link");

/// A rule as the pages are given it.
pub(crate) struct Rule {
    pub(crate) name: &'static str,
    /// The lines of its documentation.
    pub(crate) doc: &'static [&'static str],
    /// What stands after the name.
    pub(crate) unit: &'static str,
    /// Its value as a script writes it.
    pub(crate) value: String,
}

/// How a value is written in a script.
trait Script {
    const UNIT: &'static str = "";
    fn script(&self) -> String;
}

impl Script for Micros {
    const UNIT: &'static str = "_US";
    fn script(&self) -> String {
        self.0.to_string()
    }
}

macro_rules! plain {
    ($($type:ty),+) => { $( impl Script for $type {
        fn script(&self) -> String {
            self.to_string()
        }
    } )+ };
}

plain!(i64, u32, u64, usize, f64);

impl<const N: usize> Script for [(f64, f64); N] {
    fn script(&self) -> String {
        let pairs: Vec<String> = self.iter().map(|(one, other)| format!("[{one}, {other}]")).collect();
        format!("[{}] as const", pairs.join(", "))
    }
}

/// The wait before dialling again after `failures` attempts in a row without a welcome: [`RETRY_FIRST`] doubling to
/// [`RETRY_LONGEST`], and of that a part between half and the whole, by `chance` (0 to 1), so that fifty phones do not all
/// come back in the same instant.
pub fn wait_before_retry(failures: u32, chance: f64) -> Micros {
    let whole = RETRY_FIRST.0.saturating_mul(1 << failures.min(16)).min(RETRY_LONGEST.0);
    let chance = if chance.is_finite() { chance.clamp(0.0, 1.0) } else { 1.0 };
    Micros(whole / 2 + (whole as f64 / 2.0 * chance) as i64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_wait_doubles_to_its_longest_and_varies_by_half() {
        for (failures, whole) in [(0, 200), (1, 400), (2, 800), (3, 1_000), (4, 1_000), (60, 1_000)] {
            assert_eq!(wait_before_retry(failures, 1.0), Micros::millis(whole));
            assert_eq!(wait_before_retry(failures, 0.0), Micros(Micros::millis(whole).0 / 2));
        }
        assert_eq!(wait_before_retry(0, f64::NAN), Micros::millis(200));
        assert_eq!(wait_before_retry(0, -3.0), Micros::millis(100));
    }

    #[test]
    fn a_network_that_heals_is_tried_within_three_seconds() {
        // Refused at once: the longest wait. Lost in a hole: the rest of the attempt after TCP's first repetition at one
        // second, and the longest wait.
        assert!(RETRY_LONGEST + OPENING - Micros::seconds(1) <= Micros::seconds(3));
    }

    #[test]
    fn every_rule_has_a_unit_in_its_name_or_none() {
        let rules = all();
        assert!(rules.iter().all(|rule| !rule.doc.is_empty() && !rule.value.is_empty()));
        let pulse = rules.iter().find(|rule| rule.name == "PULSE").map(|rule| (rule.unit, rule.value.clone()));
        assert_eq!(pulse, Some(("_US", "300000".to_owned())));
    }
}
