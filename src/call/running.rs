//! Runs: places, ready, start, step, speed, stop, the end; and what time alone does to a run that goes.

use super::drive::Stepped;
use super::machine::Going;
use super::signing::named;
use super::{Call, CueOut, Drive, Fight, MemberId, Output, Run, Setup, SetupRequest, Spot, Stage, Step, Way, drive};
use crate::event::{Entry, Event, EventId, Revision, RunEnd, Sight, UnderWay, What};
use crate::rules::STEP_BOUNCE;
use crate::timeline::{Click, Reader};
use crate::units::{Generation, ServerTime, Speed};

impl Call {
    /// Calls places: for an item of tonight's order, or for what somebody has chosen.
    pub(super) fn places(
        &mut self,
        member: MemberId,
        request: &SetupRequest,
        seen: EventId,
        item: Option<u32>,
    ) -> Result<(), String> {
        match &self.stage {
            Stage::Held(..) => return Err("A hold stands. Release it first, then call places.".to_owned()),
            Stage::Going(..) => return Err("A run is going. Hold or stop it first, then call places.".to_owned()),
            Stage::Idle | Stage::Places(_) | Stage::Stopped(..) | Stage::Complete(_) => {}
        }
        let setup = Setup::check(request, &self.fights).map_err(|error| error.to_string())?;
        let seen = self.sights.refuse_unseen(Sight::Stage, seen);
        if seen.is_err() && self.has_just_called(member, &setup) {
            return Ok(());
        }
        seen.map_err(|since| format!("{since} Look again, then call places."))?;
        self.raise();
        self.ensemble.roster_mut().clear_ready();
        let of_item = self.item_of(&setup, item);
        let run = Run { of_item, ..Run::new(self.next_run, setup) };
        self.over = false;
        let weapons = run.setup.fight.weapons.as_ref().map(|weapons| format!(", with the weapons “{weapons}”"));
        let set_up = format!(
            "{}, {}{} to {}, {}{}",
            run.setup.fight.score.name,
            run.plan.phrases().first().map_or("", |phrase| phrase.name.as_str()),
            run.setup.begin.as_ref().map_or_else(String::new, |begin| format!(" from move {}", begin.number)),
            run.plan.phrases().last().map_or("", |phrase| phrase.name.as_str()),
            match run.setup.drive {
                Drive::Clock => run.setup.speed.to_string(),
                Drive::Step => "step by step".to_owned(),
            },
            weapons.unwrap_or_default()
        );
        self.stage = Stage::Places(run);
        self.out.push(Output::RunChanged);
        self.out.push(Output::Changed);
        let what = What::Places { set_up: Some(set_up) };
        let event = Event { who: self.who(member), ..self.event(what) };
        self.write(event);
        Ok(())
    }

    /// True when that member called the places that stand, for just that: whoever presses twice calls once.
    fn has_just_called(&self, member: MemberId, setup: &Setup) -> bool {
        let Stage::Places(run) = &self.stage else { return false };
        run.setup.is_as(setup) && self.sights.stage_by() == member.of_person()
    }

    pub(super) fn ready(&mut self, member: MemberId, ready: bool, generation: Generation) -> Result<(), String> {
        if !matches!(self.stage, Stage::Places(_)) {
            return Err("Places have not been called. Wait for the stage manager.".to_owned());
        }
        if generation != self.generation {
            return Err("Places have been called anew. Look at your screen and say ready again.".to_owned());
        }
        if let Some(member) = self.ensemble.roster_mut().get_mut(member) {
            member.ready = ready;
        }
        self.out.push(Output::Changed);
        if ready {
            let event = Event { who: self.who(member), ..self.event(What::Ready) };
            self.write(event);
        }
        Ok(())
    }

