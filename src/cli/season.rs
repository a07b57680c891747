//! `holdfast demo --season`: the demo's production with six weeks of invented fight calls in its journal.

use std::path::Path;

use holdfast::production::{self, Production};
use holdfast::review::season::{self, SeasonScore};
use holdfast::time::utc_now;
use jiff::{Span, tz::TimeZone};

/// What is different in the first weeks' text of the demo's long fight: as it is now, as it was.
const REVISED: [(&str, &str); 2] = [
    ("ORSINA  circle 4         ! steel", "ORSINA  parry 4          ! steel"),
    ("  31     TAVISH  disarm ", "  30     TAVISH  feint chest\n  31     TAVISH  disarm "),
];

/// Makes the production folder and writes the season, which ends yesterday.
///
/// # Errors
/// A sentence.
pub(super) fn make(folder: &Path) -> Result<(), String> {
    production::start_demo(folder).map_err(|error| error.to_string())?;
    let production = Production::open(folder).map_err(|error| error.to_string())?;
    let today = TimeZone::UTC.to_datetime(utc_now()).date();
    let days = Span::new().try_days(season::DAYS).map_err(|error| error.to_string())?;
    let first_day = today.checked_sub(days).map_err(|error| error.to_string())?;
    let newest: Vec<String> = production.fights.iter().map(|fight| fight.text().to_owned()).collect();
    let first: Vec<String> = newest
        .iter()
        .map(|text| REVISED.iter().fold(text.clone(), |text, (now, then)| text.replace(now, then)))
        .collect();
    let scores: Vec<SeasonScore<'_>> =
        first.iter().zip(&newest).map(|(first, newest)| SeasonScore { first, newest }).collect();
    season::write(&production.data(), &scores, first_day).map_err(|error| error.to_string())
}
