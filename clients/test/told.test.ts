// What a page knows of a subject after any whole, any changes and any comings and goings: what the server has.
import { expect, it } from 'vitest';
import { NOT_TOLD, toldOf, type Told } from '../core/told';
import type { MemberView } from '../core/wire';
import { chance } from './support/chance';

const row = (member: number, ready: boolean): MemberView => {
  const came = { joined: '2026-03-01T18:10:00Z', device: null, notes_taken: true, claims: null };
  return { member, name: `Member ${member}`, role: 'observer', part: null, link: 'linked', ready, ...came };
};

it('a roster that is told whole and then by its changes is the roster', () => {
  for (let seed = 1; seed <= 500; seed += 1) {
    const random = chance(seed);
    let there = new Map<number, MemberView>();
    let known: Told = NOT_TOLD;
    let last = new Map<number, MemberView>();
    for (let step = 0; step < 30; step += 1) {
      const member = Math.floor(random() * 12);
      there = new Map(there);
      if (random() < 0.3) there.delete(member);
      else there.set(member, row(member, random() < 0.5));
      if (random() < 0.5) continue;
      const whole = known.roster === null || random() < 0.1;
      const members = [...there.values()].filter((each) => whole || last.get(each.member) !== each);
      const gone = whole ? [] : [...last.keys()].filter((key) => !there.has(key));
      known = { ...known, ...toldOf(known, { subject: 'roster', whole, members, gone }) };
      last = there;
      const all = [...there.values()].sort((one, other) => one.member - other.member);
      expect(known.roster, `seed ${seed}`).toEqual(all);
    }
  }
});

it('a change of what was never told whole is left', () => {
  const change = { subject: 'roster', whole: false, members: [row(1, true)], gone: [] } as const;
  expect(toldOf(NOT_TOLD, { ...change, members: [...change.members], gone: [] }).roster).toBe(null);
});

it('people, devices and holds are told apart by name and number, and short lists come whole', () => {
  const people = [
    { person: 'Bo', present: true },
    { person: 'Ayo', present: false },
  ];
  let known: Told = { ...NOT_TOLD, ...toldOf(NOT_TOLD, { subject: 'attendance', whole: true, people, gone: [] }) };
  known = { ...known, ...toldOf(known, { subject: 'attendance', whole: false, people: [], gone: ['Bo'] }) };
  expect(known.attendance).toEqual([{ person: 'Ayo', present: false }]);
  known = { ...known, ...toldOf(known, { subject: 'troubles', troubles: ['one'] }) };
  known = { ...known, ...toldOf(known, { subject: 'troubles', troubles: [] }) };
  expect(known.troubles).toEqual([]);
});
