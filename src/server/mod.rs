//! The server: a listener, the house, and a shutdown. It serves the pages and the links on one port and drives one
//! call until it is told to stop. Tests start it on port 0 like everybody else.

mod answer;
mod asker;
mod asking;
mod brake;
pub mod certificate;
mod close;
mod company;
mod deed;
mod digest;
mod directory;
mod doorstep;
mod driver;
mod ending;
mod entrance;
mod foot;
mod freezer;
mod gate;
mod house;
mod http;
mod hub;
mod introduction;
mod keeper;
mod keys;
mod lateness;
mod missing;
mod pace;
pub mod pages;
pub mod qr;
mod reload;
pub mod replay;
mod request;
mod restock;
mod review;
mod scores;
mod sending;
mod setup;
#[cfg(test)]
mod simulation;
mod sockets;
mod sound_ask;
mod sound_loop;
mod sound_page;
mod sound_told;
mod sounding;
mod subjects;
mod telling;
mod tls;
mod told;
mod view;
mod visitors;
mod writer;

pub use directory::NoRandomness;
pub use freezer::Freezer;
pub use setup::{Links, Ready, SecureDoor, Serving, ServingError};
pub use visitors::VisitorLimits;
