// What a person chose for this device: what they hear and feel, and how the page looks. Kept by the browser, where it
// keeps anything, and worn by the page at once.
import { RATES, type Rate } from './calls';
import type { Store } from './platform';
import { TAGS, type Language } from './words/languages';

/** What makes the device shake: nothing, the moves, or every beat as well. */
export type Shake = 'off' | 'moves' | 'beats';

/** The choices of one device. */
export interface Settings {
  click: boolean;
  voice: boolean;
  /** Whose voice: its name on this device; empty for the browser's own choice. */
  speaker: string;
  rate: Rate;
  /** Whether a call ends with what the partner does. */
  partner: boolean;
  shake: Shake;
  /** Which of the moves shake: my attacks, my replies, what I do by myself, and what others do. */
  attack: boolean;
  reply: boolean;
  alone: boolean;
  others: boolean;
  /** What the device does when a hold is called: sounds and shakes, shakes, or nothing. */
  hold: 'sound' | 'shake' | 'off';
  /** Which hand holds the phone: what is pressed lies under its thumb. */
  hand: 'right' | 'left';
  text: 'usual' | 'large';
  light: 'auto' | 'dark' | 'light';
  /** The language of the pages' own words. */
  language: 'auto' | Language;
  /** HOLD at rest: a dark field with a bright edge, or bright all over. */
  holdLook: 'ember' | 'solid';
  /** From which side the plan of the stage is looked at. */
  seen: 'house' | 'stage';
  /** Whether the plan is on the page while something runs: as is usual for that page, or as was chosen here. */
  plan: 'auto' | 'on' | 'off';
}

/** What everybody begins with: quiet and still, but for a hold. */
export const USUAL: Settings = {
  click: false,
  voice: false,
  speaker: '',
  rate: 'usual',
  partner: false,
  shake: 'off',
  attack: true,
  reply: true,
  alone: true,
  others: true,
  hold: 'sound',
  hand: 'right',
  text: 'usual',
  light: 'auto',
  language: 'auto',
  holdLook: 'ember',
  seen: 'house',
  plan: 'auto',
};

const EITHER = among([true, false]);
/** What each may be. */
const ALLOWED: { readonly [K in keyof Settings]: (value: unknown) => boolean } = {
  click: EITHER,
  voice: EITHER,
  speaker: (value) => typeof value === 'string' && value.length <= LONGEST_NAME,
  rate: among(Object.keys(RATES)),
  partner: EITHER,
  shake: among(['off', 'moves', 'beats']),
  attack: EITHER,
  reply: EITHER,
  alone: EITHER,
  others: EITHER,
  hold: among(['sound', 'shake', 'off']),
  hand: among(['right', 'left']),
  text: among(['usual', 'large']),
  light: among(['auto', 'dark', 'light']),
  language: among(['auto', ...TAGS]),
  holdLook: among(['ember', 'solid']),
  seen: among(['house', 'stage']),
  plan: among(['auto', 'on', 'off']),
};
/** A voice's name is no longer than this. */
const LONGEST_NAME = 200;
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
    const known = Object.entries(value).filter(
      ([name, chosen]) => Object.hasOwn(ALLOWED, name) && ALLOWED[name as keyof Settings](chosen),
    );
    return { ...USUAL, ...(Object.fromEntries(known) as Partial<Settings>) };
  } catch {
    return USUAL;
  }
}

function among(values: readonly unknown[]): (value: unknown) => boolean {
  return (value) => values.includes(value);
}
