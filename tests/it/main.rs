//! The integration tests: one binary, one scenario a file.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod bodies;
mod bodies_all;
mod brake_interleavings;
mod brake_whole;
mod call;
mod check;
mod check_command;
mod clock_bound;
mod clock_hours;
mod clock_simulation;
mod clock_vectors;
mod effects;
mod emergency_stop;
mod engine;
mod export;
mod heard;
mod hostile_text;
mod journal;
mod journal_before;
mod journal_cli;
mod journal_crash;
mod journal_damage;
mod loudness;
#[path = "support/member_by_hand.rs"]
mod member_by_hand;
mod member_commands;
mod member_cues;
#[path = "support/member_director.rs"]
mod member_director;
mod member_follow;
mod member_link;
#[path = "support/member_model.rs"]
mod member_model;
mod member_scenarios;
mod midi_bytes;
mod midi_output;
mod midi_schedule;
#[path = "support/net.rs"]
mod net;
#[path = "support/net_messages.rs"]
mod net_messages;
#[path = "support/net_simulated.rs"]
mod net_simulated;
mod one_judge;
mod osc;
mod outputs;
mod paper;
mod patterns;
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
mod server_brake;
mod server_call;
mod server_door;
mod server_faults;
mod server_hostile;
mod server_invitations;
mod server_killed;
mod server_recordings;
mod server_reload;
mod server_replay;
mod server_review;
mod server_scores;
mod server_signing;
mod server_sound_page;
mod server_sounds;
mod server_terminal;
mod server_trial;
mod sheet;
mod sound_live;
mod sound_live_choice;
mod sound_live_hold;
mod sound_live_latency;
mod statistics;
mod strategies;
mod support;
mod table;
mod tempo_map;
mod timecode;
mod timeline;
mod timeline_command;
mod timeline_scores;
mod told;
mod typescript;
mod wire_bytes;
mod wire_frames;
mod wire_messages;
