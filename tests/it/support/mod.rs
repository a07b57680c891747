//! What several scenarios share.

pub(crate) mod fights;
pub(crate) mod house;
