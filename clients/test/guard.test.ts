// The pocket guard: what a pocket does never holds, what a hand means always does.
import { expect, it } from 'vitest';
import { Guard, SECOND_PRESS_MS, SLIDE } from '../core/guard';
import { chance } from './support/chance';

it('is off until it is switched on', () => {
  expect(new Guard().on).toBe(false);
});

it('no touch holds that does not travel, however often and wherever', () => {
  const random = chance(7);
  const guard = new Guard();
  guard.turn(true);
  for (let touch = 0, ms = 0; touch < 1_000; touch += 1, ms += 60) {
    const x = random() * 360;
    guard.down(x, ms);
    expect(guard.moved(x + (random() - 0.5) * 2 * SLIDE * 359, 360)).toBe(false);
    guard.up(ms + 20);
    // The browser's echo of the touch.
    expect(guard.pressed(ms + 30)).toBe(false);
    // A finger that is not down slides nothing.
    expect(guard.moved(random() * 360, 360)).toBe(false);
  }
  expect(guard.on).toBe(true);
});

it('a slide across half of it holds, from either side, and takes it off', () => {
  for (const [from, to] of [
    [20, 20 + 360 * SLIDE],
    [340, 340 - 360 * SLIDE],
  ] as const) {
    const guard = new Guard();
    guard.turn(true);
    guard.down(from, 0);
    expect(guard.moved(to, 360)).toBe(true);
    expect(guard.on).toBe(false);
  }
});

it('from the keyboard two presses hold, one does not', () => {
  const guard = new Guard();
  guard.turn(true);
  expect(guard.pressed(1_000)).toBe(false);
  expect(guard.pressed(1_001 + SECOND_PRESS_MS)).toBe(false);
  expect(guard.pressed(1_001 + SECOND_PRESS_MS + 500)).toBe(true);
});
