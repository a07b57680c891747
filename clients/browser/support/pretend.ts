// A pretended server for looking at pages: it speaks the wire through the browser's own test hook, so that any state can
// be put on a screen without a run being brought there. What the real server does is tested with the real server.
import { decode, encode } from '@msgpack/msgpack';
import type { Page, WebSocketRoute } from 'playwright-core';
import { PROTOCOL, USUAL_REASONS } from '../../core/wire';
import type { Told } from '../../core/told';
import type {
  Cue,
  DeviceView,
  HoldView,
  MemberView,
  MoveView,
  Role,
  RunSheet,
  State,
  Subject,
  SubjectTold,
  ToMember,
  ToServer,
} from '../../core/wire';

/** The invented fight that is on the screen. */
const moves: MoveView[] = [
  move(1, 0, '1', 'MARET', 'thrust belly', 'OSK', 'parry 4', null),
  move(2, 960, '2', 'OSK', 'cut head', 'MARET', 'parry 5', null),
  move(3, 1_920, '3', 'OSK', 'slash feet', 'MARET', 'jump', null),
  move(4, 3_360, '4+1/2', 'MARET', 'bind', 'OSK', 'yield', 'let the blades talk'),
  move(5, 7_680, '9', 'MARET', 'cut flank right', 'OSK', 'parry 3', null),
];

function move(
  number: number,
  at_ticks: number,
  beat: string,
  who: string,
  action: string,
  to: string,
  reply: string,
  text: string | null,
): MoveView {
  return { phrase: 0, number, at_ticks, beat, who, action, to, reply, sounds: ['steel'], text, picture: null };
}

/** Somebody in the room. */
export function row(
  member: number,
  name: string,
  role: Role,
  part: string | null,
  more: Partial<MemberView> = {},
): MemberView {
  return {
    member,
    name,
    role,
    part,
    link: 'linked',
    ready: false,
    joined: '2026-03-01T18:10:00Z',
    device: 'iPhone',
    notes_taken: true,
    claims: null,
    ...more,
  };
}

function device(member: number, more: Partial<DeviceView> = {}): DeviceView {
  return { member, visible: true, bound_us: 2_400, late_us: 900, ...more };
}

/** The room that is pretended. */
export const state: State = {
  now_us: 1_000_000,
  generation: 4,
  last_event: '1-call-4',
  production: 'The Salt Stair',
  stage: 'idle',
  because: null,
  setup: null,
  run: null,
  over: false,
  next_speed: null,
  ready: null,
  hold: null,
  released: null,
  spot: null,
  hold_call: true,
  sound: { well: true, says: 'Click through the built-in output at 48 kHz.' },
  log: { well: true, says: 'Everything is written; the last entry 2 s ago.' },
};

/** Everybody in it. */
export const roster: MemberView[] = [
  row(1, 'Runa Feld', 'desk', null),
  row(2, 'Idris Vane', 'captain', null),
  row(3, 'Ana Lindqvist-Okafor', 'performer', 'MARET', { ready: true }),
  row(4, 'Teo Brandt', 'performer', 'OSK', { link: 'lost' }),
  row(5, 'Mo Sarr', 'observer', null),
];

/** Whose devices are not as usual. */
const DEVICES: Record<number, Partial<DeviceView>> = { 4: { bound_us: null, late_us: null }, 5: { visible: false } };

/** What is told of the room to a page that shows it. */
export const room: { [Of in keyof Told]: NonNullable<Told[Of]> } = {
  roster,
  devices: [1, 2, 3, 4, 5].map((member) => device(member, DEVICES[member])),
  holds: [],
  attendance: [{ person: 'Ayo Lind', present: false }],
  fights: [
    {
      fight: 'The Salt Stair',
      revision: '0123456789ab',
      phrases: ['Across the quay', 'The wound', 'Down the steps'],
      fighters: ['MARET', 'OSK'],
      bystanders: [],
      beats_per_bar: 4,
      count_in: 4,
      errors: 0,
      warnings: 2,
      sets: [{ weapons: 'wood', errors: 0, warnings: 0 }],
      drill: false,
    },
  ],
  troubles: [],
  checks: [
    {
      check: 'floor dry and swept',
      trial: false,
      signed: { by: 'Idris Vane', at_us: 0, in_order: true, note: 'mopped' },
    },
  ],
  missing: { generation: 4, parts: [{ part: 'OSK', name: 'Teo Brandt', lack: 'lost' }] },
  why: { reasons: [...USUAL_REASONS], near_misses: 'either' },
  nearMisses: { count: 0, misses: [] },
  tonight: { version: 0, items: [] },
  casts: [],
};

