//! What goes wrong in an evening, and the moment from which on nothing does any more.

use super::chance::Chance;
use super::disk::Disk;
use super::phone::{Link, Phone};
use super::scene::Scene;
use super::times::{CHAOS, SECOND};

/// No machine sleeps for less: it takes that long to lie down and get up.
const SHORTEST_SLEEP: i64 = 400_000;

/// The misfortunes, and how the server's surroundings are by them.
pub(super) struct Misfortunes {
    pub(super) chance: Chance,
    /// When the next one comes.
    next: i64,
    pub(super) disk: Disk,
    /// Until when the hub stands still.
    pub(super) hub_stands: i64,
    /// When the server is started again; it is down until then.
    pub(super) starts: i64,
    /// True when the server is to end now.
    pub(super) ends: bool,
}

impl Misfortunes {
    pub(super) fn new(chance: Chance) -> Misfortunes {
        Misfortunes { chance, next: 3 * SECOND, disk: Disk::Well, hub_stands: 0, starts: 0, ends: false }
    }

    /// When something goes wrong next, or is well again.
    pub(super) fn next(&self, now: i64) -> Option<i64> {
        let strikes = [self.next, CHAOS].into_iter().filter(|_| now < CHAOS);
        strikes.chain([self.disk.until(), self.hub_stands].into_iter().filter(|until| *until > now)).min()
    }

    /// What goes wrong now, and what is well again.
    pub(super) fn strike(&mut self, scene: &mut Scene) {
        if scene.now >= CHAOS {
            self.heal(scene);
        } else if scene.now >= self.next {
            self.next = scene.now + self.chance.between(200_000, 4 * SECOND);
            self.one(scene);
        }
    }

    fn one(&mut self, scene: &mut Scene) {
        let who = self.chance.between(0, scene.phones.len() as i64) as usize;
        let (now, long) = (scene.now, self.chance.between(50_000, 6 * SECOND));
        let what = self.chance.between(0, 118);
        scene.rules.note(|| format!("misfortune {what} of {who} for {long}"));
        let phone = &mut scene.phones[who];
        match what {
            0..=24 => phone.cut = (now + long, now + long),
            25..=34 => phone.cut.0 = now + long,
            35..=44 => phone.cut.1 = now + long,
            45..=52 => (phone.fell_asleep, phone.asleep) = (now, now + long),
            53..=60 => self.disk = Disk::Stands(now + long),
            61..=66 => self.disk = Disk::Full(now + long),
            67..=74 => self.hub_stands = now + long / 2,
            75..=79 => scene.server_sleeps = now + long.max(SHORTEST_SLEEP),
            80..=87 => {
                self.ends = true;
                self.starts = now + long / 4;
            }
            88..=93 => scene.phones.iter_mut().for_each(|phone| phone.cut = (now + long, now + long)),
            // Half open: the phone has lost its connection, and the server does not know.
            94..=99 if is_awake(phone) => scene.lose_half(who),
            100..=111 if is_awake(phone) => self.move_over(scene, who, now + long),
            112.. => self.disk = Disk::Untold(now + long),
            _ => {}
        }
    }

    /// A phone goes over to another network: what it said over the old one is under way until then, and arrives after
    /// what it says over the new one. Now and then its person taps HOLD at that moment.
    fn move_over(&mut self, scene: &mut Scene, who: usize, until: i64) {
        let Link::Open(number) = scene.phones[who].link else { return };
        if self.chance.percent(50.0) {
            scene.tap(who);
        }
        if let Some(connection) = scene.connections.get(&number) {
            connection.up.hold_back(until);
        }
        scene.lose_half(who);
    }

    /// All is well from now on.
    fn heal(&mut self, scene: &mut Scene) {
        if self.next == i64::MAX {
            return;
        }
        self.next = i64::MAX;
        let now = scene.now;
        scene.rules.healed = now;
        scene.rules.note(|| "all is well".into());
        self.disk = Disk::Well;
        (self.hub_stands, scene.server_sleeps) = (0, 0);
        for phone in &mut scene.phones {
            phone.cut = (0, 0);
            phone.asleep = phone.asleep.min(now);
            if let Link::Connecting(answer) = phone.link {
                // The next of the packets that ask for a connection arrives.
                phone.link = Link::Connecting(answer.min(now + SECOND));
            }
        }
    }
}

fn is_awake(phone: &Phone) -> bool {
    phone.asleep == 0 && !phone.over
}
