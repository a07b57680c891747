//! The desk of the call that is measured: one more member, who is told everything that a desk shows, alone reads whole
//! messages, and lets go of holds.

use holdfast::event::EventId;
use holdfast::wire::{
    DriveKind, FightChoice, HoldView, Setup, Stage, State, Subject, SubjectTold, ToMember, ToServer, decode,
};

use super::crowd::{Crowd, Stuck};
use super::joining::{Invitation, said};
use super::system::PATIENCE;
use super::websocket;

/// The desk.
pub(crate) struct Desk {
    link: usize,
    arrived: Vec<u8>,
    /// The parts of a long message that have arrived.
    pieces: Vec<u8>,
    /// The state as it was told last.
    pub(crate) state: Option<State>,
    /// The fights that can be run.
    fights: Vec<FightChoice>,
    /// The run that was set up last.
    pub(crate) placed: Option<holdfast::wire::RunSheet>,
    /// The hold that was told last.
    hold: Option<HoldView>,
    /// Why something was refused, since it was last asked.
    refused: Option<String>,
}

impl Desk {
    /// Joins, and waits for the state.
    pub(crate) fn join(crowd: &mut Crowd, invitation: &Invitation) -> Result<Desk, Stuck> {
        let (link, arrived) = invitation.join("desk", None)?;
        let link = crowd.add(link.keeping(arrived));
        let mut desk = Desk {
            link,
            arrived: Vec::new(),
            pieces: Vec::new(),
            state: None,
            fights: Vec::new(),
            placed: None,
            hold: None,
            refused: None,
        };
        desk.until(crowd, "the desk is told the state", |desk| desk.state.is_some())?;
        desk.say(crowd, &ToServer::Show { subjects: Subject::ALL.into() });
        desk.until(crowd, "the desk is told of the fights", |desk| !desk.fights.is_empty())?;
        Ok(desk)
    }

    /// Its link.
    pub(crate) fn link(&self) -> usize {
        self.link
    }

    /// Says something.
    pub(crate) fn say(&self, crowd: &mut Crowd, message: &ToServer) {
        crowd.link(self.link).write(&said(message));
    }

    /// Reads what has arrived.
    pub(crate) fn read(&mut self, crowd: &mut Crowd) {
        self.arrived.append(crowd.link(self.link).kept());
        while let Some(payload) = websocket::take(&mut self.arrived) {
            self.take(&payload);
        }
    }

    fn take(&mut self, payload: &[u8]) {
        match decode::<ToMember>(payload) {
            Ok(ToMember::Piece { part, last, bytes, .. }) => {
                if part == 0 {
                    self.pieces.clear();
                }
                self.pieces.extend(bytes);
                if last {
                    let whole = std::mem::take(&mut self.pieces);
                    self.take(&whole);
                }
            }
            Ok(ToMember::Welcome(welcome)) => self.state = Some(welcome.state),
            Ok(ToMember::State(state)) => {
                self.hold.clone_from(&state.hold);
                self.state = Some(*state);
            }
            Ok(ToMember::Subject { tells: SubjectTold::Fights { fights } }) => self.fights = fights,
            Ok(ToMember::Held(hold)) => self.hold = Some(*hold),
            Ok(ToMember::Run(run)) => self.placed = Some(*run),
            Ok(ToMember::Refused { reason, .. }) => self.refused = Some(reason),
            _ => {}
        }
    }

    /// Takes turns until it is so at the desk.
    pub(crate) fn until(&mut self, crowd: &mut Crowd, what: &str, is_so: impl Fn(&Desk) -> bool) -> Result<(), Stuck> {
        let told = crowd.until(PATIENCE, what, |crowd| {
            self.read(crowd);
            is_so(self)
        });
        told.map_err(|stuck| match &self.refused {
            Some(reason) => Stuck(format!("{stuck} (refused: {reason})")),
            None => stuck,
        })
    }

    /// Lets go of the hold that stands, once the desk knows of it, and waits until it is gone.
    pub(crate) fn release(&mut self, crowd: &mut Crowd) -> Result<(), Stuck> {
        self.until(crowd, "the desk is told of the hold", |desk| desk.hold.is_some())?;
        let mut asked = None;
        let mut refused = None;
        let released = crowd.until(PATIENCE, "the hold is released", |crowd| {
            self.read(crowd);
            let stands = self.stage() == Some(Stage::Held);
            let Some(hold) = self.hold.clone() else { return !stands };
            // Once for every number of calls that the desk has seen: a refusal means that there was one more.
            let known = (hold.hold, hold.calls);
            if asked != Some(known) {
                asked = Some(known);
                self.say(crowd, &release(&hold));
            }
            if let Some(why) = self.refused.take() {
                // A machine that was busy is asked again, as the sentence says.
                asked = asked.filter(|_| !why.contains("Try again"));
                refused = Some(why);
            }
            false
        });
        self.refused = None;
        released.map_err(|stuck| Stuck(format!("{stuck} {}", refused.unwrap_or_default())))
    }

    /// Calls places for the whole of the first fight.
    pub(crate) fn places(&mut self, crowd: &mut Crowd) -> Result<(), Stuck> {
        let Some(fight) = self.fights.first() else {
            return Err(Stuck("the production has no fight".into()));
        };
        let to = u32::try_from(fight.phrases.len()).unwrap() - 1;
        let setup = Setup {
            fight: fight.fight.clone(),
            weapons: None,
            from: 0,
            from_move: None,
            to,
            percent: 100,
            count_in: 8,
            drive: DriveKind::Clock,
        };
        self.placed = None;
        let Some(seen) = self.last_event() else { return Err(Stuck("the desk knows no state".into())) };
        self.say(crowd, &ToServer::Places { setup, seen });
        self.until(crowd, "places are called", |desk| desk.placed.is_some() && desk.stage() == Some(Stage::Places))
    }

    /// Starts what was set up.
    pub(crate) fn start(&mut self, crowd: &mut Crowd) -> Result<(), Stuck> {
        let Some(run) = &self.placed else { return Err(Stuck("nothing is set up".into())) };
        let (generation, seen) = (run.generation, self.last_event());
        let Some(seen) = seen else { return Err(Stuck("the desk knows no state".into())) };
        self.say(crowd, &ToServer::Start { generation, anyway: true, seen });
        self.until(crowd, "the run starts", |desk| matches!(desk.stage(), Some(Stage::CountIn | Stage::Running)))
    }

    fn last_event(&self) -> Option<EventId> {
        self.state.as_ref().map(|state| state.last_event)
    }

    pub(crate) fn stage(&self) -> Option<Stage> {
        self.state.as_ref().map(|state| state.stage)
    }
}

fn release(hold: &HoldView) -> ToServer {
    ToServer::Release { hold: hold.hold, seen: hold.last_event }
}
