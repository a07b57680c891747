// Tonight's order as a page reads it at once: what is done, what is next, how long the rest takes.
import type { ItemView } from './wire';

/** How long something takes, as far as earlier calls tell. */
export interface About {
  /** Seconds that are known. */
  seconds: number;
  /** So many items were never done like this, and are not in it. */
  unknown: number;
}

/** What is not done, in order; what is under way among it. */
export function toDo(items: ItemView[]): ItemView[] {
  return items.filter((item) => item.stands !== 'done');
}

/** What comes after what is under way. */
export function nextOf(items: ItemView[]): ItemView | null {
  return items.find((item) => item.stands === 'to-do') ?? null;
}

/** How long these items take together. */
export function about(items: ItemView[]): About {
  const seconds = items.reduce((sum, item) => sum + (item.about_s ?? 0), 0);
  return { seconds, unknown: items.filter((item) => item.about_s === null).length };
}
