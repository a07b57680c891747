// From a membership to its page.
import type { Entry, Keys } from '../core/keys';
import type { Role } from '../core/wire';

/** The page that a role works at. */
export function pageOf(role: Role): '/desk' | '/phone' | '/score' | '/sound' {
  if (role === 'desk' || role === 'sound') return `/${role}`;
  return role === 'director' ? '/score' : '/phone';
}

/** Goes to the page of a membership, as this tab's own. */
export function enter(keys: Keys, entry: Entry): void {
  keys.useHere(entry);
  location.assign(pageOf(entry.role));
}
