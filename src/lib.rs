//! Holdfast, the library: every module in one line. The layers point downwards only (see DEVELOPERS.md).

pub mod call;
pub mod journal;
pub mod production;
pub mod check;
pub mod score;
pub mod time;
pub mod timeline;
pub mod units;
pub mod wire;
