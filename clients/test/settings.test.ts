// A device's choices: kept, and never anything that was not offered.
import { expect, it } from 'vitest';
import { memoryStore } from '../core/platform';
import { Choices, USUAL } from '../core/settings';

it('are the usual ones at first, and those that were made afterwards', () => {
  const store = memoryStore();
  const choices = new Choices(store);
  expect(choices.now).toEqual(USUAL);
  choices.choose({ shake: 'moves', hand: 'left' });
  expect(new Choices(store).now).toEqual({ ...USUAL, shake: 'moves', hand: 'left' });
});

it.each(['', 'nonsense', '[1]', '"x"', 'null', '{"shake":"hard","hand":7,"text":"huge","other":1}'])(
  'what the store holds instead (%s) counts as not chosen',
  (kept) => {
    const store = memoryStore();
    store.set('holdfast.settings', kept);
    expect(new Choices(store).now).toEqual(USUAL);
  },
);

it('are told to whoever listens, until they leave', () => {
  const choices = new Choices(memoryStore());
  const told: boolean[] = [];
  const leave = choices.listen(({ click }) => told.push(click));
  choices.choose({ click: true });
  leave();
  choices.choose({ click: false });
  expect(told).toEqual([false, true]);
});
