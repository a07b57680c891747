//! What everybody who serves connections needs to know.

use std::sync::Arc;

use super::brake::Brake;
use super::gate::Gate;
use super::keys::Keys;
use super::pace::Paces;
use super::request::ToHub;
use super::sockets::Lines;
use crate::time::ServerClock;

/// It.
#[derive(Clone)]
pub(super) struct House {
    pub(super) hub: ToHub,
    pub(super) lines: Lines,
    pub(super) brake: Arc<Brake>,
    pub(super) keys: Arc<Keys>,
    pub(super) clock: ServerClock,
    pub(super) gate: Arc<Gate>,
    /// How much is asked for over HTTP.
    pub(super) paces: Arc<Paces>,
}
