//! What the hub does for sounds. The effects of a run: when a moment's cue goes out, its sounds are planned, each once;
//! one that its trim puts before its line goes out with the cue before which it is heard. And the sound page: its wishes
//! are carried out here.

use tokio::task::spawn_blocking;
use tracing::warn;

use super::deed::Deed;
use super::hub::{Hub, Parts};
use super::request::{Asker, LinkId, Request, Speaker};
use super::sockets::{Frame, Latest, framed};
use super::sound_page::{Lent, LoopAsked, Operator, SoundPage, Wish};
use crate::call::{CueOut, Input};
use crate::sound::{InRun, cued};
use crate::units::{Micros, ServerTime};
use crate::wire::{SoundAsk, SoundLane, SoundTold, ToMember};

impl Hub {
    /// Plans the sounds that are due with a cue. In a walk-through, which has no times, there are none.
    pub(super) fn plan_sounds(&mut self, cue: &CueOut) {
        let (Some(run), Some(library)) = (self.parts.call.run(), self.parts.sound.library()) else { return };
        let Some(start) = run.start else { return };
        let first = run.plan.moments().first().map_or(Micros::ZERO, |first| first.time);
        let in_run = InRun { number: run.number, start, begins: start + first, generation: cue.generation };
        for sound in self.sounding.reached(run, cue, |name| library.earliest(name)) {
            let name = sound.name;
            let Some(cued) = cued(&library, &run.plan, sound.index, in_run) else {
                warn!(name, "there is no such sound, so nothing is heard; put a recording of that name into sounds/");
                continue;
            };
            if let Some(early) = cued.clamped {
                let early = early.as_millis();
                warn!(name, "its trim would put it {early} ms before the run begins; it is heard as the run begins");
            }
            if self.page.goes_out(SoundLane::Effects) {
                self.parts.sound.plan(cued.voice);
            }
        }
    }

    /// What a member asks of the sound page.
    pub(super) fn sound_ask(&mut self, by: Speaker, ask: SoundAsk) -> Vec<Deed> {
        let Speaker { member, link } = by;
        let Some(known) = self.parts.call.roster().get(member) else { return Vec::new() };
        let asker = Operator { link, person: Asker { member, name: known.name.clone(), role: known.role } };
        let now = self.parts.clock.now();
        let (page, mut lent) = self.lend();
        deeds(page.ask(now, &asker, ask, &mut lent))
    }

    /// The sound page has something to do because of the time.
    pub(super) fn sound_tick(&mut self, now: ServerTime) -> Vec<Deed> {
        let (page, mut lent) = self.lend();
        deeds(page.tick(now, &mut lent))
    }

    /// What was chosen on the sound page could not be written, or could be again.
    pub(super) fn sound_kept(&mut self, trouble: Option<String>) -> Vec<Deed> {
        deeds(self.page.kept(trouble, &self.parts.sound))
    }

    /// A loop begins.
    pub(super) fn begin_loop(&mut self, asked: LoopAsked) -> Vec<Deed> {
        let now = self.parts.clock.now();
        let (page, mut lent) = self.lend();
        deeds(page.begin(now, asked, &mut lent))
    }

    /// The sound page, and what it is lent.
    fn lend(&mut self) -> (&mut SoundPage, Lent<'_>) {
        let Parts { call, sound, outputs, .. } = &mut self.parts;
        (&mut self.page, Lent { call, sound, outputs })
    }

    /// Tells a page what takes a while to find out, where nobody waits for it.
    pub(super) fn find_out(&self, link: LinkId, find_out: Box<dyn FnOnce() -> SoundTold + Send>) {
        let hub = self.to_hub.clone();
        spawn_blocking(move || {
            let message = Box::new(ToMember::Sound { tells: find_out() });
            // A hub that has gone needs no telling.
            let _ = hub.requests.blocking_send(Request::Say(link, message));
        });
    }

    /// Tells those who watch the sound page.
    pub(super) fn tell_watchers(&mut self, tells: &SoundTold) {
        let Some(framed) = framed(&ToMember::Sound { tells: tells.clone() }) else { return };
        let frame = match tells {
            SoundTold::Now(_) => Frame::Latest(Latest::Sound, framed),
            SoundTold::Sounds { .. } => Frame::Latest(Latest::Sounds, framed),
            SoundTold::Scores | SoundTold::Cues(_) | SoundTold::Devices { .. } => Frame::Message(framed),
        };
        let watching = self.page.watchers.iter().copied().collect();
        self.parts.lines.send_some(watching, frame);
    }
}

/// What the sound page wishes, as deeds.
fn deeds(wishes: Vec<Wish>) -> Vec<Deed> {
    wishes.into_iter().flat_map(of_wish).collect()
}

fn of_wish(wish: Wish) -> Vec<Deed> {
    vec![match wish {
        Wish::Note(who, what) => Deed::Note(who, what),
        Wish::Keep(what) => Deed::Keep(what),
        Wish::Hush => Deed::Give(Input::Hush),
        Wish::Begin(asked) => return vec![Deed::Give(Input::Hush), Deed::BeginLoop(asked)],
        Wish::Tell(tells) => Deed::TellWatchers(tells),
        Wish::Say(link, tells) => Deed::Say(link, Box::new(ToMember::Sound { tells })),
        Wish::FindOut(link, find_out) => Deed::FindOut(link, find_out),
        Wish::Refuse(link, reason) => Deed::Refuse(link, "sound", reason),
        Wish::Changed => Deed::Changed,
    }]
}
