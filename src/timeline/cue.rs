//! What one reader is told at one moment: their own part of it, and what comes next for them.

use crate::score::model::{BystanderId, FighterId, Person};
use crate::units::Ticks;

use super::plan::Plan;

/// Whose eyes a cue is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Reader {
    /// Somebody who sees all: captain, desk, observer.
    Everything,
    /// Somebody who plays this fighter.
    Fighter(FighterId),
    /// Somebody who only stands by.
    Bystander(BystanderId),
}

impl Reader {
    /// Whose feet are the reader's own.
    fn person(self) -> Option<Person> {
        match self {
            Reader::Everything => None,
            Reader::Fighter(fighter) => Some(Person::Fighter(fighter)),
            Reader::Bystander(bystander) => Some(Person::Bystander(bystander)),
        }
    }
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
    /// What happens now: to a fighter only their own moves, to who stands by none, to everything every move.
    pub now: Vec<(Part, usize)>,
    /// The walks that begin now, as places in [`Plan::walks`]: to one person their own, to everything every one.
    pub walks: Vec<usize>,
    /// The next moment after this one that has a move for the reader: all their moves of it.
    pub next: Vec<(Part, usize)>,
    /// From this moment to that one; nothing when nothing comes any more.
    pub next_in: Option<Ticks>,
    /// The next walks of one person after this moment, all that begin together; to everything none.
    pub next_walks: Vec<usize>,
    /// From this moment to their beginning.
    pub next_walk_in: Option<Ticks>,
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
        let walks = moment.walks.clone().filter(|&index| self.walks_in(index, reader)).collect();
        let next_walks = self.walks_after(moment.walks.end, reader);
        let walk_at = next_walks.first().and_then(|&index| self.walks().get(index)).map(|walk| walk.at);
        let since = |at: Ticks| at - moment.at;
        CueContent { now, walks, next, next_in: next_at.map(since), next_walks, next_walk_in: walk_at.map(since) }
    }

    /// The next walks of one person from a place in the list of walks on.
    fn walks_after(&self, from: usize, reader: Reader) -> Vec<usize> {
        let Some(person) = reader.person() else { return Vec::new() };
        let own = self.walks_of(person);
        let own = own.get(own.partition_point(|&index| index < from)..).unwrap_or_default();
        let at = |index: &usize| self.walks().get(*index).map(|walk| walk.at);
        let first = own.first().and_then(at);
        own.iter().copied().take_while(|index| at(index) == first).collect()
    }

    /// True for a walk that the reader is told of.
    fn walks_in(&self, index: usize, reader: Reader) -> bool {
        let who = self.walks().get(index).map(|walk| walk.who);
        reader.person().is_none_or(|person| who == Some(person))
    }

    /// What the reader does in a move; nothing when it is not theirs to know of.
    pub fn part_in(&self, index: usize, reader: Reader) -> Option<Part> {
        let planned = self.moves().get(index)?;
        match reader {
            Reader::Everything => Some(Part::Watch),
            Reader::Fighter(fighter) if planned.who == fighter => Some(Part::Act),
            Reader::Fighter(fighter) if planned.to == Some(fighter) => Some(Part::Answer),
            Reader::Fighter(_) | Reader::Bystander(_) => None,
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
            Reader::Bystander(_) => None,
        }
    }

    /// The reader's moves on the tick of this one, which is the first of them.
    fn together_with(&self, first: usize, reader: Reader) -> Vec<(Part, usize)> {
        let at = self.moves().get(first).map(|planned| planned.at);
        let same_tick = self.moves().iter().enumerate().skip(first).take_while(|(_, planned)| Some(planned.at) == at);
        same_tick.filter_map(|(index, _)| Some((self.part_in(index, reader)?, index))).collect()
    }
}
