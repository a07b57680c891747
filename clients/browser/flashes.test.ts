// No more than three flashes in any second, counted from captured frames as WCAG 2.2 defines them (general flash: a pair
// of opposing changes of relative luminance of a tenth or more, the darker side below 0.80, over more than a quarter of
// any block of 341 × 256 pixels), while a run goes at 60, 120, 180 and 240 beats a minute with a move on every beat.
import { afterAll, afterEach, beforeAll, expect, it } from 'vitest';
import { startChromium } from './support/chromium';
import { countFlashes, record } from './support/film';
import { score } from './support/score';
import { Room, shows, startARun } from './support/seats';
import { House } from './support/server';

/** Fewer frames than twice the flashes that are looked for would see nothing. */
const LEAST_FRAMES = 1.8 * 2 * 4;

let room: Room;
let house: House | null = null;

beforeAll(async () => {
  room = new Room(await startChromium());
});
afterEach(async () => {
  await room.clear();
  await house?.close();
});
afterAll(() => room.close());

it('counts what flashes, and not what does not', () => {
  const film = (period: number) =>
    Array.from({ length: 40 }, (_, n) => ({
      ms: n * 25,
      light: new Float32Array(64 * 64).fill(n % period < period / 2 ? 0 : 1),
    }));
  // 25 ms a frame: a period of 4 frames is ten flashes a second, one of 20 is two.
  expect(countFlashes(film(4), 64, 64, 4)).toBeGreaterThan(3);
  expect(countFlashes(film(20), 64, 64, 4)).toBeLessThanOrEqual(3);
  const small = film(4).map(({ ms, light }) => ({ ms, light: light.map((value, n) => (n < 320 ? value : 0)) }));
  expect(countFlashes(small, 64, 64, 4)).toBe(0);
});

it('at 60, 120, 180 and 240 beats a minute, on the phone and on the desk', async () => {
  house = await House.open({ score: score(240, 240) });
  const { desk, alder, bryony } = await room.company(house);
  for (const percent of [25, 50, 75, 100]) {
    await startARun(desk, [alder, bryony], percent);
    const films = await Promise.all([alder, desk].map(({ page }) => record(page, 1_800, LEAST_FRAMES)));
    const flashes = films.map(({ frames, width, height, scale }) => countFlashes(frames, width, height, scale));
    const frames = films.map((film) => film.frames.length);
    console.info(`${240 * (percent / 100)} bpm: phone ${flashes[0]}, desk ${flashes[1]} flashes (${frames} frames)`);
    for (const count of frames) expect(count).toBeGreaterThan(LEAST_FRAMES);
    for (const count of flashes) expect(count).toBeLessThanOrEqual(3);
    await desk.page.getByRole('button', { name: 'Stop …' }).click();
    await desk.page.getByRole('button', { name: 'Set or floor' }).click();
    await desk.page.getByRole('button', { name: 'Stop the run' }).click();
    for (const seat of [desk, alder, bryony]) await shows(seat, 'STOPPED');
  }
});
