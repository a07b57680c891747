// How a member's page comes up: HOLD, vitals and session first, in plain DOM; the drawn part afterwards, so that
// whatever goes wrong in it, the rest is there already.
import { browser, dialHome, isVisible, lastingStore, onWake, tabStore } from './browser';
import { mountHold, setText } from './hold';
import { Keys } from './keys';
import { DeviceSenses } from './senses';
import { Session } from './session';
import { mountVitals } from './vitals';
import type { Role } from './wire';
import { words } from './words';

/** A page that is up. */
export interface Page {
  session: Session;
  senses: DeviceSenses;
  /** Where the drawn part goes. */
  place: HTMLElement;
  /** False when the browser forgets the key with the tab. */
  lasts: boolean;
}

/** Brings up a page for members whose role `fits`. Nothing when this browser has no place in the call. */
export function bringUp(fits: (role: Role) => boolean, holdKey: string | null): Page | null {
  document.title = words.name;
  const { store, lasts } = lastingStore();
  const keys = new Keys(store, tabStore());
  const entry = keys.mine(fits);
  const sheet = part('sheet');
  if (entry === null) {
    sayNotJoined(sheet);
    return null;
  }
  keys.useHere(entry);
  document.title = `${entry.name} · ${words.name}`;
  const senses = new DeviceSenses(browser);
  const session = new Session({
    platform: browser,
    dial: dialHome,
    store,
    senses,
    visible: isVisible,
    entry,
    barred: ({ key }) => keys.forget(key),
  });
  session.listen(mountHold(part('hold'), () => session.hold(), holdKey));
  session.listen(mountVitals(part('vitals'), sheet));
  onWake(() => session.wake());
  const drawn = part('page');
  // What cannot be vouched for cannot be pressed either.
  session.listen((view) => {
    drawn.inert = view.link !== 'linked';
  });
  session.start();
  window.addEventListener('error', (event) => sayFault(event.error));
  return { session, senses, place: drawn, lasts };
}

// No place in the call, so no HOLD either: one that cannot reach anybody would be worse than none.
function sayNotJoined(sheet: HTMLElement): void {
  part('vitals').appendChild(document.createElement('h1')).textContent = words.name;
  sheet.appendChild(document.createElement('h2')).textContent = words.notJoinedTitle;
  sheet.appendChild(document.createElement('p')).textContent = words.notJoinedText;
  sheet.hidden = false;
  part('hold').hidden = true;
}

/** Says that the drawn part failed, and that what matters did not. */
export function sayFault(fault: unknown): void {
  console.error(fault);
  const place = part('fault');
  setText(place, words.fault);
  place.hidden = false;
}

function part(id: string): HTMLElement {
  const found = document.getElementById(id);
  if (found === null) throw new Error(`the page has no part called ${id}`);
  return found;
}
