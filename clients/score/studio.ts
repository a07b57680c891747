// The score page's own state: which score, its draft, what the checks say, who else is here, what became of saving. It
// asks the server and remembers; it draws nothing.
import { signal } from '../ui/signal';
import { Refused } from '../core/asking';
import type { Platform } from '../core/platform';
import type {
  ComparedRow,
  DraftReport,
  RevisionView,
  SaveConflict,
  ScoreList,
  ScoreNews,
  ScoreText,
} from '../core/wire';
import { words } from '../core/words/score';
import type { Api } from './api';
import { changed, fresh, plainLines, withPart, type Base, type Draft, type Drafts } from './draft';
import { between, record, redo, undo, type Moved } from './history';

/** What a draft is checked after: a pause in the typing, milliseconds. */
const PAUSE_MS = 300;
/** What did not work is tried again after this, and the server is asked for news this often. */
const AGAIN_MS = 3_000;
const NEWS_MS = 2_000;

/** Something the page says of itself. */
export interface Said {
  good: boolean;
  text: string;
}

/** The state, and what can be done to it. */
export class Studio {
  readonly list = signal<ScoreList | null>(null);
  readonly file = signal<string | null>(null);
  readonly draft = signal<Draft | null>(null);
  /** What the checks said of `of`, by what they went by then; the draft may say something else by now. */
  readonly report = signal<{ of: string; by: string | null; report: DraftReport } | null>(null);
  /** What the checks go by, as far as this page has heard: with another one they are asked again. */
  readonly judgedBy = signal<string | null>(null);
  readonly news = signal<ScoreNews | null>(null);
  /** Why the server cannot say how the file is now: it is gone, or cannot be read. */
  readonly gone = signal<string | null>(null);
  readonly said = signal<Said | null>(null);
  readonly saving = signal(false);
  readonly conflict = signal<SaveConflict | null>(null);
  readonly revisions = signal<RevisionView[] | null>(null);
  /** An older revision that is looked at. */
  readonly old = signal<ScoreText | null>(null);
  /** What it is laid beside: another revision, or the draft. */
  readonly beside = signal<string | null>(null);
  /** Both, row by row; nothing while the server lays them out. */
  readonly compared = signal<ComparedRow[] | null>(null);
  /** False when this browser does not keep the draft. */
  readonly kept = signal(true);
  /** Where the caret has to go because the text was changed by something else than typing. */
  readonly caret = signal<{ at: number } | null>(null);

  #checks = 0;
  #compares = 0;
  #cancelCheck: () => void = () => undefined;
  #cancelKeep: () => void = () => undefined;
  #cancelCompare: () => void = () => undefined;
  #cancelNews: () => void = () => undefined;

  constructor(
    private readonly api: Api,
    private readonly drafts: Drafts,
    private readonly platform: Platform,
    private readonly visible: () => boolean,
  ) {}

  /** True when the person may save here. */
  get mayWrite(): boolean {
    return this.list.value?.may_write ?? false;
  }

  /** True while the plan of the stage is open and not a score. */
  get isStage(): boolean {
    return this.file.value !== null && this.file.value === this.list.value?.stage;
  }

  /** Asks for the scores and opens `first`, or the first one. */
  async begin(first: string | null): Promise<void> {
    const list = await this.#tried(() => this.api.list());
    if (list === null) {
      this.platform.after(AGAIN_MS, () => void this.begin(first));
      return;
    }
    this.said.value = null;
    this.list.value = list;
    const scores = list.scores.map((score) => score.file);
    const file = first !== null && (scores.includes(first) || first === list.stage) ? first : scores[0];
    if (file !== undefined) await this.open(file);
  }

  /** Opens a score, with the draft of it that this browser keeps. */
  async open(file: string): Promise<void> {
    this.keepNow();
    const text = await this.#tried(() => this.api.open(file));
    if (text === null) return;
    this.file.value = file;
    this.report.value = null;
    this.news.value = null;
    this.gone.value = null;
    this.conflict.value = null;
    this.revisions.value = null;
    this.closeOld();
    this.said.value = null;
    const base: Base = { revision: text.revision, text: text.text };
    const kept = this.mayWrite ? this.drafts.get(file) : null;
    this.draft.value = kept !== null && (changed(kept) || kept.base.revision === base.revision) ? kept : fresh(base);
    this.#check(0);
    this.#hearNews(0);
    void this.readRevisions();
  }

  /** The text was changed by hand. */
  type(text: string): void {
    const draft = this.draft.value;
    const edit = draft === null ? null : between(draft.text, text);
    if (draft === null || edit === null) return;
    if (this.said.value?.good === true) this.said.value = null;
    this.#becomes({ ...draft, text, history: record(draft.history, edit) });
  }

  /** The text was changed by the page: the caret goes along. */
  replace(text: string, caret: number): void {
    this.type(text);
    this.caret.value = { at: caret };
  }

  undo(): void {
    this.#move(undo);
  }

  redo(): void {
    this.#move(redo);
  }

