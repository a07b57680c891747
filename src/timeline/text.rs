//! A plan's rows as a page to read at a desk: a line a beat, what happens on it beside it, phrases apart.

use std::fmt::Write;

use super::listing::{Detail, Row};
use super::plan::Plan;

/// The page. `rows` are those of the plan.
pub fn page(fight: &str, plan: &Plan, rows: &[Row]) -> String {
    let mut page = Page { text: heading(fight, plan), waiting: None };
    rows.iter().for_each(|row| page.row(row));
    page.flush();
    page.text
}

/// Minutes and seconds to the millisecond: `1:02.500`, `-0:02.857`.
pub fn clock_words(seconds: f64) -> String {
    let millis = (seconds * 1e3).round() as i64;
    let sign = if millis < 0 { "-" } else { "" };
    let millis = millis.abs();
    format!("{sign}{}:{:02}.{:03}", millis / 60_000, millis / 1_000 % 60, millis % 1_000)
}

fn heading(fight: &str, plan: &Plan) -> String {
    let percent = plan.phrases().first().map_or(100, |phrase| phrase.speed.as_percent());
    let counted = plan.moments().iter().filter(|moment| moment.count_in.is_some()).count();
    let count_in =
        if counted == 0 { "no count-in".to_owned() } else { format!("count-in of {}", beats(counted as f64)) };
    let phrases = plan.phrases().len();
    let phrases = if phrases == 1 { "1 phrase".to_owned() } else { format!("{phrases} phrases") };
    format!(
        "{fight}: {phrases}, {}, {} at {percent} % of performance tempo, {count_in}\n\n{:>10}  {:>5}  {}\n",
        beats(plan.length().as_beats()),
        clock_words(plan.duration().as_seconds()),
        "time",
        "bar",
        "beat",
    )
}

struct Page {
    text: String,
    /// The time, bar and beat of a beat whose line has not been written, because something may happen on it.
    waiting: Option<(f64, String)>,
}

impl Page {
    fn row(&mut self, row: &Row) {
        match &row.detail {
            Detail::Phrase { length_beats, .. } => {
                self.flush();
                let head = format!("\n{}  ({})\n", row.phrase, beats(*length_beats));
                self.text.push_str(&head);
            }
            Detail::Beat { count, count_in, .. } => {
                self.flush();
                match count_in {
                    Some(left) => self.write(&times(row), &format!("count {count}, {left} to go")),
                    None => self.waiting = Some((row.seconds, times(row))),
                }
            }
            Detail::Sound { by_move: Some(_), level_db, trim_ms, .. } if *level_db == 0.0 && *trim_ms == 0.0 => {}
            detail => self.event(row, &words(detail, row.seconds)),
        }
    }

    /// Something that happens: beside its beat if that still waits, else on a line of its own.
    fn event(&mut self, row: &Row, words: &str) {
        let place = match self.waiting.take() {
            Some((seconds, place)) if seconds == row.seconds => place,
            Some((_, place)) => {
                self.write(&place, "");
                times(row)
            }
            None => times(row),
        };
        self.write(&place, words);
    }

    fn flush(&mut self) {
        if let Some((_, place)) = self.waiting.take() {
            self.write(&place, "");
        }
    }

    fn write(&mut self, place: &str, words: &str) {
        let line = format!("{place}  {words}");
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }
}

fn times(row: &Row) -> String {
    format!("{:>10}  {:>5}  {:<8}", clock_words(row.seconds), row.bar, row.beat)
}

fn words(detail: &Detail, seconds: f64) -> String {
    match detail {
        Detail::Place { who, x, y, facing, facing_degrees } => {
            let facing = match (facing, facing_degrees) {
                (Some(person), _) => format!(", facing {person}"),
                (None, Some(degrees)) => format!(", facing {degrees} degrees"),
                (None, None) => String::new(),
            };
            format!("{who} stands at {x},{y}{facing}")
        }
        Detail::Tempo { bpm, to_bpm: Some(to), until: Some(until) } => {
            format!("tempo {} to {} by beat {until}", rounded(*bpm), rounded(*to))
        }
        Detail::Tempo { bpm, .. } => format!("tempo {}", rounded(*bpm)),
        Detail::Walk { who, course, until, until_seconds, .. } => {
            format!("{who} walks {course} by beat {until} ({:.3} s)", until_seconds - seconds)
        }
        Detail::Move { who, action, target, side, to, reply, sounds, text, .. } => {
            let act = [Some(who.as_str()), Some(action), target.as_deref(), *side];
            let mut words = act.into_iter().flatten().collect::<Vec<_>>().join(" ");
            if let (Some(to), Some(reply)) = (to, reply) {
                // Writing to a string cannot fail.
                let _ = write!(words, " / {to} {reply}");
            }
            if !sounds.is_empty() {
                let _ = write!(words, "  ! {}", sounds.join("+"));
            }
            words + &quoted(text.as_ref())
        }
        Detail::Sound { name, level_db, trim_ms, text, .. } => {
            let level = if *level_db == 0.0 { String::new() } else { format!(" {level_db:+} dB") };
            let trim = if *trim_ms == 0.0 { String::new() } else { format!(" {trim_ms:+} ms") };
            format!("! {name}{trim}{level}{}", quoted(text.as_ref()))
        }
        Detail::End {} => "end".to_owned(),
        Detail::Phrase { .. } | Detail::Beat { .. } => String::new(),
    }
}

fn quoted(text: Option<&String>) -> String {
    text.map_or(String::new(), |text| format!("  \"{text}\""))
}

/// A tempo to two decimals, without the zeros that say nothing.
fn rounded(bpm: f64) -> f64 {
    (bpm * 100.0).round() / 100.0
}

fn beats(count: f64) -> String {
    if count == 1.0 { "1 beat".to_owned() } else { format!("{count} beats") }
}

#[cfg(test)]
mod tests {
    use super::clock_words;

    #[test]
    fn times_are_minutes_and_seconds() {
        for (seconds, words) in [(0.0, "0:00.000"), (62.5, "1:02.500"), (-2.857143, "-0:02.857"), (59.9996, "1:00.000")]
        {
            assert_eq!(clock_words(seconds), words);
        }
    }
}
