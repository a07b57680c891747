// The draft that this browser keeps: the text as it stands, what it was begun from, and how it can be undone. It outlives
// a reload, a crash of the browser and a server that is away.
import { markOf } from '../core/keys';
import type { Store } from '../core/platform';
import { fits, NO_HISTORY, type Edit, type History } from './history';

/** The text that a draft was begun from. */
export interface Base {
  revision: string;
  text: string;
}

/** A draft. */
export interface Draft {
  base: Base;
  text: string;
  history: History;
}

/** A draft that nothing was done to. */
export function fresh(base: Base): Draft {
  return { base, text: plainLines(base.text), history: NO_HISTORY };
}

/** True when the draft says something else than what it was begun from. */
export const changed = (draft: Draft): boolean => draft.text !== plainLines(draft.base.text);

/** A text field knows one kind of line end; the server writes the file's own. */
export const plainLines = (text: string): string => text.replaceAll('\r\n', '\n').replaceAll('\r', '\n');

/** The drafts of one member in this browser. */
export class Drafts {
  constructor(
    private readonly store: Store,
    private readonly key: string,
  ) {}

  /** The draft of a file. One that makes no sense any more is no draft. */
  get(file: string): Draft | null {
    try {
      const kept: unknown = JSON.parse(this.store.get(this.#name(file)) ?? 'null');
      return isDraft(kept) && fits(kept.history, kept.text) ? kept : null;
    } catch {
      return null;
    }
  }

  /** Keeps a draft; one without a change and without a past need not be kept. False when the browser refuses. */
  keep(file: string, draft: Draft): boolean {
    if (changed(draft) || draft.history.edits.length > 0)
      return this.store.set(this.#name(file), JSON.stringify(draft));
    this.store.remove(this.#name(file));
    return true;
  }

  #name(file: string): string {
    return `holdfast.draft.${markOf(this.key)}.${file}`;
  }
}

function isDraft(kept: unknown): kept is Draft {
  if (typeof kept !== 'object' || kept === null) return false;
  const { base, text, history } = kept as Partial<Draft>;
  const edits = history?.edits;
  return (
    typeof text === 'string' &&
    typeof base?.revision === 'string' &&
    typeof base.text === 'string' &&
    Array.isArray(edits) &&
    edits.every(isEdit)
  );
}

function isEdit(edit: Partial<Edit> | null): boolean {
  return typeof edit?.at === 'number' && typeof edit.out === 'string' && typeof edit.in === 'string';
}

/** A text with a phrase or a pattern begun at its end, under a name that is not there, and where its first line begins. */
export function withPart(text: string, part: 'phrase' | 'pattern'): { text: string; caret: number } {
  const named = (name: string): boolean => text.includes(`${part} "${name}"`);
  const first = part === 'phrase' ? 'New phrase' : 'New pattern';
  let name = first;
  for (let number = 2; named(name); number += 1) name = `${first} ${number}`;
  const head = part === 'phrase' ? `phrase "${name}"` : `pattern "${name}" for A, B`;
  const line =
    part === 'phrase' ? '  rest 4' : '  1      A       thrust belly        / B       parry 4          ! steel';
  const before = `${text.trimEnd()}\n\n${head}\n`;
  return { text: `${before}${line}\n`, caret: before.length + 2 };
}
