// What a person chose for this device: what they hear and feel, and how the page looks. Kept by the browser, where it
// keeps anything, and worn by the page at once.
import type { Store } from './platform';

/** What makes the device shake: nothing, the moves, or every beat as well. */
export type Shake = 'off' | 'moves' | 'beats';

/** The choices of one device. */
export interface Settings {
  click: boolean;
  voice: boolean;
  shake: Shake;
  /** What the device does when a hold is called: sounds and shakes, shakes, or nothing. */
  hold: 'sound' | 'shake' | 'off';
  /** Which hand holds the phone: what is pressed lies under its thumb. */
  hand: 'right' | 'left';
  text: 'usual' | 'large';
  light: 'auto' | 'dark' | 'light';
  /** HOLD at rest: a dark field with a bright edge, or bright all over. */
  holdLook: 'ember' | 'solid';
}

/** What everybody begins with: quiet and still, but for a hold. */
export const USUAL: Settings = {
  click: false,
  voice: false,
  shake: 'off',
  hold: 'sound',
  hand: 'right',
  text: 'usual',
  light: 'auto',
  holdLook: 'ember',
};

const ALLOWED: { [K in keyof Settings]: readonly Settings[K][] } = {
  click: [true, false],
  voice: [true, false],
  shake: ['off', 'moves', 'beats'],
  hold: ['sound', 'shake', 'off'],
  hand: ['right', 'left'],
  text: ['usual', 'large'],
  light: ['auto', 'dark', 'light'],
  holdLook: ['ember', 'solid'],
};
const NAME = 'holdfast.settings';

/** The choices of this device, and who wants to know of them. */
export class Choices {
  #now: Settings;
  readonly #listeners = new Set<(settings: Settings) => void>();

  constructor(private readonly store: Store) {
    this.#now = read(store.get(NAME));
  }

  /** What is chosen now. */
  get now(): Settings {
    return this.#now;
  }

  /** Chooses something else, and keeps it. */
  choose(part: Partial<Settings>): void {
    this.#now = { ...this.#now, ...part };
    this.store.set(NAME, JSON.stringify(this.#now));
    for (const listener of this.#listeners) listener(this.#now);
  }

  /** Tells `listener` the choices now and at every change, until what is returned is called. */
  listen(listener: (settings: Settings) => void): () => void {
    this.#listeners.add(listener);
    listener(this.#now);
    return () => void this.#listeners.delete(listener);
  }
}

/** Makes the page look as chosen: the style sheet reads these marks. */
export function wear({ hand, text, light, holdLook }: Settings, page: HTMLElement): void {
  page.dataset['hand'] = hand;
  page.dataset['text'] = text;
  page.dataset['light'] = light;
  page.dataset['hold'] = holdLook;
}

// Whatever else stands in the store counts as not chosen.
function read(kept: string | null): Settings {
  try {
    const value: unknown = JSON.parse(kept ?? '{}');
    if (typeof value !== 'object' || value === null) return USUAL;
    const known = Object.entries(value).filter(([name, chosen]) =>
      (ALLOWED as Record<string, readonly unknown[]>)[name]?.includes(chosen),
    );
    return { ...USUAL, ...(Object.fromEntries(known) as Partial<Settings>) };
  } catch {
    return USUAL;
  }
}