  /** Puts the draft into columns. The caret stays at that place of the text, or at its end. */
  async format(caret: number): Promise<void> {
    const file = this.file.value;
    const text = this.draft.value?.text;
    if (file === null || text === undefined) return;
    const formatted = await this.#tried(() => this.api.format({ file, text }));
    if (formatted === null || this.draft.value?.text !== text) return;
    if (formatted.broken > 0) this.said.value = { good: false, text: words.score.notFormatted(formatted.broken) };
    else if (formatted.text === text) this.said.value = { good: true, text: words.score.formattedAlready };
    else {
      this.replace(formatted.text, Math.min(caret, formatted.text.length));
      this.said.value = { good: true, text: words.score.formatted };
    }
  }

  /** Makes the draft the score. */
  async save(why: string): Promise<boolean> {
    const file = this.file.value;
    const draft = this.draft.value;
    if (file === null || draft === null || this.saving.value) return false;
    this.saving.value = true;
    this.said.value = null;
    const { base, text } = draft;
    const answer = await this.#tried(() => this.api.save({ file, base: base.text, text, why }));
    this.saving.value = false;
    if (answer === null || this.file.value !== file) return false;
    void this.readRevisions();
    if (answer.outcome === 'conflict') {
      this.conflict.value = answer;
      return false;
    }
    this.conflict.value = null;
    this.#rebase({ revision: answer.revision, text: answer.text }, text);
    const how = answer.outcome;
    const told = words.score.saved[how];
    this.said.value = { good: answer.written, text: answer.written ? told : `${told} ${words.score.notLogged}` };
    return true;
  }

  /** A conflict was settled: this text, begun from theirs. Saving is a separate act. */
  settle(text: string): void {
    const conflict = this.conflict.value;
    const draft = this.draft.value;
    if (conflict === null || draft === null) return;
    const edit = between(draft.text, text);
    const history = edit === null ? draft.history : record(draft.history, edit);
    this.conflict.value = null;
    this.#becomes({ base: { revision: conflict.revision, text: conflict.theirs }, text, history });
    this.caret.value = { at: 0 };
    this.said.value = { good: true, text: words.score.settled };
  }

  /** What is in use now takes the place of the draft; undoing brings the draft back. */
  async takeTheirs(): Promise<void> {
    const file = this.file.value;
    if (file === null) return;
    const theirs = await this.#tried(() => this.api.open(file));
    const draft = this.draft.value;
    if (theirs === null || draft === null) return;
    const text = plainLines(theirs.text);
    const edit = between(draft.text, text);
    const history = edit === null ? draft.history : record(draft.history, edit);
    this.conflict.value = null;
    this.#becomes({ base: { revision: theirs.revision, text: theirs.text }, text, history });
    this.caret.value = { at: 0 };
  }

  async readRevisions(): Promise<void> {
    const file = this.file.value;
    if (file === null) return;
    const found = await this.#tried(() => this.api.revisions(file));
    if (found !== null && this.file.value === file) this.revisions.value = found.revisions;
  }

  /** Opens an older revision to look at, beside the draft. */
  async look(revision: string): Promise<void> {
    const file = this.file.value;
    if (file === null) return;
    this.beside.value = null;
    this.old.value = await this.#tried(() => this.api.revision(file, revision));
    await this.#compare();
  }

  /** Lays the older revision beside another one, or beside the draft. */
  async compareWith(revision: string | null): Promise<void> {
    this.beside.value = revision;
    await this.#compare();
  }

  closeOld(): void {
    this.old.value = null;
    this.compared.value = null;
  }

  /** Begins a fight of that name, and opens it. */
  async beginFight(fight: string): Promise<boolean> {
    const made = await this.#tried(() => this.api.begin(fight));
    if (made === null) return false;
    const list = await this.#tried(() => this.api.list());
    if (list !== null) this.list.value = list;
    await this.open(made.file);
    this.said.value = { good: true, text: words.score.fightBegun(made.fight, made.file) };
    return true;
  }

  /** Begins the plan of a stage, and opens it. False where there was one by now, which is open then; nothing where neither. */
  async beginStage(): Promise<boolean | null> {
    const answer = await this.#tried(() => this.api.beginStage());
    const list = answer === null ? null : await this.#tried(() => this.api.list());
    if (answer === null || list === null) return null;
    this.list.value = list;
    await this.open(answer.file);
    return this.file.value === answer.file ? answer.begun : null;
  }

  /** Begins a phrase or a pattern at the end of the draft, where the caret goes. */
  beginPart(part: 'phrase' | 'pattern'): void {
    const draft = this.draft.value;
    if (draft === null) return;
    const { text, caret } = withPart(draft.text, part);
    this.replace(text, caret);
  }

  /** Keeps the draft in the browser at once: the page may be gone in a moment. */
  keepNow(): void {
    this.#cancelKeep();
    const file = this.file.value;
    const draft = this.draft.value;
    if (file !== null && draft !== null && this.mayWrite) this.kept.value = this.drafts.keep(file, draft);
  }

