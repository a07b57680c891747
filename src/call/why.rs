//! Why: what the house decides about reasons and near misses, and what is known of one that was given or reported. What the
//! call does with them stands in `explaining`.

use serde::{Deserialize, Serialize};

use super::{MemberId, Spot};
use crate::units::ServerTime;

/// What the house decides about reasons and near misses.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Why {
    /// The reasons of which one is given to a hold, in the order in which they are offered.
    pub reasons: Vec<String>,
    /// Whether near misses are reported.
    pub near_misses: NearMisses,
}

/// Whether near misses are reported, and with whose name.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ts_rs::TS)]
#[serde(rename_all = "kebab-case")]
#[ts(rename_all = "kebab-case")]
pub enum NearMisses {
    /// With the reporter's name or without it, as they choose.
    #[default]
    Either,
    /// With the name.
    Named,
    /// Without it: nobody's name is kept.
    Unnamed,
    /// They are not.
    No,
}

impl Why {
    /// The reasons of a house that has chosen none of its own: what people in the trade say (common practice, no source, each
    /// of them). Of pages only those of these are translated.
    pub const USUAL: [&str; 10] = [
        "distance",
        "timing",
        "off target",
        "wrong move",
        "no eye contact",
        "footing",
        "weapon or costume",
        "something in the way",
        "hurt or unwell",
        "a question",
    ];
}

impl Default for Why {
    fn default() -> Why {
        Why { reasons: Why::USUAL.map(str::to_owned).to_vec(), near_misses: NearMisses::default() }
    }
}

/// The reason that was given to a hold last.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reason {
    /// It, in the company's words.
    pub says: String,
    /// Who gave it.
    pub by: String,
}

/// Somebody reports what nearly went wrong.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reported {
    /// Who; nothing when it comes without a name, and then nobody's is kept anywhere.
    pub by: Option<MemberId>,
    /// The run that is meant.
    pub run: Option<u32>,
    /// The phrase, counted from 0, and the move in it, counted from 1: where it was.
    pub at: Option<(u32, u32)>,
    /// One of the company's reasons.
    pub reason: Option<String>,
    /// What there is to say of it.
    pub note: Option<String>,
}

/// A near miss of this call.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NearMiss {
    /// When it was reported.
    pub at: ServerTime,
    /// Who reported it, where they gave their name.
    pub by: Option<String>,
    /// Where it was.
    pub spot: Option<Spot>,
    /// Why.
    pub reason: Option<String>,
    /// What was noted.
    pub note: Option<String>,
}
