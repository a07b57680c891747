// The desk's keys: one for each thing a stage manager does during a call. They are shown on the buttons where they act,
// can be changed, are kept by the browser, and can be switched off as a whole (WCAG 2.2, 2.1.4). Escape is HOLD and the
// space bar is what a hand falls on: neither can be chosen. A key does nothing while somebody types.
import { signal } from '../ui/signal';
import { useLayoutEffect } from 'preact/hooks';
import { lastingStore } from '../core/browser';

/** What can have a key, and the key it has before anybody has chosen. */
export const USUAL_KEYS = {
  places: 'p',
  placesNext: 't',
  restart: 'r',
  restartMove: 'm',
  start: 'b',
  step: 'n',
  stepBack: 'v',
  slower: 's',
  faster: 'f',
  fromBack: 'u',
  fromOn: 'i',
  toBack: 'k',
  toOn: 'l',
  release: 'e',
  stop: 'x',
  note: 'o',
} as const;

/** Something that has a key. */
export type Deed = keyof typeof USUAL_KEYS;
/** Which key each has. */
export type Binding = Record<Deed, string>;

/** Where the keys are kept, and under which name. */
export const NAME = 'holdfast.desk-keys';
export const { store } = lastingStore();

/** The keys as they are. */
export const keys = signal<Binding>(kept());
/** False when the keys are switched off. */
export const keysOn = signal(store.get(`${NAME}.off`) === null);

const handlers = new Map<Deed, () => void>();

/** Does `act` when the key of `deed` is pressed, for as long as the caller is drawn and `act` is there. */
export function useKey(deed: Deed, act: (() => void) | null): void {
  // Before the next key can come: a key always acts on what is on the screen.
  useLayoutEffect(() => {
    if (act === null) return undefined;
    handlers.set(deed, act);
    return () => {
      if (handlers.get(deed) === act) handlers.delete(deed);
    };
  });
}

/** Listens to the keyboard. */
export function listenToKeys(): void {
  window.addEventListener('keydown', (event) => {
    if (!keysOn.value || event.defaultPrevented || event.repeat) return;
    if (event.ctrlKey || event.altKey || event.metaKey || typing(event.target)) return;
    const deed = deedOf(keys.value, event.key);
    const act = deed === null ? undefined : handlers.get(deed);
    if (act === undefined) return;
    event.preventDefault();
    act();
  });
}

/** What has that key. */
export function deedOf(binding: Binding, key: string): Deed | null {
  return (Object.keys(binding) as Deed[]).find((deed) => binding[deed] === key.toLowerCase()) ?? null;
}

function typing(target: EventTarget | null): boolean {
  return (
    target instanceof Element &&
    target.closest('input, textarea, select, [contenteditable], [data-takes-keys]') !== null
  );
}

function kept(): Binding {
  try {
    const value: unknown = JSON.parse(store.get(NAME) ?? '{}');
    const given = typeof value === 'object' && value !== null ? (value as Record<string, unknown>) : {};
    const read = Object.entries(USUAL_KEYS).map(([deed, usual]) => {
      const key = given[deed];
      return [deed, typeof key === 'string' && [...key].length === 1 ? key : usual];
    });
    return Object.fromEntries(read) as Binding;
  } catch {
    return { ...USUAL_KEYS };
  }
}
