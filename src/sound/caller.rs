//! The call of the hold in the mix: it begins at a sample and sounds to its end. It is no voice among the others: no
//! generation, no choke group and no crowd ends it. One more call while it sounds begins it anew, and the one before fades
//! out: there was a release and a start between them, so it is a new danger, and its first syllable must come as promptly
//! as any. It never allocates, locks or frees.

use super::shelf::Shelf;

/// A call that sounds or is about to.
#[derive(Clone, Copy, Debug)]
struct Said {
    /// Its first sample.
    at: i64,
    /// The first sample of its fade, if it fades.
    fade_from: Option<i64>,
    /// It sounds from the shelf before the present one.
    from_old: bool,
}

/// The one call, and the one before it while that fades.
#[derive(Debug, Default)]
pub(super) struct Caller {
    now: Option<Said>,
    before: Option<Said>,
}

impl Caller {
    /// Begins the call at sample `at`; one that sounds fades from sample `now` on.
    pub(super) fn call(&mut self, now: i64, at: i64) {
        self.before = self.now.take().filter(|said| said.at < now).map(|said| Said { fade_from: Some(now), ..said });
        self.now = Some(Said { at, fade_from: None, from_old: false });
    }

    /// There is another shelf; what sounds goes on from the one before.
    pub(super) fn restock(&mut self) {
        for said in [&mut self.now, &mut self.before].into_iter().flatten() {
            said.from_old = true;
        }
    }

    /// True while it sounds from the shelf before.
    pub(super) fn needs_old(&self) -> bool {
        [self.now, self.before].into_iter().flatten().any(|said| said.from_old)
    }

    /// True while it sounds or is about to.
    pub(super) fn is_calling(&self) -> bool {
        self.now.is_some() || self.before.is_some()
    }

    /// Adds what falls into the block that begins at sample `begin`. A fade takes `fade` samples.
    pub(super) fn add(&self, out: &mut [f32], begin: i64, fade: i64, shelf: &Shelf, old: Option<&Shelf>) {
        for said in [self.before, self.now].into_iter().flatten() {
            let skip = usize::try_from(said.at - begin).unwrap_or(0);
            let done = usize::try_from(begin - said.at).unwrap_or(0);
            let sound = said.sound(shelf, old);
            for (n, (sample, value)) in out.iter_mut().skip(skip).zip(sound.iter().skip(done)).enumerate() {
                let at = begin + (skip + n) as i64;
                let left =
                    said.fade_from.map_or(1.0, |from| (fade - (at - from + 1).clamp(0, fade)) as f32 / fade as f32);
                *sample += value * left;
            }
        }
    }

    /// Forgets what is over at sample `end`.
    pub(super) fn end(&mut self, end: i64, fade: i64, shelf: &Shelf, old: Option<&Shelf>) {
        for place in [&mut self.before, &mut self.now] {
            place.take_if(|said| {
                let whole = said.at + said.sound(shelf, old).len() as i64;
                said.fade_from.map_or(whole, |from| whole.min(from + fade)) <= end
            });
        }
    }
}

impl Said {
    /// Its samples.
    fn sound<'s>(&self, shelf: &'s Shelf, old: Option<&'s Shelf>) -> &'s [f32] {
        if self.from_old { old.unwrap_or(shelf) } else { shelf }.call()
    }
}
