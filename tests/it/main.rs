//! The integration tests: one binary, one scenario a file.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod call;
mod check;
mod check_command;
mod clock_bound;
mod clock_simulation;
mod clock_vectors;
mod effects;
mod engine;
mod export;
mod journal;
mod journal_cli;
mod journal_crash;
mod journal_damage;
mod loudness;
mod member_commands;
mod member_cues;
mod member_follow;
mod member_link;
mod midi_bytes;
#[cfg(feature = "jack")]
mod midi_jack;
mod midi_output;
mod midi_schedule;
#[path = "support/net.rs"]
mod net;
#[path = "support/net_messages.rs"]
mod net_messages;
#[path = "support/net_simulated.rs"]
mod net_simulated;
mod osc;
mod outputs;
mod paper;
mod practice;
mod production;
mod recordings;
mod report;
mod review;
mod review_changes;
mod review_live;
mod score_errors;
mod score_example;
mod score_fmt;
mod score_properties;
mod server_call;
mod server_faults;
mod server_hostile;
mod server_invitations;
mod server_killed;
mod server_recordings;
mod server_reload;
mod server_review;
mod server_scores;
mod server_signing;
mod server_sound_page;
mod server_sounds;
mod server_terminal;
mod sheet;
mod sound_live;
mod sound_live_choice;
mod sound_live_hold;
mod sound_live_latency;
mod statistics;
mod strategies;
mod support;
mod tempo_map;
mod timecode;
mod timeline;
mod timeline_command;
mod timeline_scores;
mod typescript;
mod wire_bytes;
mod wire_frames;
mod wire_messages;
