// When a cue is shown and heard: at its time on the synchronised clock, never when it happens to arrive. A cue that
// comes too late is shown at once with how late it is, and never sounded. A cue belongs to a generation; once that has
// passed, or the link is lost, nothing that waits here comes out any more.
import type { Estimate } from './clock';
import type { Cancel, Platform } from './platform';
import type { Cue, Fired } from './wire';

/** Later than this and a beat is not played with: players hear 20 to 30 ms as "not together" (Chafe et al., 2004). */
export const LATE_US = 25_000;
/** The clock is asked once more this long before a cue is due, so that the newest estimate decides. */
const LAST_LOOK_US = 30_000;
/** The sound is handed to the audio clock this long before it is due. */
const ARM_US = 150_000;

/** A cue on the screen. */
export interface Shown {
  cue: Cue;
  /** How late it was, microseconds; nothing when it was on time or had no time. */
  late_us: number | null;
  /** When it was shown, local microseconds. */
  at_us: number;
}

/** What the scheduler does to the world. */
export interface Stage {
  /** Puts a cue on the screen. */
  show(shown: Shown): void;
  /** Prepares its sound for a moment of the local clock. Undone by `silence`. */
  arm(cue: Cue, atLocalUs: number): void;
  /** Stops every sound and vibration, those that were armed too. */
  silence(): void;
  /** Tells the server how a cue came out. */
  report(fired: Fired): void;
}

interface Waiting {
  cue: Cue;
  armed: boolean;
  cancel: Cancel;
}

/** The scheduler. It is shut until `begin`. */
export class Scheduler {
  #generation = 0;
  #open = false;
  #waiting = new Map<number, Waiting>();
  #lastShown = -1;
  #hushed = -1;

  constructor(
    private readonly platform: Platform,
    private readonly estimate: () => Estimate | null,
    private readonly stage: Stage,
  ) {}

  /** How many cues wait. */
  get waiting(): number {
    return this.#waiting.size;
  }

  /** A link is there, and this is the generation that lives. What waited from before is gone. */
  begin(generation: number): void {
    this.#drop();
    this.#generation = generation;
    this.#lastShown = -1;
    // A server that started anew counts from the beginning; what was hushed was another one's.
    if (generation < this.#hushed) this.#hushed = -1;
    this.#open = true;
  }

  /** A generation was heard of. A higher one silences at once; a lower one says nothing. */
  raise(generation: number): void {
    if (generation <= this.#generation) return;
    this.#generation = generation;
    this.#lastShown = -1;
    this.#drop();
  }

  /** HOLD was tapped here: nothing more of this generation comes out, whether or not the server has heard. */
  hush(): void {
    this.#hushed = this.#generation;
    this.#drop();
  }

  /** The link is lost: nothing comes out until `begin`. */
  shut(): void {
    this.#open = false;
    this.#drop();
  }

  /** A cue arrived. */
  cue(cue: Cue): void {
    this.raise(cue.generation);
    if (!this.#open || cue.generation < this.#generation || cue.generation <= this.#hushed) return;
    if (cue.cue === this.#lastShown) return;
    if (cue.due_us === null) {
      this.#show(cue, null);
      return;
    }
    // The same cue again is a correction of its time (the speed was changed): the newer one counts.
    this.#forget(cue.cue);
    this.#waiting.set(cue.cue, { cue, armed: false, cancel: () => undefined });
    this.#look(cue.cue);
  }

  /** The clock is better known: look at what waits again. */
  recheck(): void {
    for (const number of [...this.#waiting.keys()]) this.#look(number);
  }

  #look(number: number): void {
    const waiting = this.#waiting.get(number);
    const estimate = this.estimate();
    // Before the first clock exchange nobody knows when the cue is due; `recheck` comes with the first estimate.
    if (waiting === undefined || waiting.cue.due_us === null || estimate === null) return;
    waiting.cancel();
    const dueLocal = waiting.cue.due_us - estimate.offset_us;
    const left = dueLocal - this.platform.nowUs();
    if (left <= 0) {
      this.#waiting.delete(number);
      this.#fire(waiting.cue, -left, estimate);
      return;
    }
    if (left <= ARM_US && !waiting.armed) {
      waiting.armed = true;
      this.stage.arm(waiting.cue, dueLocal);
    }
    const until = [ARM_US, LAST_LOOK_US].find((before) => left > before) ?? 0;
    waiting.cancel = this.platform.after((left - until) / 1_000, () => this.#look(number));
  }

  #fire(cue: Cue, lateUs: number, estimate: Estimate): void {
    const shown = this.#show(cue, lateUs > LATE_US ? lateUs : null);
    const due = cue.due_us ?? 0;
    this.stage.report({
      generation: cue.generation,
      cue: cue.cue,
      due_us: due,
      fired_us: shown ? due + lateUs : null,
      bound_us: estimate.bound_us,
    });
  }

  // A late cue never replaces a newer one on the screen.
  #show(cue: Cue, lateUs: number | null): boolean {
    if (cue.cue < this.#lastShown) return false;
    this.#lastShown = cue.cue;
    this.stage.show({ cue, late_us: lateUs, at_us: this.platform.nowUs() });
    return true;
  }

  #forget(number: number): void {
    this.#waiting.get(number)?.cancel();
    this.#waiting.delete(number);
  }

  #drop(): void {
    for (const number of [...this.#waiting.keys()]) this.#forget(number);
    this.stage.silence();
  }
}
