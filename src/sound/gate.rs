//! The gate between the sounds of a show and the loudspeakers: it opens and closes without a click. Sounds go on behind it.

/// How far open it is, and is to be.
#[derive(Clone, Copy, Debug)]
pub(super) struct Gate {
    /// 1 when everything passes, 0 when nothing does.
    open: f32,
    target: f32,
}

impl Gate {
    /// A gate that is open.
    pub(super) const OPEN: Gate = Gate { open: 1.0, target: 1.0 };

    /// It is to open, or to close.
    pub(super) fn mute(&mut self, muted: bool) {
        self.target = if muted { 0.0 } else { 1.0 };
    }

    /// True while anything passes.
    pub(super) fn is_open(self) -> bool {
        self.open > 0.0
    }

    /// Lets these samples pass as far as it is open meanwhile; all the way takes it `fade` samples.
    pub(super) fn pass(&mut self, samples: &mut [f32], fade: i64) {
        if self.open == self.target {
            if !self.is_open() {
                samples.fill(0.0);
            }
            return;
        }
        let step = 1.0 / fade.max(1) as f32;
        for sample in samples {
            self.open += (self.target - self.open).clamp(-step, step);
            *sample *= self.open;
        }
    }
}
