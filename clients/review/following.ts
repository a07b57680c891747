// When to ask anew: soon after something was written down that a review counts, and never too often, however much
// happens. While a run goes nothing is asked: nothing that is counted has happened yet.
import type { Cancel, Platform } from '../core/platform';
import type { View } from '../core/model';
import { stageOf } from '../core/reading';

/** The log has what the line tells a moment later. */
const SOON_MS = 1_200;
/** The most often that is asked. */
const LEAST_MS = 4_000;

/** A mark that changes when something happened that a review counts; nothing while the line tells nothing. */
export function markOf(view: View): string | null {
  const stage = stageOf(view);
  const state = view.state;
  if (stage === null || state === null) return null;
  const goes = stage === 'count-in' || stage === 'running' || stage === 'places';
  const { holds, checks, attendance } = view;
  if (holds === null || checks === null || attendance === null) return null;
  const held = holds.map(({ hold, notes }) => [
    hold.hold,
    hold.caller_count,
    notes.length,
    hold.released_by,
    hold.written,
  ]);
  const signed = checks.map(({ signed }) => signed?.at_us ?? null);
  return JSON.stringify([goes ? 'goes' : [stage, view.generation], held, signed, attendance]);
}

/** Follows the call and asks when there is something new. */
export class Following {
  #mark: string | null = null;
  #asked = -LEAST_MS * 1_000;
  #waiting: Cancel | null = null;

  constructor(
    private readonly platform: Platform,
    private readonly ask: () => void,
  ) {}

  /** The line tells something. The first thing it tells is what was asked for already. */
  told(view: View): void {
    const mark = markOf(view);
    if (mark === null || mark === this.#mark) return;
    const first = this.#mark === null;
    this.#mark = mark;
    if (first || this.#waiting !== null) return;
    const passed = (this.platform.nowUs() - this.#asked) / 1_000;
    this.#waiting = this.platform.after(Math.max(SOON_MS, LEAST_MS - passed), () => {
      this.#waiting = null;
      this.asking();
      this.ask();
    });
  }

  /** Something is asked now, whoever wanted it. */
  asking(): void {
    this.#asked = this.platform.nowUs();
  }
}
