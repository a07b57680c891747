//! What is called, and when: the name of a phrase before it begins, and each of the performer's own moves one call ahead,
//! between the move before it and its own. Pure.

use crate::score::model::{FighterId, Person, Word};
use crate::sound::recordings::Clip;
use crate::timeline::{Part, Plan, Reader};
use crate::units::{Micros, TICKS_PER_BEAT, Ticks};

use super::speech::PACES;

/// Something that a performer is told before it happens.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// When it happens, from the first beat of the range.
    pub time: Micros,
    /// How long a beat lasts there.
    pub beat: Micros,
    /// What is said.
    pub text: String,
}

/// A call.
#[derive(Clone, Debug, PartialEq)]
pub struct Call {
    /// What is said.
    pub text: String,
    /// When that happens.
    pub before: Micros,
}

/// A call with its place.
#[derive(Clone, Debug)]
pub struct Placed {
    /// The call.
    pub call: Call,
    /// When it begins to be spoken, from the first beat of the range.
    pub at: Micros,
    /// How fast, words a minute.
    pub pace: u32,
    /// The voice; nothing when there is no time for it.
    pub clip: Option<Clip>,
}

/// A call ends at least so long before what it calls.
const CLEAR: Micros = Micros::millis(100);
/// Two events closer than this are called in one breath.
const ONE_BREATH: Micros = Micros::millis(250);

/// Everything that a fighter is told, in order: names of phrases, own moves and own walks.
pub fn events(plan: &Plan, fighter: FighterId) -> Vec<Event> {
    let mut raw: Vec<(Ticks, Micros, String)> = Vec::new();
    raw.extend(plan.phrases().iter().map(|it| (it.at, it.time, format!("{}.", it.name))));
    for (index, it) in plan.moves().iter().enumerate() {
        match plan.part_in(index, Reader::Fighter(fighter)) {
            Some(Part::Act) => raw.push((it.at, it.time, it.action.to_string())),
            Some(Part::Answer) => {
                raw.push((it.at, it.time, it.reply.as_ref().map_or("ready", Word::as_str).to_owned()))
            }
            _ => {}
        }
    }
    let walks = plan.walks().iter().filter(|it| it.who == Person::Fighter(fighter));
    raw.extend(walks.map(|it| (it.at, it.time, "walk".to_owned())));
    raw.sort_by_key(|(at, ..)| *at);
    let mut events: Vec<Event> = Vec::new();
    for (at, time, text) in raw {
        match events.last_mut().filter(|last| time - last.time < ONE_BREATH) {
            Some(last) => last.text = format!("{} {text}", last.text.trim_end_matches(',')),
            None => {
                let beat = plan.tempo().time_of(at) - plan.tempo().time_of(at - Ticks(TICKS_PER_BEAT));
                events.push(Event { time, beat, text });
            }
        }
    }
    events
}

/// Puts each call between the event before and its own: one beat ahead when there is time, else as soon as the one
/// before has happened; spoken faster when it would not fit, and left out when even that is too long. `say` gives the
/// voice at a pace.
///
/// # Errors
/// That of `say`.
pub fn place(events: &[Event], mut say: impl FnMut(&str, u32) -> Result<Clip, String>) -> Result<Vec<Placed>, String> {
    let mut placed = Vec::new();
    let mut open: Option<Micros> = None;
    for event in events {
        let call = Call { text: event.text.clone(), before: event.time };
        let mut found = Placed { call, at: event.time, pace: 0, clip: None };
        for pace in PACES {
            let clip = say(&event.text, pace)?;
            if let Some(at) = fitted(event, open, length(&clip)) {
                found = Placed { at, pace, clip: Some(clip), ..found };
                break;
            }
        }
        placed.push(found);
        open = Some(event.time);
    }
    Ok(placed)
}

/// When a call of this length begins, if there is time for it.
fn fitted(event: &Event, open: Option<Micros>, length: Micros) -> Option<Micros> {
    let ahead = event.time - event.beat.max(CLEAR) - length;
    let begins = open.map_or(ahead, |open| ahead.max(open));
    (begins + length + CLEAR <= event.time).then_some(begins)
}

/// How long a clip lasts, rounded up.
fn length(clip: &Clip) -> Micros {
    Micros((clip.samples.len() as i64 * 1_000_000).div_euclid(i64::from(clip.rate.max(1))) + 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn clip(millis: i64) -> Clip {
        Clip { rate: 8_000, samples: vec![0.1; (millis * 8) as usize].into() }
    }

    proptest! {
        /// No two calls are spoken at a time, each ends before what it calls and begins after what came before.
        #[test]
        fn calls_never_overlap_and_come_in_time(
            gaps in prop::collection::vec((250i64..5_000, 100i64..2_500, 300i64..1_500), 1..40),
        ) {
            let mut time = 0;
            let events: Vec<Event> = gaps
                .iter()
                .map(|(gap, length, beat)| {
                    time += gap;
                    Event { time: Micros::millis(time), beat: Micros::millis(*beat), text: length.to_string() }
                })
                .collect();
            let say = |text: &str, pace: u32| Ok(clip(text.parse::<i64>().unwrap() * i64::from(PACES[0]) / i64::from(pace)));
            let placed = place(&events, say).unwrap();
            prop_assert_eq!(placed.len(), events.len());
            let mut last = None;
            for (event, placed) in events.iter().zip(&placed) {
                if let Some(clip) = &placed.clip {
                    let end = placed.at + length(clip);
                    prop_assert!(end + CLEAR <= event.time);
                    prop_assert!(last.is_none_or(|last| placed.at >= last));
                } else if let Some(last) = last {
                    let fastest = length(&clip(event.text.parse::<i64>().unwrap() * i64::from(PACES[0]) / i64::from(PACES[2])));
                    prop_assert!(last + fastest + CLEAR > event.time, "there was time for it");
                }
                last = Some(event.time);
            }
        }
    }
}