    pub(super) fn start(
        &mut self,
        member: MemberId,
        generation: Generation,
        anyway: bool,
        seen: EventId,
    ) -> Result<(), String> {
        let Stage::Places(run) = &self.stage else {
            return Err("Call places first; a run starts only from places.".to_owned());
        };
        if generation != self.generation {
            return Err("Places have been called anew since. Look again, then start.".to_owned());
        }
        let seen = self.sights.refuse_unseen(Sight::Start, seen);
        seen.map_err(|since| format!("{since} Look again, then start."))?;
        let doubts = self.doubts(run);
        if !anyway && !doubts.is_empty() {
            return Err(format!("{} Wait, or start anyway.", doubts.join(" ")));
        }
        let Stage::Places(mut run) = std::mem::replace(&mut self.stage, Stage::Idle) else { return Ok(()) };
        self.next_run = run.number.saturating_add(1);
        let driver = drive::begin(&mut run, self.now, self.settings.lead, self.settings.horizon);
        run.begun = true;
        run.away = self.signing.away().map(str::to_owned).collect();
        let beginning = self.beginning(member, &run, &doubts);
        let counting_in = driver.counts_in(self.now, &run);
        self.stage = Stage::Going(run, Going::begins(driver, counting_in));
        self.out.push(Output::Lives(self.generation));
        self.out.push(Output::RunChanged);
        self.out.push(Output::Changed);
        beginning.into_iter().for_each(|entry| self.write(entry));
        self.advance();
        Ok(())
    }

    /// What is written of a run that begins: its score, all that there is to know of it, and that it was started.
    fn beginning(&mut self, member: MemberId, run: &Run, doubts: &[String]) -> [Entry; 3] {
        let Fight { score, revision, text, .. } = run.setup.fight.as_ref();
        let (fight, sha256, text) = (score.name.clone(), revision.clone(), text.clone());
        let revision = Revision { sha256, fight, text };
        let begun = run.beginning(self.cast_written(run), self.now);
        let anyway = (!doubts.is_empty()).then(|| doubts.join(" "));
        let event = Event {
            who: self.who(member),
            run: Some(run.number),
            percent: run.speed_at(0).map(Speed::as_percent),
            ..self.event(What::Start { anyway, begun: Some(Box::new(begun.clone())) })
        };
        [revision.into(), begun.into(), event.into()]
    }

    /// What speaks against starting, a sentence each.
    fn doubts(&self, run: &Run) -> Vec<String> {
        let mut doubts = Vec::new();
        let fight = &run.setup.fight;
        if fight.errors > 0 && run.setup.drive == Drive::Clock {
            doubts.push(format!("The checks found {} errors in this fight.", fight.errors));
        }
        let mut waiting = Vec::new();
        let mut lost = Vec::new();
        let mut nobody = Vec::new();
        let cast = self.cast_of(fight);
        for fighter in &fight.score.fighters {
            match cast.player(&fighter.name).and_then(|id| self.ensemble.roster().get(id)) {
                None => nobody.push(fighter.name.as_str()),
                Some(member) if !member.linked => lost.push(fighter.name.as_str()),
                Some(member) if !member.ready => waiting.push(fighter.name.as_str()),
                Some(_) => {}
            }
        }
        for (names, what) in [(waiting, "not ready"), (lost, "without a link"), (nobody, "not present")] {
            if !names.is_empty() {
                doubts.push(format!("{} {} {what}.", names.join(", "), if names.len() == 1 { "is" } else { "are" }));
            }
        }
        doubts.extend(self.signing.doubts());
        doubts
    }

    /// A step, from what was on the asker's screen. The same step asked for twice, by one person or by two, is one, and
    /// nobody is told that it was late.
    pub(super) fn step(&mut self, member: MemberId, Step { generation, from, way }: Step) -> Result<(), String> {
        let walked_to_its_end = matches!(&self.stage, Stage::Complete(run) if run.setup.drive == Drive::Step);
        if walked_to_its_end && from.is_some() && generation.next() == self.generation {
            return Ok(());
        }
        if generation != self.generation {
            return Err("The run has changed since. Look again before you step.".to_owned());
        }
        let now = self.now;
        let Stage::Going(run, going) = &mut self.stage else {
            return Err("Nothing is running that could be stepped.".to_owned());
        };
        if from.is_some() && going.driver.steps().is_some_and(|steps| from != Some(steps)) {
            return Ok(());
        }
        match going.driver.step(run, way) {
            Stepped::Taken => going.foot_rests = now + STEP_BOUNCE,
            Stepped::AtTheFirst => {
                return Err("This is the first move: there is none before it to go back to.".to_owned());
            }
            Stepped::ByClock => {
                return Err("This run goes by the clock. Set up a walk-through to go step by step.".to_owned());
            }
        }
        let number = run.number;
        self.out.push(Output::Changed);
        self.advance();
        if let Some(spot) = self.spot() {
            let (who, run, spot) = (self.who(member), Some(number), Some(spot));
            let event = Event { who, run, spot, ..self.event(What::Step { back: way == Way::Back }) };
            self.write(event);
        }
        Ok(())
    }

