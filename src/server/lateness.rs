//! How late cues were shown, member by member: what the desk sees of the last of them.

use std::collections::{HashMap, VecDeque};

use crate::call::MemberId;
use crate::units::Micros;

/// How many of a member's last reports are kept.
const KEPT: usize = 15;

/// What members' devices say of themselves.
#[derive(Debug, Default)]
pub(super) struct Devices {
    devices: HashMap<MemberId, Device>,
}

/// One member's device.
#[derive(Clone, Debug)]
pub(super) struct Device {
    pub(super) visible: bool,
    pub(super) bound: Option<Micros>,
    late: VecDeque<Micros>,
}

impl Default for Device {
    fn default() -> Device {
        Device { visible: true, bound: None, late: VecDeque::new() }
    }
}

impl Device {
    /// The median of how late the last cues were shown.
    pub(super) fn lateness(&self) -> Option<Micros> {
        let mut sorted: Vec<_> = self.late.iter().copied().collect();
        sorted.sort_unstable();
        sorted.get(sorted.len() / 2).copied()
    }
}

impl Devices {
    pub(super) fn get(&self, member: MemberId) -> Device {
        self.devices.get(&member).cloned().unwrap_or_default()
    }

    /// Takes a pulse. True when the desk should see the difference: shown or hidden, a bound first known or changed
    /// by more than half.
    pub(super) fn pulse(&mut self, member: MemberId, visible: bool, bound: Option<Micros>) -> bool {
        let device = self.devices.entry(member).or_default();
        let moved = match (device.bound, bound) {
            (Some(old), Some(new)) => (new.0 - old.0).abs() * 2 > old.0.abs().max(1_000),
            (old, new) => old.is_some() != new.is_some(),
        };
        let tells = device.visible != visible || moved;
        device.visible = visible;
        if tells {
            device.bound = bound;
        }
        tells
    }

    /// Takes a report of a cue that was shown so late.
    pub(super) fn fired(&mut self, member: MemberId, late: Micros) {
        let device = self.devices.entry(member).or_default();
        device.late.push_back(late);
        if device.late.len() > KEPT {
            device.late.pop_front();
        }
    }

    pub(super) fn forget(&mut self, member: MemberId) {
        self.devices.remove(&member);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_desk_sees_the_median_of_the_last_reports() {
        let mut devices = Devices::default();
        let member = MemberId(3);
        assert_eq!(devices.get(member).lateness(), None);
        for late in [1, 2, 900, 3, 4] {
            devices.fired(member, Micros(late));
        }
        assert_eq!(devices.get(member).lateness(), Some(Micros(3)), "one hiccup does not show");
        for _ in 0..KEPT {
            devices.fired(member, Micros(50));
        }
        assert_eq!(devices.get(member).lateness(), Some(Micros(50)), "old reports are forgotten");
    }

    #[test]
    fn a_pulse_tells_the_desk_only_what_changed() {
        let mut devices = Devices::default();
        let member = MemberId(3);
        assert!(devices.pulse(member, true, Some(Micros(4_000))));
        assert!(!devices.pulse(member, true, Some(Micros(4_400))));
        assert!(devices.pulse(member, false, Some(Micros(4_400))));
        assert!(devices.pulse(member, false, Some(Micros(40_000))));
    }
}
