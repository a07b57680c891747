//! What one reader is told at one moment: their own part of it, and what comes next for them.

use crate::score::model::FighterId;
use crate::units::Ticks;

use super::plan::Plan;

/// Whose eyes a cue is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Reader {
    /// Somebody who sees all: captain, desk, observer.
    Everything,
    /// Somebody who plays this fighter.
    Fighter(FighterId),
}

/// What the reader does in a move.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// They act.
    Act,
    /// They answer.
    Answer,
    /// Others do it.
    Watch,
}

/// What a reader is told at a moment. The numbers are places in [`Plan::moves`].
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CueContent {
    /// What happens now: to a fighter only their own moves, to everything every move.
    pub now: Vec<(Part, usize)>,
    /// The next moment after this one that has a move for the reader: all their moves of it.
    pub next: Vec<(Part, usize)>,
    /// From this moment to that one; nothing when nothing comes any more.
    pub next_in: Option<Ticks>,
}

impl Plan {
    /// What this reader is told at this moment (a place in [`Plan::moments`]). Empty for a moment that is not there.
    pub fn cue(&self, moment: usize, reader: Reader) -> CueContent {
        let Some(moment) = self.moments().get(moment) else { return CueContent::default() };
        let now = moment.moves.clone().filter_map(|index| Some((self.part_in(index, reader)?, index))).collect();
        let next: Vec<(Part, usize)> = match self.next_move(moment.moves.end, reader) {
            Some(first) => self.together_with(first, reader),
            None => Vec::new(),
        };
        let next_at = next.first().and_then(|&(_, index)| self.moves().get(index)).map(|next| next.at);
        CueContent { now, next, next_in: next_at.map(|at| at - moment.at) }
    }

    /// What the reader does in a move; nothing when it is not theirs to know of.
    pub fn part_in(&self, index: usize, reader: Reader) -> Option<Part> {
        let planned = self.moves().get(index)?;
        match reader {
            Reader::Everything => Some(Part::Watch),
            Reader::Fighter(fighter) if planned.who == fighter => Some(Part::Act),
            Reader::Fighter(fighter) if planned.to == Some(fighter) => Some(Part::Answer),
            Reader::Fighter(_) => None,
        }
    }

    /// The reader's first move from a place in the list of moves on.
    fn next_move(&self, from: usize, reader: Reader) -> Option<usize> {
        match reader {
            Reader::Everything => (from < self.moves().len()).then_some(from),
            Reader::Fighter(fighter) => {
                let own = self.moves_of(fighter);
                own.get(own.partition_point(|&index| index < from)).copied()
            }
        }
    }

    /// The reader's moves on the tick of this one, which is the first of them.
    fn together_with(&self, first: usize, reader: Reader) -> Vec<(Part, usize)> {
        let at = self.moves().get(first).map(|planned| planned.at);
        let same_tick = self.moves().iter().enumerate().skip(first).take_while(|(_, planned)| Some(planned.at) == at);
        same_tick.filter_map(|(index, _)| Some((self.part_in(index, reader)?, index))).collect()
    }
}