  #move(way: (history: Draft['history'], text: string) => Moved | null): void {
    const draft = this.draft.value;
    const moved = draft === null ? null : way(draft.history, draft.text);
    if (draft === null || moved === null) return;
    this.#becomes({ ...draft, text: moved.text, history: moved.history });
    this.caret.value = { at: moved.caret };
  }

  async #compare(): Promise<void> {
    const file = this.file.value;
    const old = this.old.value;
    const draft = this.draft.value;
    this.#compares += 1;
    const mine = this.#compares;
    this.compared.value = null;
    if (file === null || old === null || draft === null) return;
    const which = this.beside.value;
    const other = which === null ? draft.text : (await this.#tried(() => this.api.revision(file, which)))?.text;
    if (other === undefined) return;
    const compared = await this.#tried(() => this.api.compare({ older: old.text, newer: other }));
    if (mine === this.#compares) this.compared.value = compared?.rows ?? null;
  }

  // What was typed while the answer was on its way stays: it is laid over the new base.
  #rebase(base: Base, sent: string): void {
    const draft = this.draft.value;
    if (draft === null) return;
    const now = plainLines(base.text);
    if (draft.text !== sent) {
      // The draft moved on: the next save makes one of the two by line. It still stands on what was sent.
      const stands = now === sent ? base : { revision: draft.base.revision, text: draft.base.text };
      this.#becomes({ ...draft, base: stands });
      return;
    }
    const edit = between(sent, now);
    const history = edit === null ? draft.history : record(draft.history, edit);
    this.#becomes({ base, text: now, history });
  }

  #becomes(draft: Draft): void {
    this.draft.value = draft;
    this.#cancelKeep();
    this.#cancelKeep = this.platform.after(PAUSE_MS, () => this.keepNow());
    this.#check(PAUSE_MS);
    this.#cancelCompare();
    if (this.old.value !== null && this.beside.value === null) {
      this.#cancelCompare = this.platform.after(PAUSE_MS, () => void this.#compare());
    }
  }

  #check(inMs: number): void {
    this.#cancelCheck();
    this.#cancelCheck = this.platform.after(inMs, () => void this.#checkNow());
  }

  async #checkNow(): Promise<void> {
    const file = this.file.value;
    const text = this.draft.value?.text;
    const by = this.judgedBy.value;
    const known = this.report.value;
    if (file === null || text === undefined || (known?.of === text && known.by === by)) return;
    this.#checks += 1;
    const mine = this.#checks;
    try {
      const report = await this.api.check({ file, text });
      if (mine === this.#checks && this.file.value === file) this.report.value = { of: text, by, report };
    } catch (error) {
      if (mine !== this.#checks) return;
      this.said.value = { good: false, text: words.score.notChecked(reasonOf(error)) };
      this.#check(AGAIN_MS);
    }
  }

  #hearNews(inMs: number): void {
    this.#cancelNews();
    this.#cancelNews = this.platform.after(inMs, () => void this.#newsNow());
  }

  async #newsNow(): Promise<void> {
    const file = this.file.value;
    if (file !== null && this.visible()) {
      try {
        const news = await this.api.here(file);
        this.gone.value = null;
        if (this.file.value === file) await this.#told(file, news);
        await this.#judged(news.judged_by);
      } catch (error) {
        // No answer is told by the link at the top of the page; the next question is asked in a moment.
        this.news.value = null;
        const refused = error instanceof Refused && error.message !== words.score.noAnswer;
        if (this.file.value === file) this.gone.value = refused ? error.message : null;
      }
    }
    this.#hearNews(NEWS_MS);
  }

  // Whoever has changed nothing sees what is in use; whoever has keeps their draft, and is told.
  async #told(file: string, news: ScoreNews): Promise<void> {
    const draft = this.draft.value;
    const moved = this.news.value !== null && this.news.value.revision !== news.revision;
    this.news.value = news;
    if (moved) void this.readRevisions();
    if (draft === null || this.saving.value || changed(draft) || news.revision === draft.base.revision) return;
    const now = await this.api.open(file);
    const still = this.draft.value;
    if (this.file.value !== file || still === null || still.text !== draft.text || this.saving.value) return;
    this.#becomes(fresh({ revision: now.revision, text: now.text }));
    this.said.value = { good: true, text: words.score.newRevision };
  }

  // With other words, limits or another stage the same text is found otherwise, and there may be other scores, or a stage.
  async #judged(by: string): Promise<void> {
    const before = this.judgedBy.value;
    if (by === before) return;
    if (before !== null) this.list.value = await this.api.list();
    this.judgedBy.value = by;
    if (before !== null) this.#check(0);
  }

  async #tried<T>(ask: () => Promise<T>): Promise<T | null> {
    try {
      return await ask();
    } catch (error) {
      this.said.value = { good: false, text: reasonOf(error) };
      return null;
    }
  }
}

function reasonOf(error: unknown): string {
  if (!(error instanceof Refused)) console.error(error);
  return error instanceof Refused ? error.message : words.score.noAnswer;
}
