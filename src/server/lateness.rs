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
    /// The median of how late the last cues were shown, as the desk is told of it.
    pub(super) late: Option<Micros>,
    reports: VecDeque<Micros>,
}

impl Default for Device {
    fn default() -> Device {
        Device { visible: true, bound: None, late: None, reports: VecDeque::new() }
    }
}

impl Device {
    fn median(&self) -> Option<Micros> {
        let mut sorted: Vec<_> = self.reports.iter().copied().collect();
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
        let tells = device.visible != visible || has_moved(device.bound, bound);
        device.visible = visible;
        if tells {
            device.bound = bound;
        }
        tells
    }

    /// Takes a report of a cue that was shown so late. True when the desk should see the difference: the median is first
    /// known or has changed by more than half.
    pub(super) fn fired(&mut self, member: MemberId, late: Micros) -> bool {
        let device = self.devices.entry(member).or_default();
        device.reports.push_back(late);
        if device.reports.len() > KEPT {
            device.reports.pop_front();
        }
        let median = device.median();
        let tells = has_moved(device.late, median);
        if tells {
            device.late = median;
        }
        tells
    }

    pub(super) fn forget(&mut self, member: MemberId) {
        self.devices.remove(&member);
    }
}

/// True when a time is first known, known no more, or has changed by more than half, and by more than half a
/// millisecond.
fn has_moved(old: Option<Micros>, new: Option<Micros>) -> bool {
    match (old, new) {
        (Some(old), Some(new)) => (new.0 - old.0).abs() * 2 > old.0.abs().max(1_000),
        (old, new) => old.is_some() != new.is_some(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_desk_sees_the_median_of_the_last_reports() {
        let mut devices = Devices::default();
        let member = MemberId(3);
        assert_eq!(devices.get(member).late, None);
        let told = [3_000, 3_100, 90_000, 2_900, 3_050].map(|late| devices.fired(member, Micros(late)));
        assert_eq!(told, [true, false, false, false, false], "only what the desk should see is told");
        assert_eq!(devices.get(member).late, Some(Micros(3_000)), "one hiccup does not show");
        for _ in 0..KEPT {
            devices.fired(member, Micros(50_000));
        }
        assert_eq!(devices.get(member).late, Some(Micros(50_000)), "old reports are forgotten");
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
