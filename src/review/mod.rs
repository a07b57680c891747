//! The review: what the journal tells for tomorrow's rehearsal. [`Review::of`] reads a journal and counts; nothing here
//! writes, and no clock is read. Serialised, it is the JSON of
//! `holdfast report` and of whatever page shows it live. [`statistics`] is the arithmetic, and [`sheet`] prints scores.

mod breaks;
mod calls;
mod caution;
pub mod csv;
mod drill;
mod edition;
mod estimate;
mod fight;
mod history;
mod house;
pub mod html;
mod ladder;
mod lineage;
mod model;
mod near_miss;
mod news;
mod order;
mod pass;
mod phrase;
mod progress;
mod ready;
mod record;
mod say;
pub mod season;
pub mod sheet;
mod split;
pub mod statistics;
mod story;
pub mod text;
mod times;
mod timing;
mod whole;

pub use breaks::{Break, Caller, Note, Playing};
pub use caution::CAUTION;
pub use drill::{Drill, DrillRow};
pub use estimate::{PerMinute, Share};
pub use fight::{FightReview, PhraseGone, RevisionReview};
pub use history::{How, Outcome};
pub use house::{Filter, House, Ladder, ReviewError};
pub use ladder::{Seen, Standing};
pub use lineage::{MoveAt, PhraseDifference, RevisionChange};
pub use model::{Effect, Model};
pub use near_miss::NearMiss;
pub use news::News;
pub use order::{CallOrder, Proposed, Reason};
pub use phrase::{MoveGone, MoveReview, PhraseReview, SpeedReview, TempoLimit, VisitReview};
pub use progress::Change;
pub use ready::{Ready, ReadyRow};
pub use record::{CallRecord, Check, Person, RunLine, Understudy};
pub use split::{Kind, Split, Splits};
pub use story::{LATELY_MS, Phone, Shown, Story, story};
pub use timing::{LATE_MS, MemberTiming, Timing};
pub use whole::{Choice, Review, Totals};
