//! What several scenarios share.

pub(crate) mod desk_list;
pub(crate) mod events;
pub(crate) mod fights;
pub(crate) mod house;
pub(crate) mod program;
pub(crate) mod raw;
