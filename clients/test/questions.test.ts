// What a performer is asked about their part, and what is remembered of it.
import { describe, expect, it } from 'vitest';
import type { MoveView, RunSheet } from '../core/wire';
import { answered, begin, notKnown, questionsOf, remembered, type Round } from '../part/questions';
import { run } from '../browser/support/pretend';

function move(number: number, who: string, to: string | null, reply: string | null, phrase = 0): MoveView {
  const at_ticks = number * 960;
  return {
    phrase,
    number,
    at_ticks,
    beat: '1',
    who,
    action: 'cut head',
    to,
    reply,
    sounds: [],
    text: null,
    picture: null,
  };
}

const phrase = (number: number, name: string) => {
  return { phrase: number, name, at_ticks: 0, length_ticks: 960, at_us: 0, percent: 100 };
};

const sheet = (moves: MoveView[]): RunSheet => {
  return { ...run, phrases: [phrase(0, 'One'), phrase(1, 'Two')], moves };
};

describe('the questions', () => {
  it('are about what I do and what I answer, once a phrase, in the order of the fight', () => {
    const moves = [
      move(1, 'MARET', 'OSK', 'parry 5'),
      move(2, 'OSK', 'MARET', 'duck'),
      move(3, 'OSK', 'PELL', 'parry 4'),
      move(4, 'MARET', 'OSK', 'parry 5'),
      move(5, 'MARET', 'OSK', 'parry 5', 1),
      move(6, 'OSK', 'MARET', null, 1),
    ];
    const asked = questionsOf(sheet(moves), 'MARET').map(({ phrase, asks, move: { number } }) => [
      phrase,
      asks,
      number,
    ]);
    expect(asked).toEqual([
      ['One', 'act', 1],
      ['One', 'answer', 2],
      ['Two', 'act', 5],
    ]);
  });

  it('are others where the text is another', () => {
    const [before] = questionsOf(sheet([move(1, 'OSK', 'MARET', 'duck')]), 'MARET');
    const [after] = questionsOf(sheet([move(1, 'OSK', 'MARET', 'parry 5')]), 'MARET');
    expect(before?.id).not.toBe(after?.id);
  });
});

describe('a round', () => {
  const three = questionsOf(
    sheet([1, 2, 3].map((number) => ({ ...move(number, 'OSK', 'MARET', `parry ${number}`) }))),
    'MARET',
  );
  const [first, second, third] = three.map(({ id }) => id);
  const play = (...knew: boolean[]): Round => knew.reduce(answered, begin(three));

  it('goes through every question once', () => {
    const round = play(true, false, true, true);
    expect(round).toEqual({ left: [], known: [first, third], missed: [second] });
  });

  it('is remembered: what was missed comes to it, what was known goes, what was not asked stays', () => {
    expect(notKnown(['gone', first ?? ''], play(true, false))).toEqual(['gone', second]);
    expect(notKnown([second ?? ''], play(true, false, false))).toEqual([second, third]);
  });

  it('remembers nothing of what cannot be read', () => {
    for (const kept of [null, '', '{', '7', '{"a":1}', '[1,null]']) expect(remembered(kept)).toEqual([]);
    expect(remembered('["a",2,"b"]')).toEqual(['a', 'b']);
  });
});
