// No more than three flashes in any second, counted from captured frames as WCAG 2.2 defines them (general flash: a pair
// of opposing changes of relative luminance of a tenth or more, the darker side below 0.80; red flash: a pair of changes to
// or from a colour of which red is four fifths or more, by more than 0.2 in the CIE 1976 UCS diagram; each over more than a
// quarter of any block of 341 × 256 pixels), while a run goes at 60, 120, 180 and 240 beats a minute with a move on every
// beat.
import { afterAll, afterEach, beforeAll, expect, it } from 'vitest';
import { startChromium } from './support/chromium';
import { chromaticity, countFlashes, countRedFlashes, record, type Film } from './support/film';
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

type Colour = [number, number, number];
const [BLACK, WHITE, RED, DARK_RED]: [Colour, Colour, Colour, Colour] = [
  [0, 0, 0],
  [255, 255, 255],
  [255, 0, 0],
  [64, 0, 0],
];

/** 25 ms a frame, one colour and another by turns: a period of 4 frames is ten flashes a second, one of 20 is two. */
function blinking(period: number, one: Colour, other: Colour, points = 64 * 64): Film {
  const frames = Array.from({ length: 40 }, (_, n) => {
    const rgb = new Uint8Array(3 * 64 * 64);
    for (let at = 0; at < points; at += 1) rgb.set(n % period < period / 2 ? one : other, 3 * at);
    return { ms: n * 25, rgb };
  });
  return { frames, width: 64, height: 64, scale: 4 };
}

it('counts what flashes, and not what does not', () => {
  expect(countFlashes(blinking(4, BLACK, WHITE))).toBeGreaterThan(3);
  expect(countFlashes(blinking(20, BLACK, WHITE))).toBeLessThanOrEqual(3);
  expect(countFlashes(blinking(4, BLACK, WHITE, 320))).toBe(0);
  expect(countRedFlashes(blinking(4, BLACK, WHITE))).toBe(0);
});

// The corners of sRGB in CIE 1976 UCS: IEC 61966-2-1 gives x, y; u′ = 4x / (−2x + 12y + 3), v′ = 9y / (−2x + 12y + 3).
it('knows where red, green, blue and white stand', () => {
  for (const [rgb, [x, y]] of [
    [RED, [0.64, 0.33]],
    [
      [0, 255, 0],
      [0.3, 0.6],
    ],
    [
      [0, 0, 255],
      [0.15, 0.06],
    ],
    [WHITE, [0.3127, 0.329]],
  ] as [Colour, [number, number]][]) {
    const [u, v] = chromaticity(rgb.map((part) => part / 255) as Colour);
    const sum = -2 * x + 12 * y + 3;
    expect(u).toBeCloseTo((4 * x) / sum, 3);
    expect(v).toBeCloseTo((9 * y) / sum, 3);
  }
});

it('counts a red that is too dark to be a flash of light', () => {
  const dark = blinking(4, BLACK, DARK_RED);
  expect(countFlashes(dark)).toBe(0);
  expect(countRedFlashes(dark)).toBeGreaterThan(3);
  expect(countRedFlashes(blinking(4, RED, WHITE))).toBeGreaterThan(3);
  expect(countRedFlashes(blinking(20, BLACK, RED))).toBeLessThanOrEqual(3);
  // From one red to another is no change of colour.
  expect(countRedFlashes(blinking(4, RED, DARK_RED))).toBe(0);
  expect(countRedFlashes(blinking(4, RED, BLACK, 320))).toBe(0);
});

it('at 60, 120, 180 and 240 beats a minute, on the phone and on the desk', async () => {
  house = await House.open({ score: score(240, 240) });
  const { desk, alder, bryony } = await room.company(house);
  for (const percent of [25, 50, 75, 100]) {
    await startARun(desk, [alder, bryony], percent);
    const films = await Promise.all([alder, desk].map(({ page }) => record(page, 1_800, LEAST_FRAMES)));
    const flashes = films.flatMap((film) => [countFlashes(film), countRedFlashes(film)]);
    const frames = films.map((film) => film.frames.length);
    console.info(`${240 * (percent / 100)} bpm: phone, desk: ${flashes} flashes, light and red (${frames} frames)`);
    for (const count of frames) expect(count).toBeGreaterThan(LEAST_FRAMES);
    for (const count of flashes) expect(count).toBeLessThanOrEqual(3);
    await desk.page.getByRole('button', { name: 'Stop …' }).click();
    await desk.page.getByRole('button', { name: 'Set or floor' }).click();
    await desk.page.getByRole('button', { name: 'Stop the run' }).click();
    for (const seat of [desk, alder, bryony]) await shows(seat, 'STOPPED');
  }
});
