//! How late cues were shown, member by member, and how well each device knows the time: what the desk sees of it.

use std::collections::{BTreeMap, HashMap, VecDeque};

use super::request::{LinkId, Speaker};
use crate::call::MemberId;
use crate::clock::GOOD_ENOUGH;
use crate::units::Micros;

/// A clock that was not good enough is again when it is known to within this part of what is good enough.
const GOOD_AGAIN: (i64, i64) = (5, 6);

/// So many members are named whose clock is not good enough; the rest are counted.
const NAMED: usize = 3;

/// How many of a member's last reports are kept.
const KEPT: usize = 15;

/// What members' pages say of themselves. A member with several is in sight when one of them is, and known as well as the
/// worst of those in sight: nobody knows which of them they look at.
#[derive(Debug, Default)]
pub(super) struct Devices {
    devices: HashMap<MemberId, Device>,
}

/// What a page says of itself.
#[derive(Clone, Copy, Debug)]
struct Page {
    visible: bool,
    bound: Option<Micros>,
}

/// One member's device.
#[derive(Clone, Debug)]
pub(super) struct Device {
    /// Its pages that are linked; nothing of one that has not said yet how it is.
    pages: BTreeMap<LinkId, Option<Page>>,
    pub(super) visible: bool,
    pub(super) bound: Option<Micros>,
    /// The median of how late the last cues were shown, as the desk is told of it.
    pub(super) late: Option<Micros>,
    /// True while its clock is not good enough to be cued by.
    doubtful: bool,
    reports: VecDeque<Micros>,
}

impl Default for Device {
    fn default() -> Device {
        Device {
            pages: BTreeMap::new(),
            visible: true,
            bound: None,
            late: None,
            doubtful: false,
            reports: VecDeque::new(),
        }
    }
}

impl Device {
    /// Whether its clock is in doubt with that bound. A clock near the limit does not go in and out of doubt.
    fn is_doubtful_with(&self, bound: Option<Micros>) -> bool {
        let (part, of) = GOOD_AGAIN;
        let limit = if self.doubtful { Micros(GOOD_ENOUGH.0 * part / of) } else { GOOD_ENOUGH };
        bound.is_some_and(|bound| bound > limit)
    }

    /// True when a page of it can be seen, and the bound of the worst clock among those that can; of all, when none can.
    fn together(&self) -> (bool, Option<Micros>) {
        let pages = || self.pages.values().flatten();
        let visible = pages().any(|page| page.visible);
        let counting = pages().filter(|page| page.visible == visible);
        (visible, counting.filter_map(|page| page.bound).max())
    }

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

    /// A page is open from here on.
    pub(super) fn linked(&mut self, Speaker { member, link }: Speaker) {
        self.devices.entry(member).or_default().pages.insert(link, None);
    }

