// What a page knows of the subjects that it shows: each is told whole once, and then what has changed of it is put in.
import type {
  AttendanceView,
  CheckView,
  DeviceView,
  FightCastView,
  FightChoice,
  HoldRecord,
  ItemView,
  MemberView,
  MissingPart,
  NearMisses,
  NearMissView,
  SubjectTold,
} from './wire';

/** What is known of each subject; nothing until it is told. */
export interface Told {
  /** Everybody who has joined, in order of joining. */
  roster: MemberView[] | null;
  /** How everybody's page is. */
  devices: DeviceView[] | null;
  /** The hold that stands and the last ones before it, oldest first. */
  holds: HoldRecord[] | null;
  /** Whom the desk noted as there or not, by name. */
  attendance: AttendanceView[] | null;
  fights: FightChoice[] | null;
  /** What is wrong, a sentence each. */
  troubles: string[] | null;
  checks: CheckView[] | null;
  /** Who is not there for the run, and the generation of which that is true. */
  missing: { generation: number; parts: MissingPart[] } | null;
  /** The company's reasons for holds, and whether near misses are reported. */
  why: { reasons: string[]; near_misses: NearMisses } | null;
  /** How many near misses there were in this call, and the last of them. */
  nearMisses: { count: number; misses: NearMissView[] } | null;
  /** Which order tonight's is, and the order. */
  tonight: { version: number; items: ItemView[] } | null;
  /** Who plays what tonight, by fight. */
  casts: FightCastView[] | null;
}

/** Nothing was told. */
export const NOT_TOLD: Told = {
  roster: null,
  devices: null,
  holds: null,
  attendance: null,
  fights: null,
  troubles: null,
  checks: null,
  missing: null,
  why: null,
  nearMisses: null,
  tonight: null,
  casts: null,
};

/** What changes of what is known by what is told. */
export function toldOf(known: Told, tells: SubjectTold): Partial<Told> {
  switch (tells.subject) {
    case 'roster': {
      const of = (each: MemberView) => each.member;
      return { roster: put(known.roster, tells.whole, tells.members, of, tells.gone) };
    }
    case 'devices': {
      const of = (each: DeviceView) => each.member;
      return { devices: put(known.devices, tells.whole, tells.devices, of, tells.gone) };
    }
    case 'holds': {
      const of = (each: HoldRecord) => each.hold.hold;
      return { holds: put(known.holds, tells.whole, tells.holds, of, tells.gone) };
    }
    case 'attendance': {
      const of = (each: AttendanceView) => each.person;
      return { attendance: put(known.attendance, tells.whole, tells.people, of, tells.gone) };
    }
    case 'fights':
      return { fights: tells.fights };
    case 'troubles':
      return { troubles: tells.troubles };
    case 'checks':
      return { checks: tells.checks };
    case 'missing':
      return { missing: { generation: tells.generation, parts: tells.parts } };
    case 'why':
      return { why: { reasons: tells.reasons, near_misses: tells.near_misses } };
    case 'near-misses':
      return { nearMisses: { count: tells.count, misses: tells.misses } };
    case 'tonight':
      return { tonight: { version: tells.version, items: tells.items } };
    case 'casts':
      return { casts: tells.fights };
  }
}

// In the order of their keys. A change of what was never told whole is of no use and is left.
function put<V, K extends number | string>(
  known: V[] | null,
  whole: boolean,
  changed: V[],
  keyOf: (value: V) => K,
  gone: K[],
): V[] | null {
  if (known === null && !whole) return null;
  const values = new Map((whole ? [] : (known ?? [])).map((value) => [keyOf(value), value]));
  for (const value of changed) values.set(keyOf(value), value);
  for (const key of gone) values.delete(key);
  return [...values].sort(([one], [other]) => (one < other ? -1 : one > other ? 1 : 0)).map(([, value]) => value);
}