    /// The foot switch steps on. It has no screen, so what comes within [`STEP_BOUNCE`] of the last step, whoever made it,
    /// or of its own last press, is no step more. In any other run a step is nothing, and nobody is told.
    pub(super) fn foot_step(&mut self) {
        let now = self.now;
        let Stage::Going(_, going) = &mut self.stage else { return };
        let rests = now < going.foot_rests;
        going.foot_rests = now + STEP_BOUNCE;
        if !rests {
            let step = Step { generation: self.generation, from: None, way: Way::On };
            let _ = self.step(MemberId::FOOT_SWITCH, step);
        }
    }

    pub(super) fn speed(&mut self, member: MemberId, percent: u16) -> Result<(), String> {
        let speed = Speed::percent(percent).ok_or_else(|| {
            format!("A speed of {percent} % is out of range. Choose 10 % to 150 % of performance tempo.")
        })?;
        let Stage::Going(run, going) = &mut self.stage else {
            return Err("Nothing is running. Choose the speed when you call places.".to_owned());
        };
        let Some(phrase) = going.driver.first_free_phrase(run) else {
            return Err(
                "No phrase begins after this one, so the speed stays. Choose it when you call places.".to_owned()
            );
        };
        run.plan.set_speed_from(phrase, speed);
        let name = run.plan.phrases().get(phrase).map(|phrase| phrase.name.clone()).unwrap_or_default();
        let number = run.number;
        self.out.push(Output::RunChanged);
        self.out.push(Output::Changed);
        let event = Event {
            who: self.who(member),
            run: Some(number),
            spot: self.spot(),
            percent: Some(speed.as_percent()),
            ..self.event(What::Speed { from: Some(name) })
        };
        self.write(event);
        Ok(())
    }

    pub(super) fn stop(&mut self, member: MemberId, reason: String) -> Result<(), String> {
        let reason = match reason.trim() {
            "" => "no reason given".to_owned(),
            reason => reason.to_owned(),
        };
        match &self.stage {
            Stage::Going(..) | Stage::Places(_) => {}
            Stage::Held(..) => return Err("A hold stands already; everything is still.".to_owned()),
            _ => return Err("Nothing is running that could be stopped.".to_owned()),
        }
        let (last, speed) = (self.spot(), self.speed_here());
        let (spot, under_way) = self.called_here(member);
        self.raise();
        self.ended_at = None;
        let ended = match std::mem::replace(&mut self.stage, Stage::Idle) {
            Stage::Going(run, _) => {
                let ended = run.ended(RunEnd::Stopped, last, self.now);
                self.ended_at = Some(self.now);
                self.stage = Stage::Stopped(Some(run), format!("Stopped: {reason}."));
                Some(ended)
            }
            Stage::Places(run) => {
                self.stage = Stage::Stopped(Some(run), format!("Places were called off: {reason}."));
                None
            }
            other => {
                self.stage = other;
                None
            }
        };
        self.out.push(Output::Changed);
        let event = Event {
            who: self.who(member),
            run: ended.as_ref().map(|ended| ended.run),
            spot,
            percent: speed.map(Speed::as_percent),
            ..self.event(What::Stop { reason: Some(reason), under_way })
        };
        self.write(event);
        if let Some(ended) = ended {
            self.write(ended);
        }
        Ok(())
    }

    pub(super) fn end_call(&mut self, member: MemberId, signed_by: Option<String>) -> Result<(), String> {
        match &self.stage {
            Stage::Held(..) => return Err("A hold stands. Release it first, then end the call.".to_owned()),
            Stage::Going(..) => return Err("A run is going. Hold or stop it first, then end the call.".to_owned()),
            Stage::Idle | Stage::Places(_) | Stage::Stopped(..) | Stage::Complete(_) => {}
        }
        let signed_by = named(signed_by)?;
        self.raise();
        self.stage = Stage::Idle;
        self.ensemble.roster_mut().clear_ready();
        self.ensemble.roster_mut().begin_anew();
        self.past_holds.clear();
        self.forget_near_misses();
        self.begin_evening();
        self.over = true;
        self.trial = None;
        self.signing.clear();
        self.out.push(Output::Changed);
        let event = Event { who: self.who(member), ..self.event(What::End { signed_by }) };
        self.write(event);
        Ok(())
    }

    fn speed_here(&self) -> Option<Speed> {
        let Stage::Going(run, going) = &self.stage else { return None };
        run.speed_at(going.driver.reached(self.now, run).unwrap_or(0))
    }

