//! A track as a file: WAV by the crate `hound`, FLAC by the crate `flacenc`, both of 24 bits, one channel. The file is
//! there whole or not at all.

use std::fs::{self, File};
use std::io::{Cursor, Write};
use std::path::Path;

use flacenc::bitsink::ByteSink;
use flacenc::component::BitRepr;
use flacenc::error::Verify;
use hound::{SampleFormat, WavSpec, WavWriter};

use crate::leftovers::temporary;

/// What kind of file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Plain samples.
    Wav,
    /// The same samples in about half the room.
    Flac,
}

/// The bits of a track's sample.
const BITS: u16 = 24;

impl Kind {
    /// The kind that a file's name asks for.
    ///
    /// # Errors
    /// A sentence for any other ending.
    pub fn of(path: &Path) -> Result<Kind, String> {
        match path.extension().map(|ending| ending.to_string_lossy().to_lowercase()).as_deref() {
            Some("wav") => Ok(Kind::Wav),
            Some("flac") => Ok(Kind::Flac),
            _ => Err(format!("{} has to end in .wav or .flac", path.display())),
        }
    }

    /// Its ending.
    pub const fn ending(self) -> &'static str {
        match self {
            Kind::Wav => "wav",
            Kind::Flac => "flac",
        }
    }
}

/// Writes a track of one channel.
///
/// # Errors
/// A sentence; a file that was there before is as it was.
pub fn write(path: &Path, kind: Kind, samples: &[f32], rate: u32) -> Result<(), String> {
    let bytes = match kind {
        Kind::Wav => wav(&whole(samples, BITS), rate),
        Kind::Flac => flac(samples, rate, BITS),
    };
    write_whole(path, &bytes.map_err(|why| unwritten(path, &why))?)
}

/// Writes a file that is there whole or not at all.
///
/// # Errors
/// A sentence; a file that was there before is as it was.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), String> {
    place(path, bytes).map_err(|error| unwritten(path, &error.to_string()))
}

fn unwritten(path: &Path, why: &str) -> String {
    format!("{} cannot be written ({why}); look at the folder and the disk", path.display())
}

/// Samples as whole numbers of so many bits.
fn whole(samples: &[f32], bits: u16) -> Vec<i32> {
    let full = ((1_i64 << (bits - 1)) - 1) as f32;
    samples.iter().map(|sample| (sample.clamp(-1.0, 1.0) * full).round() as i32).collect()
}

fn wav(samples: &[i32], rate: u32) -> Result<Vec<u8>, String> {
    let spec = WavSpec { channels: 1, sample_rate: rate, bits_per_sample: BITS, sample_format: SampleFormat::Int };
    let mut bytes = Cursor::new(Vec::new());
    let written = WavWriter::new(&mut bytes, spec).and_then(|mut writer| {
        for sample in samples {
            writer.write_sample(*sample)?;
        }
        writer.finalize()
    });
    written.map_err(|error| error.to_string())?;
    Ok(bytes.into_inner())
}

/// One channel of so many bits, 16 or 24, as a FLAC file.
///
/// # Errors
/// What the library says.
pub fn flac(samples: &[f32], rate: u32, bits: u16) -> Result<Vec<u8>, String> {
    let config = flacenc::config::Encoder::default().into_verified().map_err(|(_, error)| error.to_string())?;
    let source = flacenc::source::MemSource::from_samples(&whole(samples, bits), 1, usize::from(bits), rate as usize);
    let mut stream = flacenc::encode_with_fixed_block_size(&config, source, config.block_size)
        .map_err(|error| format!("{error:?}"))?;
    // The library counts the last block, which may be short, to the smallest; RFC 9639, section 8.2, leaves it out, and
    // some readers refuse the file otherwise.
    let block = stream.stream_info().max_block_size();
    stream.stream_info_mut().set_block_sizes(block, block).map_err(|error| error.to_string())?;
    let mut sink = ByteSink::new();
    stream.write(&mut sink).map_err(|error| format!("{error:?}"))?;
    Ok(sink.as_slice().to_vec())
}

/// Puts the bytes in their place at once.
fn place(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut new = temporary().permissions(permissions()).tempfile_in(folder)?;
    new.write_all(bytes)?;
    new.as_file().sync_all()?;
    new.persist(path).map_err(|error| error.error)?;
    File::open(folder)?.sync_all()
}

/// Those of any new file, which the umask of whoever runs this narrows.
fn permissions() -> fs::Permissions {
    use std::os::unix::fs::PermissionsExt;
    fs::Permissions::from_mode(0o666)
}
