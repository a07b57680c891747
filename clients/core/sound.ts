// What the sound page knows besides the call: how the outputs are, which sounds there are, where they are heard.
import { METERS_EVERY_US, type SoundCues, type SoundNow, type SoundTold, type SoundView } from './wire';

/** What the sound page was told. */
export interface SoundKnown {
  /** How the outputs are; nothing before the first word. */
  now: SoundNow | null;
  /** The meter, which rises at once and falls slowly enough to be read. */
  meter: { peak_db: number; rms_db: number };
  sounds: SoundView[];
  /** What is wrong with recordings and with what is kept, a sentence each. */
  troubles: string[];
  /** The cues that were asked for last. */
  cues: SoundCues | null;
  /** Counts how often the scores were read anew. */
  scores: number;
  devices: { names: string[]; chosen: string | null } | null;
}

/** Nothing was told. */
export const NO_SOUND: SoundKnown = {
  now: null,
  meter: { peak_db: -120, rms_db: -120 },
  sounds: [],
  troubles: [],
  cues: null,
  scores: 0,
  devices: null,
};

/** True once a sound can be tested. */
export function ready(known: SoundKnown): boolean {
  return known.now?.prepared ?? false;
}

/** What is known after a word more. */
export function soundTold(known: SoundKnown, told: SoundTold): SoundKnown {
  switch (told.what) {
    case 'now':
      return { ...known, now: told, meter: fallen(known.meter, told.speakers) };
    case 'sounds':
      return { ...known, sounds: told.sounds, troubles: told.troubles };
    case 'cues':
      return { ...known, cues: told };
    case 'scores':
      return { ...known, scores: known.scores + 1 };
    case 'devices':
      return { ...known, devices: { names: told.devices, chosen: told.chosen } };
  }
}

/** How far the meter falls from one word to the next: 12 dB a second. */
const FALL_DB = (12 * METERS_EVERY_US) / 1e6;

function fallen(before: SoundKnown['meter'], now: SoundKnown['meter']): SoundKnown['meter'] {
  return {
    peak_db: Math.max(now.peak_db, before.peak_db - FALL_DB),
    rms_db: Math.max(now.rms_db, before.rms_db - FALL_DB),
  };
}

/** What is asked for a sound. */
export interface Asked {
  trim_us: number;
  gain_db: number;
}

/** Sends trims no more often than every so many milliseconds, the newest of each sound, and none of them never. */
export const TRIM_EVERY_MS = 150;

/**
 * Gathers what is chosen for sounds while somebody leans on an arrow key. A change of one value goes out with the other
 * as it was chosen last, although the server may not have told it back yet.
 */
export class Trimmer {
  readonly #chosen = new Map<string, Asked>();
  readonly #waiting = new Set<string>();
  #running = false;

  constructor(
    private readonly after: (ms: number, then: () => void) => void,
    private readonly send: (sound: string, asked: Asked) => void,
  ) {}

  /** Chooses a value of a sound, of which the server has told `known`. */
  choose(known: SoundView, part: Partial<Asked>): void {
    const { sound, trim_us, gain_db } = known;
    this.#chosen.set(sound, { trim_us, gain_db, ...this.#chosen.get(sound), ...part });
    this.#waiting.add(sound);
    if (!this.#running) this.#go();
  }

  /** The server has told what is chosen, or that it refused: from now on that counts. */
  told(): void {
    for (const sound of [...this.#chosen.keys()]) {
      if (!this.#waiting.has(sound)) this.#chosen.delete(sound);
    }
  }

  #go(): void {
    this.#running = this.#waiting.size > 0;
    if (!this.#running) return;
    for (const sound of this.#waiting) {
      const asked = this.#chosen.get(sound);
      if (asked !== undefined) this.send(sound, asked);
    }
    this.#waiting.clear();
    this.after(TRIM_EVERY_MS, () => this.#go());
  }
}
