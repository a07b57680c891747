// When a cue is shown and heard: at its time on the synchronised clock, never when it happens to arrive. A cue that
// comes too late is shown at once with how late it is, and never sounded. A cue belongs to a generation; once that has
// passed, or the link is lost, nothing that waits here comes out any more. The Rust member's twin is `src/member/cues.rs`.
import type { Estimate } from './clock';
import type { Cancel, Platform } from './platform';
import { LATE_US, type Cue, type Fired } from './wire';

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
  /** True when it was shown over an earlier line: the screen was empty since, so it is shown once more, in silence. */
  again: boolean;
}

/** What the scheduler does to the world. */
export interface Stage {
  /** Puts a cue on the screen. */
  show(shown: Shown): void;
  /** Prepares its sound for a moment of the local clock. Undone by `disarm` and `silence`. */
  arm(cue: Cue, atLocalUs: number): void;
  /** Takes the sound of a cue back. */
  disarm(cue: Cue): void;
  /** Stops every sound and vibration, those that were armed too. */
  silence(): void;
  /** Tells the server how a cue came out. */
  report(fired: Fired): void;
}

/** What the scheduler asks. */
export interface Asked {
  /** What is known of the server's clock now. */
  estimate(): Estimate | null;
  /** False while nothing may come out: without a good link, or while nobody has answered this person's HOLD. */
  mayShow(): boolean;
}

interface Waiting {
  cue: Cue;
  /** True when its time had passed as it arrived. */
  cameLate: boolean;
  armed: boolean;
}

/** The scheduler. It is shut until `begin`. */
export class Scheduler {
  #generation = 0;
  #open = false;
  #waiting = new Map<number, Waiting>();
  /** The cues of this generation that were shown, and those of them that were shown over this line. */
  #done = new Set<number>();
  #shownHere = new Set<number>();
  #screen = -1;
  #timer: Cancel = () => undefined;

  constructor(
    private readonly platform: Platform,
    private readonly asked: Asked,
    private readonly stage: Stage,
  ) {}

  /** How many cues wait. */
  get waiting(): number {
    return this.#waiting.size;
  }

  /** A link is there, and this is the generation that lives. What waited from before is gone. */
  begin(generation: number, sameServer: boolean): void {
    if (!sameServer || generation !== this.#generation) this.#done.clear();
    this.#generation = generation;
    this.#clear();
    this.#open = true;
  }

  /** A generation was heard of. A higher one silences at once; a lower one says nothing. */
  raise(generation: number): void {
    if (generation <= this.#generation) return;
    this.#generation = generation;
    this.#done.clear();
    this.#clear();
  }

  /** HOLD was tapped here: everything falls silent, whether or not the server has heard. */
  hush(): void {
    for (const waiting of this.#waiting.values()) waiting.armed = false;
    this.stage.silence();
  }

  /** The link is lost: nothing comes out until `begin`. */
  shut(): void {
    this.#open = false;
    this.#clear();
  }

  /** A cue arrived. */
  cue(cue: Cue): void {
    this.raise(cue.generation);
    if (!this.#open || cue.generation < this.#generation || this.#shownHere.has(order(cue))) return;
    const known = this.#waiting.get(order(cue));
    if (known?.cue.due_us === cue.due_us) {
      known.cue = cue;
    } else {
      // The same cue with another time is a correction (the speed was changed): the newer time counts.
      if (known?.armed === true) this.stage.disarm(known.cue);
      const now = this.#serverUs(this.asked.estimate());
      const cameLate = cue.due_us !== null && now !== null && cue.due_us < now;
      this.#waiting.set(order(cue), { cue, cameLate, armed: false });
    }
    this.look();
  }

  /** Something has changed (time, clock, link, an answer): shows what is due and waits for what comes. */
  look(): void {
    this.#timer();
    if (!this.#open || !this.asked.mayShow()) return;
    const estimate = this.asked.estimate();
    const now = this.#serverUs(estimate);
    for (const waiting of this.#due(now)) this.#fire(waiting, now, estimate);
    // Before the first clock exchange nobody knows when a cue is due; a look comes with the first estimate.
    if (now !== null && estimate !== null) this.#wait(now, estimate.offset_us);
  }

  #serverUs(estimate: Estimate | null): number | null {
    return estimate === null ? null : this.platform.nowUs() + estimate.offset_us;
  }

  #due(now: number | null): Waiting[] {
    const until = now ?? -Infinity;
    return [...this.#waiting.values()].filter(({ cue }) => dueOf(cue) <= until).sort(inOrder);
  }

  // One timer for all that wait: for the next moment at which one is due, armed, or looked at for the last time.
  #wait(now: number, offset: number): void {
    let next = Infinity;
    for (const waiting of this.#waiting.values()) {
      const due = waiting.cue.due_us ?? now;
      const left = due - now;
      if (left <= ARM_US && !waiting.armed) {
        waiting.armed = true;
        this.stage.arm(waiting.cue, due - offset);
      }
      next = Math.min(next, left - ([ARM_US, LAST_LOOK_US].find((before) => left > before) ?? 0));
    }
    if (next < Infinity) this.#timer = this.platform.after(next / 1_000, () => this.look());
  }

  #fire({ cue, cameLate }: Waiting, now: number | null, estimate: Estimate | null): void {
    this.#waiting.delete(order(cue));
    const again = this.#done.has(order(cue));
    this.#done.add(order(cue));
    this.#shownHere.add(order(cue));
    const due = cue.due_us;
    const after = due === null || now === null ? 0 : now - due;
    const late_us = due !== null && (cameLate || after > LATE_US) ? after : null;
    // A late cue never takes a newer one off the screen.
    const shown = order(cue) >= this.#screen;
    if (due !== null && !again) {
      const { generation, cue: number } = cue;
      const fired_us = shown ? now : null;
      this.stage.report({ generation, cue: number, due_us: due, fired_us, bound_us: estimate?.bound_us ?? null });
    }
    if (!shown) return;
    this.#screen = order(cue);
    this.stage.show({ cue, late_us, at_us: this.platform.nowUs(), again });
  }

  #clear(): void {
    this.#timer();
    this.#waiting.clear();
    this.#shownHere.clear();
    this.#screen = -1;
    this.stage.silence();
  }
}

// A cue's place in the order of its run: its number, or in a walk-through, which may go back to an earlier cue, the
// number of its step.
function order(cue: Cue): number {
  return cue.step ?? cue.cue;
}

// A step is due at once.
function dueOf(cue: Cue): number {
  return cue.due_us ?? -Infinity;
}

function inOrder({ cue: one }: Waiting, { cue: other }: Waiting): number {
  const [first, second] = [dueOf(one), dueOf(other)];
  return first === second ? order(one) - order(other) : first - second;
}
