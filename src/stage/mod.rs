//! The stage: its plan, and where everybody is on it at any instant of a fight. Pure: the plan comes as text, the times from
//! the timeline. People are upright cylinders, as high as their posture; what a blow sweeps is an outer volume from the
//! vocabulary; how near two things come is a closed form or a bound that cannot miss a minimum.

mod blow;
mod body;
mod concealed;
mod floor;
mod leg;
pub mod nearest;
mod outline;
mod passage;
mod passing;
mod picture;
mod plan;
mod played;
mod read;
mod seen;
mod set_edit;
pub mod sight;
mod small;
mod sweep;
mod swing;
mod thing;
mod track;
mod vec2;
mod view;
mod write;

pub use blow::{Blow, Near, Needs};
pub use body::{BODY_RADIUS, Build, Pose, Room};
pub use concealed::{Audience, Concealed, Passes, concealed};
pub use floor::{Floor, StageText};
pub use leg::{Cause, Leg, Way};
pub use outline::Outline;
pub use passage::{Beside, Passage, passages};
pub use passing::Passages;
pub use picture::picture;
pub use plan::{Edge, Layout, LeastDistances, Named, Raised, Seats, StagePlan, StageSet};
pub use read::{FOOT, read};
pub use seen::{seen_picture, seen_table};
pub use set_edit::{SetEdit, set_edited};
pub use small::{Marked, SmallPlan, at_the_marks, marked};
pub use sweep::Sweep;
pub use swing::{EXACT, Swing};
pub use thing::{Kind, Thing, own_things, things};
pub use track::{Fall, Presence, Seam, Track, Tracks};
pub use vec2::Vec2;
pub use view::View;
pub use write::{Edit, NotWritten, edited};
