// How somebody practises, remembered by the device. Pure but for the store.
import type { Store } from '../core/platform';
import { FASTEST, SLOWEST, type Wish } from './plan';

/** How somebody practises. */
export interface Habits extends Omit<Wish, 'countIn'> {
  /** Bars counted before a stretch. */
  barsIn: number;
  /** What goes round: nothing, the phrase, or all. */
  round: 'once' | 'phrase' | 'all';
  /** True when one's own half is covered until its beat. */
  covered: boolean;
}

/** What everybody begins with: slowly, with everything. */
export const USUAL: Habits = {
  percent: 50,
  others: true,
  click: true,
  effects: true,
  calls: false,
  barsIn: 1,
  round: 'once',
  covered: false,
};

const NAME = 'holdfast.practice';

/** What this device remembers; whatever cannot be read counts as not chosen. */
export function habitsOf(store: Store): Habits {
  try {
    const kept: unknown = JSON.parse(store.get(NAME) ?? '{}');
    if (typeof kept !== 'object' || kept === null) return USUAL;
    const known = Object.entries(kept).filter(([name, value]) => {
      const usual: unknown = (USUAL as unknown as Record<string, unknown>)[name];
      return usual !== undefined && typeof value === typeof usual;
    });
    return sound({ ...USUAL, ...(Object.fromEntries(known) as Partial<Habits>) });
  } catch {
    return USUAL;
  }
}

/** Remembers it. */
export function keepHabits(store: Store, habits: Habits): void {
  store.set(NAME, JSON.stringify(habits));
}

function sound(habits: Habits): Habits {
  const percent = Number.isFinite(habits.percent) ? Math.round(habits.percent) : USUAL.percent;
  const round = ['once', 'phrase', 'all'].includes(habits.round) ? habits.round : USUAL.round;
  return {
    ...habits,
    percent: Math.min(FASTEST, Math.max(SLOWEST, percent)),
    barsIn: [0, 1, 2].includes(habits.barsIn) ? habits.barsIn : USUAL.barsIn,
    round,
  };
}
