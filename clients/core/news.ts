// What happened to this page while nobody looked, in a sentence: a lost link, a locked phone, a server that was started
// anew, a reload in the middle of a call. It stands for a while and then goes by itself.
import type { Platform } from './platform';
import type { Stage } from './wire';
import { onWords, words } from './words';

/** How long a sentence stands. */
const STANDS_MS = 15_000;
/** A page out of sight for less than this has missed nothing worth saying. */
const WORTH_SAYING_US = 1_000_000;

/** What the news are made of. */
export class News {
  #lostUs: number | null = null;
  #hiddenUs: number | null = null;
  #asleepUs = 0;
  #serverUs: number | null = null;
  #telling = 0;
  /** The sentence that stands, in whatever language. */
  #stands: (() => string) | null = null;

  /** `tell` is given a sentence, and nothing when it has stood long enough. */
  constructor(
    private readonly platform: Platform,
    private readonly tell: (news: string | null) => void,
  ) {
    // What stands when the words become another language's is said again in it.
    onWords(() => this.#stands !== null && this.tell(this.#stands()));
  }

  /** The link was lost. */
  lost(): void {
    this.#lostUs ??= this.platform.nowUs();
  }

  /** The page went out of sight, or came back into it. */
  seen(visible: boolean): void {
    const now = this.platform.nowUs();
    if (!visible) {
      this.#hiddenUs ??= now;
      return;
    }
    if (this.#hiddenUs === null) return;
    this.#asleepUs = now - this.#hiddenUs;
    this.#hiddenUs = null;
    if (this.#lostUs === null && this.#asleepUs > WORTH_SAYING_US)
      this.#say(() => words.newsHidden(words.span(this.#asleepUs)));
  }

  /** The server's clock was read: a lower reading than before is another server's. */
  server(nowUs: number): void {
    this.#serverUs = Math.max(this.#serverUs ?? nowUs, nowUs);
  }

  /** The server let this page in and said where the call stands. */
  welcomed(stage: Stage, serverUs: number): void {
    const first = this.#serverUs === null;
    const restarted = this.#serverUs !== null && serverUs < this.#serverUs;
    const away = this.#lostUs === null ? 0 : this.platform.nowUs() - this.#lostUs;
    const under = stage === 'count-in' || stage === 'running' || stage === 'held';
    if (first && under) this.#say(() => words.newsLoaded(words.stage[stage]));
    if (restarted) this.#say(() => words.newsRestarted(words.span(away)));
    else if (!first && this.#asleepUs > away / 2)
      this.#say(() => words.newsAsleep(words.span(away), words.stage[stage]));
    else if (!first && away > 0) this.#say(() => words.newsBack(words.span(away), words.stage[stage]));
    this.#lostUs = null;
    this.#asleepUs = 0;
    this.#serverUs = serverUs;
  }

  #say(news: () => string): void {
    this.#telling += 1;
    const telling = this.#telling;
    this.#stands = news;
    this.tell(news());
    this.platform.after(STANDS_MS, () => {
      if (telling !== this.#telling) return;
      this.#stands = null;
      this.tell(null);
    });
  }
}
