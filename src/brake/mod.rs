//! The brake: what a hold pulls before anything else in the program knows of it. It kills, it numbers nothing: everything
//! up to a generation is dead, and only the call gives out generations. Nothing lives that the brake has not admitted.
//!
//! It has two halves, both pure. [`Latch`] is the handful of words that every thread may touch at any time, without a
//! lock; [`Pulled`] is what has pulled it, a value that can be joined with another's in any order.
//!
//! What it promises (tested over every interleaving in `tests/it/brake_whole.rs` and `tests/it/brake_interleavings.rs`):
//! - once pulled, everything that was ever admitted is dead, and nothing is admitted until the call has taken every
//!   pull and has released what it made of them;
//! - what was decided before a pull was taken is not admitted after it;
//! - no generation that died lives again.

mod latch;
mod pulled;

pub use latch::{Latch, Pull, Refused, Word};
pub use pulled::{By, Pulled, TapName, pulls};
