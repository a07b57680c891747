//! The timeline: a checked score at a speed becomes a [`Plan`], in which every beat, move, walk and sound has its tick
//! and its microsecond. Pure: no clock is read here; times count from the first beat of the range.

mod cue;
mod layout;
pub mod listing;
mod moments;
mod pieces;
mod plan;
mod planned;
mod range;
mod tempo;
pub mod text;

pub use cue::{CueContent, Part, Reader};
pub use layout::{Line, Unrolled, phrase_length, unroll};
pub use moments::{Click, Moment};
pub use pieces::{Piece, tempo_pieces};
pub use plan::Plan;
pub use planned::{PlannedMove, PlannedPhrase, PlannedPlace, PlannedSound, PlannedWalk};
pub use range::{PhraseRange, RangeError};
pub use tempo::{Stretch, TempoMap};
