//! The score: text ⇄ [`Score`](model::Score), the vocabulary, and formatting.
//!
//! Text goes through three hands. [`parse`] reads it line by line into a [`raw::RawScore`], which still knows how
//! everything was written; [`resolve`] checks that against a [`vocabulary::Vocabulary`] and makes the
//! [`model::Score`], in which nothing is left to doubt; [`format()`] writes the raw score back in canonical columns.
//! Whatever is wrong on the way becomes a [`problem::Problem`]. Nothing here reads a file, and no bytes make it panic.

pub mod compare;
pub mod drill;
pub mod format;
mod lex;
pub mod library;
mod line;
pub mod merge;
pub mod model;
mod parse;
mod pattern_line;
pub mod position;
pub mod problem;
mod quantity;
pub mod raw;
mod reading;
pub mod reference;
pub mod render;
mod resolve;
mod sounds;
pub mod table;
pub mod vocabulary;
pub mod words;

pub use format::format;
pub use reading::{LARGEST, Reading, read, read_with_lines};

/// A beat as a score writes it, `4+1/2`, from the first beat of its phrase; nothing when it is none.
pub fn beat(text: &str) -> Option<crate::units::Ticks> {
    quantity::beats(text).ok().map(|beats| beats - crate::units::Ticks::beats(1))
}
pub use render::{Report, render, reports};
