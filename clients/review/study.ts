// What the review page knows and does: the selection, the review of it, the hold that is told beside it. It draws
// nothing. An answer that comes when something else was asked meanwhile is thrown away.
import { signal } from '../ui/signal';
import { Refused } from '../core/asking';
import type { ReviewAsked, ReviewFile, ReviewPage } from '../core/wire';
import { words } from '../core/words/review';
import type { Api } from './api';
import { EVERYTHING } from './filter';

/** A hold or stop that is told. */
export interface Told {
  /** The events of the same move, newest first. */
  events: number[];
  /** Which of them is told. */
  at: number;
  /** Its markup; nothing until it has come. */
  markup: string | null;
}

/** The review that is looked at. */
export class Study {
  readonly filter = signal<ReviewAsked>(EVERYTHING);
  readonly page = signal<ReviewPage | null>(null);
  /** When the review was counted. */
  readonly at = signal<Date | null>(null);
  readonly busy = signal(false);
  /** What was not done, or what was done, in a sentence. */
  readonly said = signal<{ good: boolean; text: string } | null>(null);
  readonly told = signal<Told | null>(null);
  #asked = 0;
  #told = 0;

  constructor(private readonly api: Api) {}

  /** Asks for the review of a selection; what stands there stays until it has come. */
  async show(filter: ReviewAsked): Promise<void> {
    const asked = ++this.#asked;
    this.filter.value = filter;
    this.busy.value = true;
    try {
      const page = await this.api.review(filter);
      if (asked !== this.#asked) return;
      [this.page.value, this.at.value, this.said.value] = [page, new Date(), null];
      this.filter.value = page.filter;
    } catch (fault) {
      if (asked === this.#asked) this.#refused(fault);
    } finally {
      if (asked === this.#asked) this.busy.value = false;
    }
    const told = this.told.value;
    if (asked === this.#asked && told !== null) await this.tell(told.events, told.at);
  }

  /** Tells one of these holds and stops. */
  async tell(events: number[], at: number): Promise<void> {
    const event = events[at];
    if (event === undefined) return;
    const asked = ++this.#told;
    const before = this.told.value;
    const again = before !== null && before.events[before.at] === event;
    this.told.value = { events, at, markup: again ? before.markup : null };
    try {
      const { markup } = await this.api.event(event);
      if (asked === this.#told && this.told.value !== null) this.told.value = { events, at, markup };
    } catch (fault) {
      if (asked !== this.#told) return;
      if (!again) this.told.value = null;
      this.#refused(fault);
    }
  }

  /** Tells nothing any more. */
  hush(): void {
    this.#told += 1;
    this.told.value = null;
  }

  /** The body of a fold, or nothing when there is none, which is said. */
  async part(name: string): Promise<string | null> {
    try {
      return (await this.api.part(this.filter.value, name)).markup;
    } catch (fault) {
      this.#refused(fault);
      return null;
    }
  }

  /** The review as a file. */
  async file(file: ReviewFile): Promise<Blob | null> {
    try {
      return await this.api.file(this.filter.value, file);
    } catch (fault) {
      this.#refused(fault);
      return null;
    }
  }

  #refused(fault: unknown): void {
    if (!(fault instanceof Refused)) console.error(fault);
    const text = fault instanceof Refused ? fault.message : words.review.noAnswer;
    this.said.value = { good: false, text };
  }
}
