//! What every report says about itself, in our own words.

/// The caution of reports and sheets.
pub const CAUTION: &str = "Holdfast is an aid for rehearsals led by a qualified fight director. The spoken “hold” comes \
first and never waits for a device; a phone and a network are no emergency stop. Figures here count what was written \
down; they permit nothing. Distances and tempo limits are planning values. Weapons, sound levels, strobing light and \
contracts follow local codes, house rules and licensed practice.";

/// How the figures are to be read.
pub(super) const HOW_TO_READ: &str = "A break is a hold or a stop that ended a run. A phrase is clean in a run when the run went \
through it without one; runs by the clock count, walk-throughs are listed apart. Intervals are 95 %: Wilson's for \
“so many of so many”, exact (Garwood) for “so many a minute”. Better or worse is said only when the interval of the \
difference leaves out no change and the exact test agrees (p < 0.05); about one such verdict in twenty is chance. \
Figures of older revisions are counted at the move that theirs became.";
