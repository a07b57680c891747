// Choosing the desk's keys: fetched with their list.
import { deedOf, keys, keysOn, NAME, store, type Deed } from './keys';

/** Gives a deed another key; whatever had that key before takes the old one. False for a key that cannot be had. */
export function choose(deed: Deed, key: string): boolean {
  const chosen = key.toLowerCase();
  if ([...chosen].length !== 1 || chosen.trim() === '') return false;
  const before = keys.value;
  const other = deedOf(before, chosen);
  keys.value = { ...before, ...(other === null ? {} : { [other]: before[deed] }), [deed]: chosen };
  store.set(NAME, JSON.stringify(keys.value));
  return true;
}

/** Switches the keys on or off as a whole. */
export function turnKeys(on: boolean): void {
  keysOn.value = on;
  if (on) store.remove(`${NAME}.off`);
  else store.set(`${NAME}.off`, 'yes');
}
