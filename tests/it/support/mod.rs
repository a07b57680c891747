//! What several scenarios share.

pub mod fights;
