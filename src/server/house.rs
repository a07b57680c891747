//! What everybody who serves connections needs to know.

use std::sync::Arc;

use super::brake::Brake;
use super::fights::Fights;
use super::gate::Gate;
use super::hosts::Hosts;
use super::keys::Keys;
use super::pace::Paces;
use super::reached::Reached;
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
    /// By which names this machine is called.
    pub(super) hosts: Arc<Hosts>,
    /// The limits, and which were reached.
    pub(super) reached: Arc<Reached>,
    /// The fights, for whoever reads them.
    pub(super) fights: Arc<Fights>,
    /// How much is asked for over HTTP.
    pub(super) paces: Arc<Paces>,
}
