// How a member's page comes up: HOLD, vitals and session first, in plain DOM; the drawn part afterwards, so that
// whatever goes wrong in it, the rest is there already.
import { browser, dialHome, isVisible, lastingStore, onWake, tabStore } from './browser';
import { Caption } from './caption';
import { today } from './day';
import type { Guard, mountGuard } from './guard';
import { mountHold, setText } from './hold';
import { Keys } from './keys';
import { takeOwnLanguage } from './language';
import { Session, type Senses } from './session';
import { Choices, wear } from './settings';
import { mountVitals } from './vitals';
import type { Role, Subject } from './wire';
import { onWords, words } from './words';

/** A page that is up. */
export interface Page {
  session: Session;
  choices: Choices;
  /** Done when the words are those of the device's language, or will not be: what is drawn waits for it. */
  spoken: Promise<void>;
  /** The personal key, for what is asked over HTTP. */
  key: string;
  /** Where the drawn part goes. */
  place: HTMLElement;
  /** False when the browser forgets the key with the tab. */
  lasts: boolean;
}

/** What a page is for. */
export interface Purpose {
  /** Whose page it is. */
  fits(role: Role): boolean;
  /** What is shown on it, besides what every page knows. */
  shows(role: Role): readonly Subject[];
  /** The key that holds from anywhere on it, if there is one. */
  holdKey: string | null;
  /** What it has where somebody carries it; nothing where it lies on a table. */
  carried: Carried | null;
}

/** What a page has that somebody carries: it sounds and shakes, and a pocket must not press HOLD. */
export interface Carried {
  senses: Senses;
  guard: Guard;
  mountGuard: typeof mountGuard;
}

/** What lies at the desk may feed the loudspeakers, which call a hold by themselves. */
const SILENT: Senses = {
  arm: () => undefined,
  disarm: () => undefined,
  shown: () => undefined,
  silence: () => undefined,
  callHold: () => false,
};

/** Brings up a page. Nothing when this browser has no place in the call. */
export function bringUp({ fits, shows, holdKey, carried }: Purpose): Page | null {
  document.title = words.name;
  const { store, lasts } = lastingStore();
  const choices = new Choices(store);
  choices.listen((settings) => wear(settings, document.documentElement));
  const spoken = takeOwnLanguage(choices);
  const keys = new Keys(store, tabStore());
  const entry = keys.mine(fits);
  const sheet = part('sheet');
  if (entry === null) {
    sayNotJoined(sheet);
    return null;
  }
  keys.useHere(entry);
  document.title = `${entry.name} · ${words.name}`;
  const session = new Session({
    platform: browser,
    dial: dialHome,
    store,
    senses: carried?.senses ?? SILENT,
    visible: isVisible,
    entry,
    page: browser.token(),
    barred: ({ key }) => keys.forget(key),
  });
  session.show(shows(entry.role));
  const guard = carried?.guard ?? null;
  const plain = [
    mountHold(part('hold'), () => session.hold(), { key: holdKey, guard, caption: new Caption(store, today) }),
    mountVitals(part('vitals'), sheet, () => session.useHere()),
    ...(carried === null ? [] : [carried.mountGuard(carried.guard, part('vitals'), document.body)]),
  ];
  for (const draw of plain) session.listen(draw);
  onWords(() => plain.forEach((draw) => draw(session.view)));
  onWake(() => session.wake());
  const drawn = part('page');
  // What cannot be vouched for cannot be pressed either.
  session.listen((view) => {
    drawn.inert = view.link !== 'linked' || guard?.on === true;
  });
  guard?.listen(() => {
    drawn.inert = session.view.link !== 'linked' || guard.on;
  });
  session.listen(({ me }) => {
    if (me === null || me.name === entry.name) return;
    // It was said who they are: they are offered to go on under that name.
    entry.name = me.name;
    document.title = `${entry.name} · ${words.name}`;
    keys.keep(entry);
  });
  session.start();
  window.addEventListener('error', (event) => sayFault(event.error));
  return { session, key: entry.key, place: drawn, lasts, choices, spoken };
}

// No place in the call, so no HOLD either: one that cannot reach anybody would be worse than none.
function sayNotJoined(sheet: HTMLElement): void {
  part('vitals').appendChild(document.createElement('h1')).textContent = words.name;
  const title = sheet.appendChild(document.createElement('h2'));
  const text = sheet.appendChild(document.createElement('p'));
  onWords(() => {
    setText(title, words.notJoinedTitle);
    setText(text, words.notJoinedText);
  });
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
