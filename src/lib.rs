//! Holdfast, the library: every module in one line. The layers point downwards only (see DEVELOPERS.md).

pub mod brake;
pub mod call;
pub mod check;
pub mod clock;
pub mod event;
pub mod faults;
pub mod figure;
#[cfg(test)]
mod figure_sheet;
pub mod hex;
pub mod journal;
pub mod leftovers;
pub mod member;
pub mod midi;
pub mod names;
pub mod osc;
pub mod outputs;
pub mod production;
pub mod review;
pub mod rules;
pub mod safe_text;
pub mod score;
pub mod server;
pub mod sound;
pub mod stage;
pub(crate) mod suggest;
pub mod time;
pub mod timeline;
pub mod toml_table;
pub mod units;
pub mod wire;
