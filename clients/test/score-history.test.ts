// Undo and redo: whatever was typed, taken out and pasted, the way back ends where it began and the way forth where it was.
import { describe, expect, it } from 'vitest';
import { memoryStore } from '../core/platform';
import { changed, Drafts, fresh } from '../score/draft';
import { between, fits, MOST_EDITS, NO_HISTORY, record, redo, undo, type History } from '../score/history';
import { chance } from './support/chance';

/** A text after some edits, with every text on the way. */
function write(seed: number, steps: number): { texts: string[]; history: History } {
  const random = chance(seed);
  const pick = (most: number): number => Math.floor(random() * most);
  let text = 'fight "Quay"\n';
  let history = NO_HISTORY;
  const texts = [text];
  for (let step = 0; step < steps; step += 1) {
    const at = pick(text.length + 1);
    const typed = ['a', ' ', '\n', 'cut head', '😀', ''][pick(6)] ?? '';
    const next = text.slice(0, at) + typed + text.slice(at + (typed === '' || pick(3) === 0 ? pick(6) : 0));
    const edit = between(text, next);
    if (edit === null) continue;
    history = record(history, edit);
    text = next;
    texts.push(text);
  }
  return { texts, history };
}

describe('a history', () => {
  it('goes all the way back and all the way forth, for a hundred texts', () => {
    for (let seed = 0; seed < 100; seed += 1) {
      const { texts, history } = write(seed, 60);
      const last = texts.at(-1) ?? '';
      expect(fits(history, last)).toBe(true);
      let now = { history, text: last };
      for (let back = undo(now.history, now.text); back !== null; back = undo(now.history, now.text)) {
        now = back;
        expect(texts, `seed ${seed}`).toContain(now.text);
        expect(fits(now.history, now.text)).toBe(true);
      }
      expect(now.text, `seed ${seed}`).toBe(texts[0]);
      for (let on = redo(now.history, now.text); on !== null; on = redo(now.history, now.text)) now = on;
      expect(now.text, `seed ${seed}`).toBe(last);
    }
  });

  it('takes a word for one change, and the next word for another', () => {
    let text = '';
    let history = NO_HISTORY;
    for (const letter of 'cut head') {
      const edit = between(text, text + letter);
      text += letter;
      if (edit !== null) history = record(history, edit);
    }
    expect(history.edits.map((edit) => edit.in)).toEqual(['cut ', 'head']);
  });

  it('does what was undone no more once something else was typed', () => {
    const one = record(NO_HISTORY, { at: 0, out: '', in: 'one\n' });
    const back = undo(one, 'one\n');
    expect(back).not.toBeNull();
    const other = record(back?.history ?? NO_HISTORY, { at: 0, out: '', in: 'two\n' });
    expect(redo(other, 'two\n')).toBeNull();
    expect(undo(other, 'two\n')?.text).toBe('');
  });

  it('keeps so many changes and no more', () => {
    let history = NO_HISTORY;
    for (let n = 0; n < MOST_EDITS + 10; n += 1) history = record(history, { at: n * 2, out: '', in: 'x\n' });
    expect(history.edits.length).toBe(MOST_EDITS);
    expect(fits(history, 'x\n'.repeat(MOST_EDITS + 10))).toBe(true);
  });
});

describe('a draft', () => {
  const base = { revision: 'abc', text: 'a\r\nb\r\n' };

  it('is there after a reload with its history, for its own member alone', () => {
    const store = memoryStore();
    const { texts, history } = write(7, 30);
    const draft = { base, text: texts.at(-1) ?? '', history };
    expect(new Drafts(store, 'key').keep('scores/a.fight', draft)).toBe(true);
    expect(new Drafts(store, 'key').get('scores/a.fight')).toEqual(draft);
    expect(new Drafts(store, 'key').get('scores/b.fight')).toBeNull();
    expect(new Drafts(store, 'another').get('scores/a.fight')).toBeNull();
  });

  it('of which nothing is changed is not kept, whatever its line ends are', () => {
    const store = memoryStore();
    const drafts = new Drafts(store, 'key');
    expect(changed(fresh(base))).toBe(false);
    drafts.keep('a', { ...fresh(base), text: 'other' });
    drafts.keep('a', fresh(base));
    expect(drafts.get('a')).toBeNull();
  });

  it('that makes no sense is no draft', () => {
    const store = memoryStore();
    const drafts = new Drafts(store, 'key');
    drafts.keep('a', { ...fresh(base), text: 'other' });
    const name = 'holdfast.draft.';
    const kept = { base, text: 'x', history: { edits: [{ at: 5, out: '', in: 'y' }], done: 1 } };
    for (const text of ['', 'nonsense', '[]', '{}', JSON.stringify(kept), JSON.stringify({ ...kept, text: 3 })]) {
      const spoilt = { ...store, get: (asked: string) => (asked.startsWith(name) ? text : null) };
      expect(new Drafts(spoilt, 'key').get('a'), text).toBeNull();
    }
  });

  it('says when the browser refuses to keep it', () => {
    const full = { ...memoryStore(), set: () => false };
    expect(new Drafts(full, 'key').keep('a', { ...fresh(base), text: 'other' })).toBe(false);
  });
});
