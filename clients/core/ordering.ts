// Tonight's order, looked into and changed: when somebody is needed, the order that is asked for when something of it is
// changed, and who plays what.
import { about, toDo, type About } from './tonight';
import type { FightCastView, FightChoice, ItemView, OrderItem, PlannedView, ReviewProposed, Setup } from './wire';

/** When somebody is needed: for what, how many come before it, and how long those take; nothing when for no more. */
export function neededFor(items: ItemView[], member: number): { item: ItemView; before: number; after: About } | null {
  const left = toDo(items);
  const at = left.findIndex((item) => item.players.includes(member));
  const item = left[at];
  return item === undefined ? null : { item, before: at, after: about(left.slice(0, at)) };
}

/** The order as it stands, to be changed and given back. */
export function orderOf(items: ItemView[]): OrderItem[] {
  return items.map(({ item, planned }) => ({ item, planned, done: null }));
}

/** The order with the item at one place put at another. */
export function moved<T>(order: T[], from: number, to: number): T[] {
  const left = [...order];
  left.splice(Math.max(0, Math.min(left.length - 1, to)), 0, ...left.splice(from, 1));
  return left;
}

/** What is chosen for a run, by the names that people use. */
export function plannedOf(setup: Setup, fight: FightChoice): PlannedView {
  const whole = setup.from === 0 && setup.to === fight.phrases.length - 1;
  return {
    fight: setup.fight,
    weapons: setup.weapons,
    from: whole ? null : (fight.phrases[setup.from] ?? null),
    to: whole ? null : (fight.phrases[setup.to] ?? null),
    percent: setup.drive === 'step' ? null : setup.percent,
    count_in: setup.count_in,
  };
}

/** The order with what the review proposes in the place of what is to be done; what is done or under way stays. */
export function takenOver(items: ItemView[], proposed: ReviewProposed[]): OrderItem[] {
  const stays = orderOf(items.filter(({ stands }) => stands !== 'to-do'));
  const planned = proposed.map(({ fight, first, last, percent }) => ({
    item: null,
    planned: { fight, weapons: null, from: first, to: last, percent, count_in: null },
    done: null,
  }));
  return [...stays, ...planned];
}

/** The fights of tonight's order first, in its order, each once; then the others. */
export function castsInOrder(items: ItemView[], casts: FightCastView[], drills: ReadonlySet<string>): FightCastView[] {
  const tonight = [...new Set(items.map(({ planned }) => planned.fight))];
  const inOrder = tonight.flatMap((fight) => casts.filter((cast) => cast.fight === fight));
  const others = casts.filter(({ fight }) => !tonight.includes(fight) && !drills.has(fight));
  return [...inOrder, ...others];
}

/** The parts that nobody plays, each with the fights in which it is so. */
export function openParts(casts: FightCastView[]): Map<string, string[]> {
  const open = new Map<string, string[]>();
  for (const { fight, parts } of casts) {
    for (const { part, member } of parts) if (member === null) open.set(part, [...(open.get(part) ?? []), fight]);
  }
  return open;
}
