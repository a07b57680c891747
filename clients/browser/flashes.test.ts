// No more than three flashes in any second, counted from captured frames as WCAG 2.2 defines them (general flash: a pair
// of opposing changes of relative luminance of a tenth or more, the darker side below 0.80, over more than a quarter of
// any block of 341 × 256 pixels), while a run goes at 60, 120, 180 and 240 beats a minute with a move on every beat.
import { afterAll, afterEach, beforeAll, expect, it } from 'vitest';
import { startChromium } from './support/chromium';
import { countFlashes, record } from './support/film';
import { Room, startARun } from './support/seats';
import { House } from './support/server';

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

/** A move on every beat, attack and reply changing sides: the worst that a score can do to a screen. */
function score(bpm: number): string {
  const rows = Array.from({ length: 32 }, (_, beat) => {
    const [one, other] = beat % 2 === 0 ? ['ALDER', 'BRYONY'] : ['BRYONY', 'ALDER'];
    return `  ${beat + 1}  ${one}  thrust belly / ${other}  parry 4`;
  });
  const head = ['fight "Every beat"', 'beats 4', `tempo ${bpm}`, '', 'fighters', '  ALDER rapier right'];
  return [...head, '  BRYONY rapier right', '', 'phrase "All of it"', ...rows, ''].join('\n');
}

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

it.each([60, 120, 180, 240])('at %i beats a minute, on the phone and on the desk', async (bpm) => {
  house = await House.open({ score: score(bpm) });
  const desk = await room.sit(house, 'desk', 'Ines');
  const alder = await room.sit(house, 'performer', 'Lotte', 'ALDER');
  const bryony = await room.sit(house, 'performer', 'Yusuf', 'BRYONY');
  await startARun(desk, [alder, bryony], 100);
  for (const seat of [alder, desk]) {
    const film = await record(seat.page, 2_500);
    const flashes = countFlashes(film.frames, film.width, film.height, film.scale);
    console.info(`${bpm} bpm, ${seat === desk ? 'desk' : 'phone'}: ${flashes} in ${film.frames.length} frames`);
    expect(film.frames.length).toBeGreaterThan(10);
    expect(flashes).toBeLessThanOrEqual(3);
  }
});
