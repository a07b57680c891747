// Whom somebody who looks on follows: one fighter, for as long as the tab is open.
import { signal } from '../ui/signal';
import { tabStore } from '../core/browser';

const NAME = 'holdfast.follows';
const store = tabStore();

/** The fighter; nothing while everybody is looked at alike. */
export const followed = signal<string | null>(store.get(NAME));

/** Follows somebody, or everybody again. */
export function follow(fighter: string | null): void {
  if (fighter === null) store.remove(NAME);
  else store.set(NAME, fighter);
  followed.value = fighter;
}