    /// The place where a member stops the run now, and the moves that are under way, those of their own fighter first.
    fn called_here(&mut self, member: MemberId) -> (Option<Spot>, Vec<UnderWay>) {
        let Stage::Going(run, going) = &mut self.stage else { return (None, Vec::new()) };
        let part = run.part(going.kept.reading(&self.ensemble, run).of(member));
        going.driver.reached(self.now, run).map(|reached| run.called_at(reached, part)).unwrap_or_default()
    }

    /// What time alone does: cues that are to be sent, phrases that are reached, the end.
    pub(super) fn advance(&mut self) {
        self.trial_is_over();
        if !matches!(self.stage, Stage::Going(..)) {
            return;
        }
        let Stage::Going(run, mut going) = std::mem::replace(&mut self.stage, Stage::Idle) else { return };
        while let Some(moment) = going.driver.next_cue(self.now, &run) {
            let step = going.driver.steps();
            self.cue(&run, moment, step, going.kept.reading(&self.ensemble, &run).readers().to_vec());
        }
        let reached = self.phrases_reached(&run, &mut going, self.now);
        reached.into_iter().for_each(|event| self.write_by_time(event.at, event));
        if going.counting_in && !going.driver.counts_in(self.now, &run) {
            going.counting_in = false;
            self.out.push(Output::Changed);
        }
        if going.driver.is_over(self.now, &run) {
            self.complete(run, &going);
        } else {
            self.stage = Stage::Going(run, going);
        }
    }

    fn complete(&mut self, run: Run, going: &Going) {
        let reached = going.driver.reached(self.now, &run);
        let (number, spot) = (run.number, reached.and_then(|moment| run.spot(moment)));
        let percent = run.speed_at(reached.unwrap_or(0)).map(Speed::as_percent);
        let ended = run.ended(RunEnd::Complete, spot.clone(), self.now);
        self.item_ran(&run);
        self.stage = Stage::Complete(run);
        self.raise();
        self.out.push(Output::Changed);
        let event = Event { run: Some(number), spot, percent, ..self.event(What::Complete) };
        self.write_by_time(self.now, event);
        self.write_by_time(self.now, ended);
    }

    fn cue(&mut self, run: &Run, number: usize, step: Option<u32>, readers: Vec<(Reader, Vec<MemberId>)>) {
        let Some(moment) = run.plan.moments().get(number) else { return };
        let due = run.due(moment);
        if let (Some(due), Click::Accent | Click::Beat) = (due, moment.click) {
            let accent = moment.click == Click::Accent;
            self.out.push(Output::Click { due, accent, generation: self.generation });
        }
        self.out.push(Output::Cue(CueOut {
            run: run.number,
            generation: self.generation,
            moment: number,
            step,
            due,
            readers,
        }));
    }

    /// Gives somebody who comes in during a run the cues that are on their way to everybody else.
    pub(super) fn catch_up(&mut self, id: MemberId) {
        let Stage::Going(run, going) = &mut self.stage else { return };
        let reader = going.kept.reading(&self.ensemble, run).of(id);
        for number in going.driver.pending(self.now, run) {
            let Some(moment) = run.plan.moments().get(number) else { continue };
            self.out.push(Output::Cue(CueOut {
                run: run.number,
                generation: self.generation,
                moment: number,
                step: going.driver.steps(),
                due: run.due(moment),
                readers: vec![(reader, vec![id])],
            }));
        }
    }

    /// The phrases that have begun by `at` since it was last asked, an event each.
    pub(super) fn phrases_reached(&mut self, run: &Run, going: &mut Going, at: ServerTime) -> Vec<Event> {
        let Some(reached) = going.driver.reached(at, run) else { return Vec::new() };
        let Some(here) = run.plan.moments().get(reached).filter(|moment| moment.count_in.is_none()) else {
            return Vec::new();
        };
        let first = going.phrase.map_or(0, |phrase| phrase + 1);
        let mut events = Vec::new();
        for phrase in first..=here.phrase_in_range {
            let begins = run
                .plan
                .moments()
                .partition_point(|moment| moment.count_in.is_some() || moment.phrase_in_range < phrase);
            events.push(Event {
                at,
                run: Some(run.number),
                spot: run.spot(begins),
                percent: run.speed_at(begins).map(Speed::as_percent),
                ..self.event(What::Phrase)
            });
            going.phrase = Some(phrase);
        }
        events
    }
}
