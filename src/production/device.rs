//! The loudspeakers that were chosen on the sound page: `data/sound-device.toml`, which goes before `[sound]` of
//! `production.toml`, a file that the program never writes to.

use std::path::Path;

use serde::Serialize;

use super::ProductionError;
use super::config::SoundChoice;
use super::invitations::write_private;
use crate::toml_table;

/// The file in the data folder.
const FILE_NAME: &str = "sound-device.toml";

/// A device, and how it is to be run; nothing is the machine's own choice, or the usual.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct DeviceChoice {
    /// The device's name, as `holdfast` lists them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub device: Option<String>,
    /// Samples per second.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate: Option<u32>,
    /// Samples mixed at a time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub buffer_frames: Option<u32>,
}

impl DeviceChoice {
    /// The rates that can be asked for, samples per second.
    pub const RATES: std::ops::RangeInclusive<u32> = 8_000..=192_000;
    /// The buffers that can be asked for, samples.
    pub const BUFFERS: std::ops::RangeInclusive<u32> = 16..=16_384;

    /// The company's choice of loudspeakers with this one in its place.
    pub fn over(self, choice: &SoundChoice) -> SoundChoice {
        SoundChoice { device: self.device, rate: self.rate, buffer_frames: self.buffer_frames, ..choice.clone() }
    }
}

/// Reads what was chosen in a data folder; nothing when nothing was.
///
/// # Errors
/// `Unreadable`; `Config` when somebody wrote something else into the file.
pub fn load(data: &Path) -> Result<Option<DeviceChoice>, ProductionError> {
    let path = data.join(FILE_NAME);
    if !path.exists() {
        return Ok(None);
    }
    let text = super::text(&path)?;
    let read = toml_table::read(FILE_NAME, &text, |file, top| {
        Some(DeviceChoice {
            device: top.text(file, "device"),
            rate: top.whole(file, "rate", DeviceChoice::RATES, " samples a second"),
            buffer_frames: top.whole(file, "buffer_frames", DeviceChoice::BUFFERS, " samples"),
        })
    });
    read.map(Some).map_err(ProductionError::Config)
}

/// Writes what was chosen: all or nothing, on disk when it returns.
///
/// # Errors
/// `Unwritable`; the file is then as it was.
pub fn save(data: &Path, choice: &DeviceChoice) -> Result<(), ProductionError> {
    let path = data.join(FILE_NAME);
    let unwritable = |why: String| ProductionError::Unwritable { path: path.clone(), why };
    let rows = toml::to_string(choice).map_err(|error| unwritable(error.to_string()))?;
    let text = format!(
        "# Written by Holdfast: the loudspeakers that were chosen on the sound page. They go before those of [sound] in\n\
         # production.toml; delete this file to have those again.\n\n{rows}"
    );
    write_private(data, &path, text.as_bytes()).map_err(|error| unwritable(error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]
        #[test]
        fn what_is_kept_is_read_again(
            device in prop::option::of("[a-zA-Z:=,0-9\"\\\\]{1,20}"),
            rate in prop::option::of(DeviceChoice::RATES),
            buffer_frames in prop::option::of(DeviceChoice::BUFFERS),
        ) {
            let folder = tempfile::tempdir().unwrap();
            let choice = DeviceChoice { device, rate, buffer_frames };
            save(folder.path(), &choice).unwrap();
            prop_assert_eq!(load(folder.path()).unwrap(), Some(choice));
        }
    }

    #[test]
    fn nothing_chosen_is_nothing_and_nonsense_gets_a_sentence() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(load(folder.path()).unwrap(), None);
        std::fs::write(folder.path().join(FILE_NAME), "rate = 3\n").unwrap();
        let told = load(folder.path()).unwrap_err().to_string();
        assert!(told.contains("`rate` is 3; it has to be a number from 8000"), "{told}");
    }
}
