// What the review page asks the server for.
import { ask, askJson } from '../core/asking';
import type { ReviewAsked, ReviewFile, ReviewPage, ReviewPiece } from '../core/wire';
import { words } from '../core/words/review';

/** The server, asked with a personal key. Every question may fail with `Refused`. */
export class Api {
  constructor(private readonly key: string) {}

  review = (filter: ReviewAsked): Promise<ReviewPage> => this.#json('review', filter);
  part = (filter: ReviewAsked, part: string): Promise<ReviewPiece> => this.#json('review/part', { filter, part });
  event = (event: number): Promise<ReviewPiece> => this.#json('review/event', { event });

  /** The review as a file. */
  async file(filter: ReviewAsked, file: ReviewFile): Promise<Blob> {
    return (await ask('review/file', this.key, { filter, file }, words.review.noAnswer)).blob();
  }

  #json<T>(what: string, body: unknown): Promise<T> {
    return askJson(what, this.key, body, words.review.noAnswer);
  }
}
