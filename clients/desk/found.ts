// What is known of a fight before it is chosen: what the checks found, and how much of it is chosen at first.
import type { FightChoice } from '../core/wire';

/** What the checks found in a fight with these weapons. */
export function foundIn(fight: FightChoice, weapons: string | null): { errors: number; warnings: number } {
  return fight.sets.find((each) => each.weapons === weapons) ?? fight;
}

/** The last phrase that is chosen at first: all of a fight, the first stage of a pattern by itself. */
export function lastAtFirst(fight: FightChoice): number {
  return fight.drill ? 0 : Math.max(0, fight.phrases.length - 1);
}
