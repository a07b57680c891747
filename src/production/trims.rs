//! What was chosen for the production's sounds, by ear: trim, gain and choke group of each, with who chose and when. It
//! stands in `data/sounds.toml`, apart from the scores, so that a revised score keeps it.

use std::collections::BTreeMap;
use std::path::Path;

use jiff::Timestamp;
use serde::Serialize;

use super::ProductionError;
use super::config::MOST_GROUPS;
use super::invitations::write_private;
use crate::sound::{Adjustment, LEAST_GAIN, MOST_GAIN, MOST_TRIM};
use crate::toml_table::{self, Table, TomlFile};
use crate::units::{Decibels, Micros};

/// The file in the data folder.
const FILE_NAME: &str = "sounds.toml";
/// The groups that a company may use; the program uses the others.
const CHOKE_GROUPS: std::ops::RangeInclusive<u32> = 1..=MOST_GROUPS as u32;

/// What was chosen for one sound.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Chosen {
    /// What.
    pub adjustment: Adjustment,
    /// Who chose it last.
    pub who: Option<String>,
    /// When.
    pub when: Option<Timestamp>,
}

/// What was chosen for the sounds, by name. Names that no score uses any more stay: one may use them again.
pub type Trims = BTreeMap<String, Chosen>;

/// The adjustments alone, as a library takes them.
pub fn adjustments(trims: &Trims) -> BTreeMap<String, Adjustment> {
    trims.iter().map(|(name, chosen)| (name.clone(), chosen.adjustment)).collect()
}

/// Reads what is chosen in a data folder; nothing when there is no file yet.
///
/// # Errors
/// `Unreadable`; `Config` when somebody wrote something else into the file.
pub fn load(data: &Path) -> Result<Trims, ProductionError> {
    let path = data.join(FILE_NAME);
    if !path.exists() {
        return Ok(Trims::new());
    }
    let text = super::text(&path)?;
    let read = toml_table::read(FILE_NAME, &text, |file, top| {
        let sounds = top.table(file, "sound").named_tables(file);
        Some(sounds.into_iter().map(|(name, table)| (name, chosen(file, table))).collect())
    });
    read.map_err(ProductionError::Config)
}

/// Writes what is chosen: all or nothing, on disk when it returns.
///
/// # Errors
/// `Unwritable`; the file is then as it was.
pub fn save(data: &Path, trims: &Trims) -> Result<(), ProductionError> {
    let path = data.join(FILE_NAME);
    let unwritable = |why: String| ProductionError::Unwritable { path: path.clone(), why };
    let rows = trims.iter().map(|(name, chosen)| (name.as_str(), Row::of(chosen))).collect();
    let rows = toml::to_string(&Rows { sound: rows }).map_err(|error| unwritable(error.to_string()))?;
    let text = format!(
        "# Written by Holdfast: what was chosen for the production's sounds on the sound page. trim_ms makes a sound later,\n\
         # or, negative, earlier; gain_db louder or softer; of two sounds in one choke group (1 to 199) the second cuts off\n\
         # the first, and a group here goes before [choke] in production.toml. Change it by hand only while no server runs.\n\n{rows}"
    );
    write_private(data, &path, text.as_bytes()).map_err(|error| unwritable(error.to_string()))
}

fn chosen(file: &mut TomlFile<'_>, mut table: Table<'_>) -> Chosen {
    let most = MOST_TRIM.as_millis();
    let trim = table.number(file, "trim_ms", -most..=most, " milliseconds").unwrap_or(0.0);
    let gain = table.number(file, "gain_db", LEAST_GAIN.0..=MOST_GAIN.0, " dB").unwrap_or(0.0);
    let choke = table.whole(file, "choke", CHOKE_GROUPS, "");
    let who = table.text(file, "who");
    let when = table.read_text(file, "when", |text| {
        text.parse().map_err(|_| "it has to be a time such as \"2026-03-01T19:30:00Z\"")
    });
    table.finish(file);
    let adjustment = Adjustment {
        gain: Decibels(gain),
        // At most half a second, so nothing is cut off.
        trim: Micros((trim * 1e3).round() as i64),
        choke: choke.and_then(|choke| u8::try_from(choke).ok()),
    };
    Chosen { adjustment, who, when }
}

#[derive(Serialize)]
struct Rows<'a> {
    sound: BTreeMap<&'a str, Row<'a>>,
}

#[derive(Serialize)]
struct Row<'a> {
    trim_ms: f64,
    gain_db: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    choke: Option<u8>,
    #[serde(skip_serializing_if = "Option::is_none")]
    who: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    when: Option<String>,
}

impl Row<'_> {
    fn of(chosen: &Chosen) -> Row<'_> {
        Row {
            trim_ms: chosen.adjustment.trim.as_millis(),
            gain_db: chosen.adjustment.gain.0,
            choke: chosen.adjustment.choke,
            who: chosen.who.as_deref(),
            when: chosen.when.map(|when| when.to_string()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn any_chosen() -> impl Strategy<Value = Chosen> {
        // What a page can choose: tenths of a millisecond and of a decibel.
        let adjustment = (-5_000i64..=5_000, -600i32..=120, prop::option::of(1u8..=199));
        let who = prop::option::of("[A-Zäö][a-z\"\\\\ ]{0,10}[a-z]");
        (adjustment, who, 0i64..4_000_000_000).prop_map(|((trim, gain, choke), who, second)| Chosen {
            adjustment: Adjustment { gain: Decibels(f64::from(gain) / 10.0), trim: Micros(trim * 100), choke },
            who,
            when: Timestamp::from_second(second).ok(),
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]
        #[test]
        fn what_is_kept_is_read_again(trims in prop::collection::btree_map("[a-zß0-9 .\"=\\[\\]'-]{1,12}", any_chosen(), 0..5)) {
            let folder = tempfile::tempdir().unwrap();
            save(folder.path(), &trims).unwrap();
            prop_assert_eq!(load(folder.path()).unwrap(), trims);
        }
    }

    #[test]
    fn what_cannot_be_meant_gets_a_sentence_each() {
        let folder = tempfile::tempdir().unwrap();
        let text = "[sound.steel]\ntrim_ms = 900\ngain_db = 99\nchoke = 0\nwhen = \"soon\"\nlevel = 3\n";
        std::fs::write(folder.path().join(FILE_NAME), text).unwrap();
        let told = load(folder.path()).unwrap_err().to_string();
        for part in [
            "line 2: `sound.steel.trim_ms` is 900; it has to be a number from -500 to 500 milliseconds.",
            "line 3: `sound.steel.gain_db` is 99; it has to be a number from -60 to 12 dB.",
            "line 4: `sound.steel.choke` is 0",
            "line 5: `sound.steel.when` is \"soon\"; it has to be a time",
            "line 6: `sound.steel.level` is not known here",
        ] {
            assert!(told.contains(part), "{part:?} in\n{told}");
        }
        assert_eq!(load(&folder.path().join("nowhere")).unwrap(), Trims::new());
    }
}
