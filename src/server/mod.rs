//! The server: a listener, the house, and a shutdown. It serves the pages and the links on one port and drives one
//! call until it is told to stop. Tests start it on port 0 like everybody else.

mod admission;
pub mod certificate;
mod close;
mod connection;
mod directory;
mod gate;
mod http;
mod hub;
mod introduction;
mod keeper;
mod lateness;
mod noting;
mod outbox;
mod pace;
pub mod pages;
pub mod qr;
mod reload;
mod remembered;
mod request;
mod restock;
mod review;
mod scores;
mod setup;
mod sound_loop;
mod sound_page;
mod sound_told;
mod sounding;
mod subjects;
mod tls;
mod told;
mod view;
mod written;

pub use directory::NoRandomness;
pub use setup::{Links, Ready, SecureDoor, Serving, ServingError};
