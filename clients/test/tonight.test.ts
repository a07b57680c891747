// Tonight's order as pages read and change it, by chance: whatever is moved, everything is still there once.
import { expect, it } from 'vitest';
import { moved, neededFor, openParts, orderOf, plannedOf, takenOver } from '../core/ordering';
import { about, nextOf, toDo } from '../core/tonight';
import type { FightChoice, ItemView, Setup } from '../core/wire';

const planned = { fight: 'F', weapons: null, from: null, to: null, percent: 50, count_in: null };
const item = (number: number, stands: ItemView['stands'], players: number[], about_s: number | null): ItemView => ({
  item: number,
  planned,
  stands,
  cannot: null,
  players,
  open: [],
  about_s,
});

it('moves one and keeps the others in their order, for any two places', () => {
  const order = [0, 1, 2, 3, 4];
  for (const from of order) {
    for (const to of order) {
      const after = moved(order, from, to);
      expect(after[to]).toBe(from);
      expect(after.filter((each) => each !== from)).toEqual(order.filter((each) => each !== from));
    }
  }
});

it('says when somebody is needed, and how long it is until then', () => {
  const items = [
    item(1, 'done', [7], 60),
    item(2, 'now', [8], 120),
    item(3, 'to-do', [8], null),
    item(4, 'to-do', [7], 30),
  ];
  expect(neededFor(items, 7)).toMatchObject({ item: { item: 4 }, before: 2, after: { seconds: 120, unknown: 1 } });
  expect(neededFor(items, 8)).toMatchObject({ item: { item: 2 }, before: 0 });
  expect(neededFor(items, 9)).toBeNull();
  expect(nextOf(items)?.item).toBe(3);
  expect(about(toDo(items))).toEqual({ seconds: 150, unknown: 1 });
});

it('takes over a proposal for what is to be done, and for nothing else', () => {
  const items = [item(1, 'done', [], 1), item(2, 'now', [], 1), item(3, 'to-do', [], 1)];
  const row = { fight: 'G', first: 'one', last: 'two', percent: 65, minutes: 4, with: [], why: '' };
  const order = takenOver(items, [row]);
  expect(order.map(({ item: number }) => number)).toEqual([1, 2, null]);
  expect(order[2]?.planned).toEqual({ fight: 'G', weapons: null, from: 'one', to: 'two', percent: 65, count_in: null });
  expect(orderOf(items).every(({ done }) => done === null)).toBe(true);
});

it('names a whole fight by nothing but itself, and a walk-through by no speed', () => {
  const fight = { fight: 'F', phrases: ['one', 'two', 'three'] } as FightChoice;
  const setup = {
    fight: 'F',
    weapons: null,
    from: 0,
    from_move: null,
    to: 2,
    percent: 80,
    count_in: 4,
    drive: 'clock',
  } as Setup;
  expect(plannedOf(setup, fight)).toMatchObject({ from: null, to: null, percent: 80 });
  expect(plannedOf({ ...setup, from: 1, to: 1, drive: 'step' }, fight)).toMatchObject({
    from: 'two',
    to: 'two',
    percent: null,
  });
});

it('gathers the parts that nobody plays over all fights', () => {
  const part = (name: string, member: number | null) => ({
    part: name,
    stands_by: false,
    member,
    person: null,
    chosen: false,
    usually: null,
    covers: [],
  });
  const casts = [
    { fight: 'F', parts: [part('A', null), part('B', 1)] },
    { fight: 'G', parts: [part('A', null), part('C', null)] },
  ];
  expect([...openParts(casts)]).toEqual([
    ['A', ['F', 'G']],
    ['C', ['G']],
  ]);
});
