//! The score: text ⇄ [`Score`], the vocabulary, and formatting.

pub mod model;
