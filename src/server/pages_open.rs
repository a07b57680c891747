//! The pages that members have open, each over a line of its own: desk and review, or a phone and a tablet. A page that
//! comes back takes the place of its line before; one page more than a member may have closes another of theirs.

use std::collections::BTreeMap;

use super::request::{LinkId, Speaker};
use crate::call::MemberId;

/// So many pages a member may have open at once: more than anybody looks at.
pub const MOST_PAGES: usize = 4;

/// The open pages of every member, oldest first.
#[derive(Debug, Default)]
pub(super) struct PagesOpen(BTreeMap<MemberId, Vec<Page>>);

#[derive(Debug)]
struct Page {
    link: LinkId,
    /// The name that it gave itself.
    name: Option<String>,
    /// False while its line is silent.
    heard: bool,
}

/// Why a line ends when a page is opened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Superseded {
    /// The same page has another line now.
    SamePage,
    /// Its member has too many pages: it was a silent one, or the oldest.
    OneTooMany,
}

impl PagesOpen {
    /// A page is opened, or is back. What ends because of it: the line itself, when the page has a later one. What it said
    /// over this one was on its way for so long that it has dialled again.
    pub(super) fn open(&mut self, by: Speaker, name: Option<String>) -> Option<(Speaker, Superseded)> {
        let pages = self.0.entry(by.member).or_default();
        let same = pages.iter().position(|page| page.name.is_some() && page.name == name);
        if same.is_some_and(|place| pages[place].link > by.link) {
            return Some((by, Superseded::SamePage));
        }
        let room = || pages.iter().position(|page| !page.heard).unwrap_or(0);
        let ended = match same {
            Some(place) => Some((place, Superseded::SamePage)),
            None if pages.len() >= MOST_PAGES => Some((room(), Superseded::OneTooMany)),
            None => None,
        };
        let ended = ended.map(|(place, why)| (Speaker { link: pages.remove(place).link, ..by }, why));
        pages.push(Page { link: by.link, name, heard: true });
        ended
    }

    /// A line is heard, or is silent. False when it is none of the member's.
    pub(super) fn is_heard(&mut self, Speaker { member, link }: Speaker, heard: bool) -> bool {
        let page = self.0.get_mut(&member).and_then(|pages| pages.iter_mut().find(|page| page.link == link));
        page.map(|page| page.heard = heard).is_some()
    }

    /// A line has ended. False when it was none of the member's.
    pub(super) fn close(&mut self, Speaker { member, link }: Speaker) -> bool {
        let Some(pages) = self.0.get_mut(&member) else { return false };
        let before = pages.len();
        pages.retain(|page| page.link != link);
        let closed = pages.len() < before;
        if pages.is_empty() {
            self.0.remove(&member);
        }
        closed
    }

    /// A member has no page any more; those that they had.
    pub(super) fn close_all(&mut self, member: MemberId) -> Vec<Speaker> {
        let pages = self.0.remove(&member).unwrap_or_default();
        pages.iter().map(|page| Speaker { member, link: page.link }).collect()
    }

    /// The lines of a member, silent ones too.
    pub(super) fn lines(&self, member: MemberId) -> impl Iterator<Item = LinkId> {
        self.0.get(&member).into_iter().flatten().map(|page| page.link)
    }

    /// True while a page of the member is heard.
    pub(super) fn hears(&self, member: MemberId) -> bool {
        self.0.get(&member).is_some_and(|pages| pages.iter().any(|page| page.heard))
    }