    /// Takes a pulse. True when the desk should see the difference: shown or hidden, a bound first known or changed
    /// by more than half, a clock that is no longer good enough, or is again. What a page sent before it was gone, and
    /// is read after, says nothing of how its member is.
    pub(super) fn pulse(&mut self, by: Speaker, visible: bool, bound: Option<Micros>) -> bool {
        let Some(device) = self.devices.get_mut(&by.member) else { return false };
        let Some(page) = device.pages.get_mut(&by.link) else { return false };
        *page = Some(Page { visible, bound });
        let (visible, bound) = device.together();
        let doubtful = device.is_doubtful_with(bound);
        let tells = device.visible != visible || device.doubtful != doubtful || has_moved(device.bound, bound);
        device.visible = visible;
        device.doubtful = doubtful;
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

    /// Which of these linked members' clocks are not good enough, in a sentence for the desk; nothing when all are, or
    /// nothing is known yet.
    pub(super) fn doubtful_clocks<'a>(&self, linked: impl Iterator<Item = (MemberId, &'a str)>) -> Option<String> {
        let doubtful = |id: MemberId| self.devices.get(&id).filter(|device| device.doubtful)?.bound;
        let mut found: Vec<(Micros, &str)> = linked.filter_map(|(id, name)| Some((doubtful(id)?, name))).collect();
        found.sort_by_key(|(bound, _)| std::cmp::Reverse(*bound));
        let (worst, _) = found.first()?;
        let mut names: Vec<String> = found.iter().take(NAMED).map(|(_, name)| (*name).to_owned()).collect();
        match found.len().saturating_sub(NAMED) {
            0 => {}
            1 => names.push("1 more".to_owned()),
            more => names.push(format!("{more} more")),
        }
        let last = names.pop()?;
        let whose = if names.is_empty() { last } else { format!("{} and {last}", names.join(", ")) };
        Some(format!(
            "The clock is not good enough for: {whose}. It is known there only to within {} ms, so cues may come that much \
             early or late; {} ms would do. Their network is slow or uneven: bring them nearer to the access point, \
             or count for them out loud.",
            worst.0.div_euclid(1_000),
            GOOD_ENOUGH.0 / 1_000,
        ))
    }

    /// True when the member can see another page than that one.
    pub(super) fn sees_another(&self, Speaker { member, link }: Speaker) -> bool {
        let pages = self.devices.get(&member).map(|device| &device.pages);
        pages.is_some_and(|pages| {
            pages.iter().any(|(other, page)| *other != link && page.is_some_and(|page| page.visible))
        })
    }

    /// A page is gone. What was told of its member stays until another one says how it is.
    pub(super) fn gone(&mut self, Speaker { member, link }: Speaker) {
        if let Some(device) = self.devices.get_mut(&member) {
            device.pages.remove(&link);
        }
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

    /// The one page of a member.
    fn page(member: MemberId) -> Speaker {
        Speaker { member, link: LinkId(u64::from(member.0)) }
    }

    /// Members with a page each.
    fn with_pages(members: impl IntoIterator<Item = u32>) -> Devices {
        let mut devices = Devices::default();
        members.into_iter().for_each(|member| devices.linked(page(MemberId(member))));
        devices
    }

    #[test]
    fn a_pulse_that_is_read_after_its_page_is_gone_counts_for_nothing() {
        let mut devices = Devices::default();
        let member = MemberId(3);
        let [joined, seat] = [1, 2].map(|link| Speaker { member, link: LinkId(link) });
        devices.linked(joined);
        devices.pulse(joined, true, None);
        devices.gone(joined);
        devices.linked(seat);
        assert!(!devices.pulse(joined, true, Some(Micros(90_000))), "nobody is told of it");
        devices.pulse(seat, false, Some(Micros(2_000)));
        assert!(!devices.get(member).visible && !devices.sees_another(seat));
        assert_eq!(devices.get(member).bound, Some(Micros(2_000)));
        devices.forget(member);
        assert!(!devices.pulse(seat, true, None), "nor of a member who is nobody's any more");
    }

    #[test]
    fn of_several_pages_those_in_sight_count_and_the_worst_of_them() {
        let mut devices = Devices::default();
        let member = MemberId(3);
        let [desk, review] = [1, 2].map(|link| Speaker { member, link: LinkId(link) });
        for page in [desk, review] {
            devices.linked(page);
        }
        devices.pulse(desk, true, Some(Micros(2_000)));
        devices.pulse(review, false, Some(Micros(90_000)));
        let seen = |devices: &Devices| (devices.get(member).visible, devices.get(member).bound.map(|bound| bound.0));
        assert_eq!(seen(&devices), (true, Some(2_000)), "a page that nobody sees does not count");
        assert!(devices.sees_another(review) && !devices.sees_another(desk));
        devices.pulse(review, true, Some(Micros(90_000)));
        assert_eq!(seen(&devices), (true, Some(90_000)), "nobody knows which of the two is looked at");
        devices.gone(review);
        devices.pulse(desk, false, Some(Micros(2_000)));
        assert_eq!(seen(&devices), (false, Some(2_000)));
    }

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
        let mut devices = with_pages([3]);
        let member = MemberId(3);
        assert!(devices.pulse(page(member), true, Some(Micros(4_000))));
        assert!(!devices.pulse(page(member), true, Some(Micros(4_400))));
        assert!(devices.pulse(page(member), false, Some(Micros(4_400))));
        assert!(devices.pulse(page(member), false, Some(Micros(40_000))));
    }

    #[test]
    fn a_clock_that_is_not_good_enough_is_told_in_words_until_it_is_clearly_again() {
        let linked = || (1..).map(MemberId).zip(["Ana", "Bela", "Cyr", "Dot", "Eno"]);
        let mut devices = with_pages(1..=5);
        devices.pulse(page(MemberId(2)), true, Some(Micros(24_000)));
        assert_eq!(devices.doubtful_clocks(linked()), None);
        assert!(
            devices.pulse(page(MemberId(2)), true, Some(Micros(31_000))),
            "told, though it has not changed by half"
        );
        let says = devices.doubtful_clocks(linked()).unwrap();
        assert!(says.contains("for: Bela. It is known there only to within 31 ms"), "{says}");
        assert!(!devices.pulse(page(MemberId(2)), true, Some(Micros(28_000))), "no coming and going at the limit");
        for id in [1, 3, 4, 5] {
            devices.pulse(page(MemberId(id)), true, Some(Micros(40_000 + i64::from(id))));
        }
        let says = devices.doubtful_clocks(linked()).unwrap();
        assert!(says.contains("for: Eno, Dot, Cyr and 2 more. It is known there only to within 40 ms"), "{says}");
        assert!(devices.pulse(page(MemberId(2)), true, Some(Micros(24_000))));
        assert!(!devices.doubtful_clocks(linked()).unwrap().contains("Bela"));
    }
}
