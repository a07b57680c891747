// What was done to a text, so that it can be undone and done again, also after a reload. Pure: texts and edits in, texts
// and edits out.

/** One change: at a place, some characters went and others came. */
export interface Edit {
  at: number;
  out: string;
  in: string;
}

/** The changes of a text, oldest first; the first `done` of them are in it. */
export interface History {
  edits: Edit[];
  done: number;
}

/** A text after going back or forth, with the place that changed. */
export interface Moved {
  history: History;
  text: string;
  caret: number;
}

/** Nothing was done yet. */
export const NO_HISTORY: History = { edits: [], done: 0 };

/** So many changes are kept, and so many characters of them; the oldest go first. */
export const MOST_EDITS = 1_000;
export const MOST_CHARACTERS = 400_000;

/** The one change that makes `after` of `before`; nothing when they are the same. */
export function between(before: string, after: string): Edit | null {
  if (before === after) return null;
  const most = Math.min(before.length, after.length);
  let at = 0;
  while (at < most && before[at] === after[at]) at += 1;
  let end = 0;
  while (end < most - at && before[before.length - 1 - end] === after[after.length - 1 - end]) end += 1;
  return { at, out: before.slice(at, before.length - end), in: after.slice(at, after.length - end) };
}

/** Takes a change in. What had been undone can be done again no more; letters of one word are one change. */
export function record(history: History, edit: Edit): History {
  const edits = history.edits.slice(0, history.done);
  const last = edits.at(-1);
  const joined = last === undefined || history.done < history.edits.length ? null : join(last, edit);
  if (joined === null) edits.push(edit);
  else edits[edits.length - 1] = joined;
  return shorten(edits);
}

/** The text before its last change. */
export function undo(history: History, text: string): Moved | null {
  const edit = history.edits[history.done - 1];
  if (edit === undefined) return null;
  const { at, out } = edit;
  return {
    history: { ...history, done: history.done - 1 },
    text: text.slice(0, at) + out + text.slice(at + edit.in.length),
    caret: at + out.length,
  };
}

/** The text after the change that was undone last. */
export function redo(history: History, text: string): Moved | null {
  const edit = history.edits[history.done];
  if (edit === undefined) return null;
  const { at, out } = edit;
  return {
    history: { ...history, done: history.done + 1 },
    text: text.slice(0, at) + edit.in + text.slice(at + out.length),
    caret: at + edit.in.length,
  };
}

/** True when going all the way back from `text` fits: every change finds what it put there. */
export function fits(history: History, text: string): boolean {
  if (!Number.isInteger(history.done) || history.done < 0 || history.done > history.edits.length) return false;
  let now = text;
  for (const edit of history.edits.slice(0, history.done).reverse()) {
    if (now.slice(edit.at, edit.at + edit.in.length) !== edit.in) return false;
    now = now.slice(0, edit.at) + edit.out + now.slice(edit.at + edit.in.length);
  }
  return true;
}

// One letter after another, until a word is over; one letter before another, taken away.
function join(last: Edit, edit: Edit): Edit | null {
  const types = edit.out === '' && last.out === '' && edit.in.length === 1 && edit.at === last.at + last.in.length;
  if (types && edit.in !== '\n' && !(/\s$/.test(last.in) && /\S/.test(edit.in))) {
    return { ...last, in: last.in + edit.in };
  }
  const takes = edit.in === '' && last.in === '' && edit.out.length === 1 && edit.at === last.at - 1;
  return takes && edit.out !== '\n' ? { at: edit.at, out: edit.out + last.out, in: '' } : null;
}

function shorten(edits: Edit[]): History {
  let characters = 0;
  let first = edits.length;
  while (first > 0 && edits.length - first < MOST_EDITS) {
    const edit = edits[first - 1];
    characters += edit === undefined ? 0 : edit.out.length + edit.in.length;
    if (characters > MOST_CHARACTERS) break;
    first -= 1;
  }
  const kept = edits.slice(first);
  return { edits: kept, done: kept.length };
}
