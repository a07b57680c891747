// A member at a page: the connection, the clock, the cues, the HOLD taps and what the page knows, put together. It
// draws nothing. Listeners are told of every change, and a listener that fails takes nobody else down.
import { Connection } from './connection';
import type { Entry } from './keys';
import { markOf } from './keys';
import { NOTHING, reduce, type Event, type View } from './model';
import { News } from './news';
import type { Dial, Platform, Store } from './platform';
import { nextActOf, needsTheClock } from './reading';
import { Scheduler, type Shown } from './scheduler';
import { Taps } from './taps';
import { dueAt } from './tempo';
import { PROTOCOL, STEP_BOUNCE_US, type Cue, type Subject, type ToMember, type ToServer, type Way } from './wire';
import { words } from './words';

/** What sounds and shakes. */
export interface Senses {
  /** Prepares a cue's sound for a moment of the local clock, microseconds. */
  arm(cue: Cue, atLocalUs: number): void;
  /** Takes a cue's sound back. */
  disarm(cue: Cue): void;
  /** A cue is on the screen, on time or late; what comes next for this reader is due in `nextInUs`, where that is known. */
  shown(shown: Shown, nextInUs: number | null): void;
  /** Stops everything at once. */
  silence(): void;
  /** Calls a hold on this device, as its person chose. True when it sounds or shakes. */
  callHold(): boolean;
}

/** What a session is made of. */
export interface Parts {
  platform: Platform;
  dial: Dial;
  /** Where unanswered HOLD taps outlive the page. */
  store: Store;
  senses: Senses;
  visible(): boolean;
  /** The membership that this page comes back with. */
  entry: Entry;
  /** What this page calls itself: its next line takes the place of the one before. No other page's. */
  page: string;
  /** The key is worth nothing any more. */
  barred(entry: Entry): void;
}

/** A trial of the hold stands on the screen so long: long enough to be read, short enough to be no hold. */
const TRIAL_SHOWN_MS = 4_000;

/** A member at a page. */
export class Session {
  #view: View = NOTHING;
  /** True once the server has let us in on the line that is open. */
  #known = false;
  /** What the page shows, and how many of its parts show it. */
  readonly #shows = new Map<Subject, number>();
  readonly #listeners = new Set<(view: View) => void>();
  readonly #connection: Connection;
  readonly #scheduler: Scheduler;
  readonly #taps: Taps;
  readonly #news: News;