    /// Every page.
    pub(super) fn all(&self) -> impl Iterator<Item = Speaker> {
        let of = |(member, pages): (&MemberId, &Vec<Page>)| {
            let member = *member;
            pages.iter().map(move |page| Speaker { member, link: page.link }).collect::<Vec<_>>()
        };
        self.0.iter().flat_map(of)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[derive(Clone, Debug)]
    enum Event {
        Open(u32, Option<u8>),
        Late(usize),
        Heard(usize, bool),
        Close(usize),
        CloseAll(u32),
    }

    fn event() -> impl Strategy<Value = Event> {
        prop_oneof![
            4 => (1u32..4, prop::option::of(0u8..6)).prop_map(|(member, name)| Event::Open(member, name)),
            1 => (0usize..40).prop_map(Event::Late),
            2 => (0usize..40, any::<bool>()).prop_map(|(link, heard)| Event::Heard(link, heard)),
            1 => (0usize..40).prop_map(Event::Close),
            1 => (1u32..4).prop_map(Event::CloseAll),
        ]
    }

    /// What must be so of every line that was ever opened: its member, its page's name, and whether it is heard.
    #[derive(Clone, Debug)]
    struct Line {
        page: Speaker,
        name: Option<u8>,
        heard: bool,
        open: bool,
    }

    proptest! {
        #[test]
        fn nobody_has_more_than_they_may_and_a_page_has_one_line(events in prop::collection::vec(event(), 1..80)) {
            let (mut open, mut lines) = (PagesOpen::default(), Vec::<Line>::new());
            for event in events {
                match event {
                    Event::Open(member, name) => {
                        // Numbers of earlier lines are left free for what comes late.
                        let page = Speaker { member: MemberId(member), link: LinkId(1_000 + lines.len() as u64) };
                        let theirs: Vec<usize> =
                            (0..lines.len()).filter(|at| lines[*at].open && lines[*at].page.member == page.member).collect();
                        let same = theirs.iter().find(|at| name.is_some() && lines[**at].name == name);
                        let silent = theirs.iter().find(|at| !lines[**at].heard).or(theirs.first());
                        let ends = match same {
                            Some(at) => Some((*at, Superseded::SamePage)),
                            None if theirs.len() == MOST_PAGES => silent.map(|at| (*at, Superseded::OneTooMany)),
                            None => None,
                        };
                        let told = open.open(page, name.map(|name| name.to_string()));
                        prop_assert_eq!(told, ends.map(|(at, why)| (lines[at].page, why)));
                        if let Some((at, _)) = ends {
                            lines[at].open = false;
                        }
                        lines.push(Line { page, name, heard: true, open: true });
                    }
                    Event::Late(at) => {
                        let Some(line) = lines.get(at).filter(|line| line.open && line.name.is_some()) else { continue };
                        let late = Speaker { link: LinkId(at as u64), ..line.page };
                        let told = open.open(late, line.name.map(|name| name.to_string()));
                        prop_assert_eq!(told, Some((late, Superseded::SamePage)));
                    }
                    Event::Heard(at, heard) => {
                        let Some(line) = lines.get_mut(at) else { continue };
                        prop_assert_eq!(open.is_heard(line.page, heard), line.open);
                        line.heard = heard;
                    }
                    Event::Close(at) => {
                        let Some(line) = lines.get_mut(at) else { continue };
                        prop_assert_eq!(open.close(line.page), line.open);
                        line.open = false;
                    }
                    Event::CloseAll(member) => {
                        let theirs = lines.iter_mut().filter(|line| line.open && line.page.member == MemberId(member));
                        let theirs: Vec<Speaker> = theirs.map(|line| { line.open = false; line.page }).collect();
                        prop_assert_eq!(open.close_all(MemberId(member)), theirs);
                    }
                }
                for member in (1..4).map(MemberId) {
                    let theirs = || lines.iter().filter(|line| line.open && line.page.member == member);
                    prop_assert_eq!(open.lines(member).collect::<Vec<_>>(), theirs().map(|line| line.page.link).collect::<Vec<_>>());
                    prop_assert_eq!(open.hears(member), theirs().any(|line| line.heard));
                }
                prop_assert_eq!(open.all().count(), lines.iter().filter(|line| line.open).count());
            }
        }
    }
}