/** A member of the room. */
export function memberOf(number: number): MemberView {
  const found = roster.find(({ member }) => member === number);
  if (found === undefined) throw new Error('nobody of that number');
  return found;
}

/** What is set up once places are called. */
export const setUp: Partial<State> = {
  setup: {
    fight: 'The Salt Stair',
    weapons: 'wood',
    from: 0,
    from_move: null,
    to: 2,
    percent: 60,
    count_in: 4,
    drive: 'clock',
  },
  run: 7,
  ready: { ready: 1, of: 2 },
};

/** The run's sheet. */
export const run: RunSheet = {
  run: 7,
  generation: 4,
  revision: '0123456789ab',
  fight: 'The Salt Stair',
  weapons: 'wood',
  pictures: null,
  floor: null,
  drive: 'clock',
  beats_per_bar: 4,
  count_in: 4,
  start_us: null,
  length_ticks: 15_360,
  phrases: [{ phrase: 0, name: 'Across the quay', at_ticks: 0, length_ticks: 15_360, at_us: 0, percent: 60 }],
  begins: null,
  tempo: [{ at_ticks: 0, length_ticks: 15_360, at_us: 0, from_bpm: 50, to_bpm: 50 }],
  moves,
  feet: [],
  near: [],
  fighters: ['MARET', 'OSK'],
  bystanders: [],
};

/** A hold with two callers. */
export const hold: HoldView = {
  hold: 2,
  generation: 5,
  at_us: 2_000_000,
  spot: { cue: 8, phrase: 0, phrase_name: 'Across the quay', beat: '4+1/2', move: 4, words: 'MARET bind / OSK yield' },
  percent: 60,
  also: [],
  calls: 2,
  last_event: '1-call-5',
  caller_count: 2,
  callers: [
    { member: 2, name: 'Idris Vane', role: 'captain', times: 1, reason: 'Blade bent', screen: null },
    { member: 3, name: 'Ana Lindqvist-Okafor', role: 'performer', times: 1, reason: null, screen: null },
  ],
  reason: null,
  written: true,
  released_by: null,
};

/** What was noted of it. */
export const notes = ['Look at the grip before the next run.'];

/** What a page that shows a subject is told of a room, whole. */
export function whole(subject: Subject, of: typeof room): SubjectTold {
  const all = { whole: true, gone: [] };
  switch (subject) {
    case 'roster':
      return { subject, ...all, members: of.roster };
    case 'devices':
      return { subject, ...all, devices: of.devices };
    case 'holds':
      return { subject, ...all, holds: of.holds };
    case 'attendance':
      return { subject, ...all, people: of.attendance };
    case 'fights':
      return { subject, fights: of.fights };
    case 'troubles':
      return { subject, troubles: of.troubles };
    case 'checks':
      return { subject, checks: of.checks };
    case 'missing':
      return { subject, ...of.missing };
    case 'why':
      return { subject, ...of.why };
    case 'near-misses':
      return { subject, ...of.nearMisses };
    case 'tonight':
      return { subject, ...of.tonight };
    case 'casts':
      return { subject, fights: of.casts };
  }
}

/** The cue of beat 2, as `part` reads it; a reader without a part sees all. */
export function cue(part: string | null): Cue {
  const reads = (each: MoveView): Cue['moves'][number] => {
    const mine = each.who === part ? 'act' : each.to === part ? 'answer' : 'watch';
    return { part: mine, move: each };
  };
  const [, now, next] = moves;
  return {
    run: 7,
    generation: 4,
    cue: 5,
    step: null,
    due_us: null,
    phrase: 0,
    phrase_name: 'Across the quay',
    beat: '2',
    bar: 1,
    count: 2,
    count_in: null,
    click: 'beat',
    moves: now === undefined ? [] : [reads(now)],
    next: next === undefined ? [] : [reads(next)],
    next_in_beats: 1,
    walks: [],
    next_walks: [],
    next_walk_in_beats: null,
  };
}

