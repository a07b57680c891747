// What the score page asks the server for. Drafts are long, so they go by HTTP and never over the line that HOLD is on.
import { askJson } from '../core/asking';
import type {
  CompareAsked,
  Compared,
  Draft,
  DraftFloor,
  DraftPicture,
  DraftReport,
  Formatted,
  PictureAsked,
  Preview,
  PreviewAsked,
  Revisions,
  SaveAnswer,
  SaveAsked,
  ScoreList,
  ScoreNews,
  ScoreText,
  StageAsked,
  StageBegun,
  StageTold,
} from '../core/wire';
import { words } from '../core/words/score';

/** The server, asked with a personal key. Every question may fail with `Refused`. */
export class Api {
  constructor(private readonly key: string) {}

  list = (): Promise<ScoreList> => this.#ask('list', {});
  open = (file: string): Promise<ScoreText> => this.#ask('open', { file });
  here = (file: string): Promise<ScoreNews> => this.#ask('here', { file });
  check = (draft: Draft): Promise<DraftReport> => this.#ask('check', draft);
  format = (draft: Draft): Promise<Formatted> => this.#ask('format', draft);
  preview = (asked: PreviewAsked): Promise<Preview> => this.#ask('preview', asked);
  floor = (draft: Draft): Promise<DraftFloor> => this.#ask('floor', draft);
  stage = (asked: StageAsked): Promise<StageTold> => this.#ask('stage', asked);
  beginStage = (): Promise<StageBegun> => this.#ask('new-stage', {});
  picture = (asked: PictureAsked): Promise<DraftPicture> => this.#ask('picture', asked);
  begin = (fight: string): Promise<ScoreText> => this.#ask('new', { fight });
  compare = (asked: CompareAsked): Promise<Compared> => this.#ask('compare', asked);
  save = (asked: SaveAsked): Promise<SaveAnswer> => this.#ask('save', asked);
  revisions = (file: string): Promise<Revisions> => this.#ask('revisions', { file });
  revision = (file: string, revision: string): Promise<ScoreText> => this.#ask('revision', { file, revision });

  // The server lists or opens nothing that a body could not name; so there is always one.
  #ask<T>(what: string, body: unknown): Promise<T> {
    return askJson(`scores/${what}`, this.key, body, words.score.noAnswer);
  }
}