  constructor(private readonly parts: Parts) {
    const { platform, entry } = parts;
    this.#news = new News(platform, (news) => this.#apply({ kind: 'news', news }));
    this.#connection = new Connection(platform, parts.dial, {
      hello: () => ({
        kind: 'return',
        protocol: PROTOCOL,
        key: entry.key,
        page: parts.page,
        taps: this.#taps.withKey(),
      }),
      opened: () => {
        this.#known = false;
        this.#taps.opened();
      },
      link: (link, reason) => this.#linkIs(link, reason),
      message: (message) => this.#told(message),
      visible: () => parts.visible(),
      inARun: () => needsTheClock(this.#view.state?.stage ?? 'idle'),
      callsBack: () => this.#taps.areWaiting,
    });
    const asked = {
      estimate: () => this.#connection.estimate(),
      mayShow: () => this.#connection.good && !this.#taps.areWaiting,
    };
    this.#scheduler = new Scheduler(platform, asked, {
      show: (shown) => {
        this.#apply({ kind: 'shown', shown });
        parts.senses.shown(shown, this.#nextInUs(shown.cue));
      },
      arm: (cue, at) => parts.senses.arm(cue, at),
      disarm: (cue) => parts.senses.disarm(cue),
      silence: () => parts.senses.silence(),
      report: (fired) => void this.#connection.send({ kind: 'report', ...fired }),
    });
    this.#taps = new Taps(
      platform,
      parts.store,
      `holdfast.taps.${markOf(entry.key)}`,
      {
        send: (message) => this.#connection.send(message),
        linked: () => this.#connection.link === 'linked',
        good: () => this.#connection.good,
      },
      (tap) => this.#apply({ kind: 'tap', tap }),
    );
    if (this.#taps.state !== 'none') this.#view = { ...this.#view, tap: this.#taps.state };
  }

  /** What the page knows now. */
  get view(): View {
    return this.#view;
  }

  /** What the server said and this page does not know, each with how often. */
  get unknown(): ReadonlyMap<string, number> {
    return this.#connection.unknown;
  }

  /** Server time now, or nothing before the first clock exchange. */
  serverNowUs(): number | null {
    return this.#connection.serverNowUs();
  }

  /** Tells `listener` the view now and at every change, until what is returned is called. */
  listen(listener: (view: View) => void): () => void {
    this.#listeners.add(listener);
    tell(listener, this.#view);
    return () => void this.#listeners.delete(listener);
  }

  /** Opens the line. */
  start(): void {
    this.#connection.start();
  }

  /** The page was shown, hidden, or found a network. */
  wake(): void {
    this.#news.seen(this.parts.visible());
    this.#connection.wake();
  }

  /** Shows these subjects: the server tells them, on every new line too, until what this returns is called. */
  show(subjects: readonly Subject[]): () => void {
    this.#showing(subjects, 1);
    let shown = true;
    return () => {
      if (shown) this.#showing(subjects, -1);
      shown = false;
    };
  }

  /**
   * One step of a walk-through, from the move that this person has seen: what has only just come on the screen is not
   * what they tapped for, so that a double tap is one step.
   */
  step(way: Way): void {
    const { generation, shown } = this.view;
    const unseen = shown !== null && this.parts.platform.nowUs() - shown.at_us < STEP_BOUNCE_US;
    this.ask({ kind: 'step', generation, from: (shown?.cue.step ?? 0) - (unseen ? 1 : 0), way });
  }

  /** Asks the server for something; says so when there is no line to ask on. */
  ask(message: ToServer): void {
    if (this.#view.link !== 'linked' || !this.#connection.send(message)) {
      this.#apply({ kind: 'refused', asked: message.kind, reason: words.notSent });
    }
  }

  /** HOLD. */
  hold(reason: string | null = null): void {
    // The server first: whatever else this page does waits for it.
    this.#taps.tap({
      generation: this.#view.generation,
      tapped_us: this.#connection.serverNowUs(),
      screen_cue: this.#view.shown?.cue.cue ?? null,
      reason,
    });
    // This page falls silent by itself; it need not be told by the server that its own person wants everything to stand.
    this.#scheduler.hush();
    this.#connection.hurry();
  }

  /** This page was closed because its member opened others: its person goes on here. */
  useHere(): void {
    this.#connection.useHere();
  }

  /** A refusal was read. */
  read(refusal: number): void {
    this.#apply({ kind: 'read', refusal });
  }

  #showing(subjects: readonly Subject[], more: 1 | -1): void {
    const before = this.#shows.size;
    for (const subject of subjects) {
      const count = (this.#shows.get(subject) ?? 0) + more;
      if (count > 0) this.#shows.set(subject, count);
      else this.#shows.delete(subject);
    }
    if (this.#connection.link === 'linked' && this.#shows.size !== before) this.#sayShown();
  }

  // A line on which nothing was asked tells no subject.
  #sayShown(): void {
    this.#connection.send({ kind: 'show', subjects: [...this.#shows.keys()] });
  }

  #linkIs(link: View['link'], reason: string | null): void {
    if (link !== 'linked') {
      this.#scheduler.shut();
      if (link === 'barred') this.#taps.refused();
      else this.#taps.lost();
      if (link === 'lost') this.#news.lost();
    }
    this.#apply({ kind: 'link', link, reason });
    if (link === 'barred') this.parts.barred(this.parts.entry);
  }

  #told(message: ToMember): void {
    // The scheduler hears of a generation before anything else is done with the message that tells of it.
    if (message.kind === 'welcome') {
      this.#known = true;
      this.#news.welcomed(message.state.stage, message.state.now_us);
      this.#scheduler.begin(message.state.generation, this.#connection.sameServer);
      this.#taps.linked();
    }
    if (message.kind === 'stop') {
      const news = message.generation >= this.#view.generation;
      this.#scheduler.raise(message.generation + 1);
      if (news) this.parts.senses.callHold();
    }
    if (message.kind === 'pulse' || message.kind === 'state' || message.kind === 'run' || message.kind === 'held') {
      this.#scheduler.raise(message.generation);
    }
    if (message.kind === 'pulse') this.#news.server(message.now_us);
    if (message.kind === 'refused' && !this.#known) {
      this.#connection.bar(message.reason);
      return;
    }
    this.#apply({ kind: 'message', message });
    if (message.kind === 'trial' && this.#view.trial !== null) this.#tried(this.#view.trial.trial);
    if (message.kind === 'welcome' && this.#shows.size > 0) this.#sayShown();
    if (message.kind === 'cue') this.#scheduler.cue(message);
    if (message.kind === 'tap-answer') this.#taps.answered(message.tap, message.outcome);
    const state = message.kind === 'welcome' ? message.state : message.kind === 'state' ? message : null;
    if (state !== null && state.stage !== 'held') this.#taps.forget();
    if (message.kind === 'clock') this.#apply({ kind: 'clock', clock: this.#connection.estimate() });
    this.#scheduler.look();
  }

  // By the run's own sheet: the cue of what comes next may not have come yet.
  #nextInUs(cue: Cue): number | null {
    const [now, run] = [this.#connection.serverNowUs(), this.#view.run];
    const next = nextActOf(cue);
    if (cue.due_us === null || now === null || run?.run !== cue.run || next === null) return null;
    const due = dueAt(run, next.at);
    return due === null ? null : due - now;
  }

  // As for a hold: shown, sounded, and answered by the page itself once it is on the screen.
  #tried(trial: number): void {
    const { platform, senses } = this.parts;
    const felt = senses.callHold();
    const answer = (shown: boolean) => void this.#connection.send({ kind: 'tried', trial, shown, felt });
    if (this.parts.visible()) platform.drawn(() => answer(true));
    else answer(false);
    platform.after(TRIAL_SHOWN_MS, () => this.#apply({ kind: 'trial-over', trial }));
  }

  #apply(event: Event): void {
    this.#view = reduce(this.#view, event);
    for (const listener of this.#listeners) tell(listener, this.#view);
  }
}

// A fault in one part of the page is that part's own; the console keeps it for whoever looks.
function tell(listener: (view: View) => void, view: View): void {
  try {
    listener(view);
  } catch (fault) {
    console.error(fault);
  }
}