/** What the pretended server knows of the page that called. */
export interface Line {
  /** Sends a message to the page. */
  say(message: ToMember): void;
  /** What the page has said, clock and pulses left out. */
  heard: ToServer[];
  /** From now on nothing is answered, as on a stalled network. */
  stall(): void;
}

/**
 * Puts a member's page in front of a pretended server that says `now` as soon as the page has come back, and of the room
 * what the page shows.
 */
export async function pretend(
  page: Page,
  member: MemberView,
  now: State,
  sheet: RunSheet | null,
  more: Partial<typeof room> = {},
): Promise<Line> {
  const around = { ...room, missing: { ...room.missing, generation: now.generation }, ...more };
  const entry = { key: 'pretended', invitation: '00000000', production: now.production, ...member };
  await page.addInitScript((text) => sessionStorage.setItem('holdfast.key', text), JSON.stringify([entry]));
  let route: WebSocketRoute | null = null;
  let [stalled, inside] = [false, false];
  const heard: ToServer[] = [];
  const say = (message: ToMember): void => {
    if (!stalled) route?.send(Buffer.from(encode(message)));
  };
  const serverNow = (): number => Math.round(performance.now() * 1_000);
  // There is no fight to read here.
  await page.route('**/api/part', (route) => route.fulfill({ json: { fights: [], lesson: null, since: null } }));
  await page.routeWebSocket('**/ws', (opened) => {
    if (stalled) return;
    route = opened;
    // As the server: nothing is said to whoever has not come in.
    const pulse = setInterval(
      () => inside && say({ kind: 'pulse', now_us: serverNow(), generation: 0, stood_us: 0 }),
      300,
    );
    opened.onClose(() => clearInterval(pulse));
    opened.onMessage((bytes) => {
      const message = decode(bytes as Buffer) as ToServer;
      if (message.kind === 'clock') {
        const at = serverNow();
        say({ kind: 'clock', sent_us: message.sent_us, received_us: at, answered_us: at });
      } else if (message.kind === 'return') {
        if (message.protocol !== PROTOCOL) throw new Error('the page speaks another wire');
        const { role, name, part, ready } = member;
        const you = { role, name, part, ready, newcomers: [], waits: null };
        const state = { ...now, now_us: serverNow() };
        say({ kind: 'welcome', member: member.member, key: null, you, horizon_us: 1_500_000, state, run: sheet });
        inside = true;
      } else if (message.kind !== 'pulse') {
        if (message.kind === 'show') {
          for (const subject of message.subjects) say({ kind: 'subject', tells: whole(subject, around) });
        }
        heard.push(message);
      }
    });
  });
  return {
    say,
    heard,
    stall: () => {
      stalled = true;
    },
  };
}

/** Puts the join page in front of a pretended door: an invitation for a performer, and a way in. */
export async function pretendDoor(page: Page, now: State): Promise<ToServer[]> {
  const heard: ToServer[] = [];
  const parts = [
    { part: 'MARET', taken_by: null },
    { part: 'OSK', taken_by: 'Teo Brandt' },
  ];
  await page.routeWebSocket('**/ws', (line) => {
    const say = (message: ToMember): void => line.send(Buffer.from(encode(message)));
    const pulse = setInterval(() => say({ kind: 'pulse', now_us: 0, generation: 0, stood_us: 0 }), 300);
    line.onClose(() => clearInterval(pulse));
    line.onMessage((bytes) => {
      const message = decode(bytes as Buffer) as ToServer;
      if (message.kind === 'look') {
        if (message.invitation === 'a-secret') {
          say({ kind: 'invited', production: now.production, role: 'performer', parts });
        } else {
          say({ kind: 'refused', asked: 'look', reason: 'This invitation was taken back. Ask for the new code.' });
        }
      } else if (message.kind === 'join' || message.kind === 'return') {
        const key = message.kind === 'join' ? 'fresh' : null;
        const own = { name: 'Ana', role: 'performer', part: 'MARET', ready: false } as const;
        const you = { ...own, newcomers: [], waits: null };
        const who = { member: 3, key, you, horizon_us: 1_500_000 };
        say({ kind: 'welcome', ...who, state: now, run });
      }
      if (message.kind !== 'clock' && message.kind !== 'pulse') heard.push(message);
    });
  });
  return heard;
}
