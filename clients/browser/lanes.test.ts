// The desk's lanes on a real screen: every act of a beat is there, none on another, however many fight; they stand in a
// hold, with the moves that were under way named, the caller's own first; and step by the bar where no motion is wanted.
import type { BrowserContextOptions, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, expect, it } from 'vitest';
import type { MoveView, RunSheet, State } from '../core/wire';
import { crowd, cueAt, goes } from './support/crowd';
import { countFlashes, countRedFlashes, record, type Film } from './support/film';
import { openHouse, type House } from './support/house';
import { complaints, runsOut } from './support/judge';
import { hold, memberOf, pretend, room, row, type Line } from './support/pretend';

let house: House;
let page: Page;

beforeAll(async () => {
  house = await openHouse();
});
afterEach(() => page.context().close());
afterAll(() => house.close());

/** The desk in front of a run that began so many beats ago. */
async function desk(sheet: RunSheet, now: State, beat: number, more: BrowserContextOptions = {}): Promise<Line> {
  const context = await house.browser.newContext({ viewport: { width: 1_280, height: 800 }, ...more });
  page = await context.newPage();
  const beatUs = 60e6 / (sheet.tempo[0]?.from_bpm ?? 60);
  const started = { ...sheet, start_us: Math.round(performance.now() * 1_000 - beat * beatUs) };
  const players = sheet.fighters.map((part, n) => row(10 + n, `Player ${n + 1}`, 'performer', part));
  const line = await pretend(page, memberOf(1), now, started, { ...room, roster: [memberOf(1), ...players] });
  await page.goto(`${house.home}desk.html`);
  await page.locator('.strip .act').first().waitFor();
  return line;
}

interface Box {
  left: number;
  right: number;
  top: number;
  bottom: number;
  text: string;
}

const blocks = (): Promise<Box[]> =>
  page.locator('.strip .act').evaluateAll((found) =>
    found.map((each) => {
      const { left, right, top, bottom } = each.getBoundingClientRect();
      return { left, right, top, bottom, text: each.textContent ?? '' };
    }),
  );

// Half a pixel is what a browser rounds.
const meet = (a: Box, b: Box): boolean =>
  a.left < b.right - 0.5 && b.left < a.right - 0.5 && a.top < b.bottom - 0.5 && b.top < a.bottom - 0.5;

const onEachOther = (boxes: Box[]): string[] =>
  boxes.flatMap((a, n) => boxes.slice(n + 1).flatMap((b) => (meet(a, b) ? [`${a.text} and ${b.text}`] : [])));

it('fifteen pairs on one beat: every act is on the screen and none on another', async () => {
  const sheet = crowd(15, 24, 60);
  const line = await desk(sheet, goes, 4);
  line.say({ kind: 'cue', ...cueAt(sheet, 4) });
  await expect.poll(() => page.locator('.act[data-now="true"]').count()).toBe(15);
  const all = await blocks();
  expect(onEachOther(all)).toEqual([]);
  const strip = await page.locator('.strip').boundingBox();
  const view = await page.locator('#page').boundingBox();
  if (strip === null || view === null) throw new Error('there is no strip');
  expect(strip.y + strip.height).toBeLessThanOrEqual(view.y + view.height);
  const now = await page.locator('.act[data-now="true"]').evaluateAll((found) =>
    found.map((each) => {
      const { top, bottom, height } = each.getBoundingClientRect();
      return { top, bottom, height };
    }),
  );
  for (const { top, bottom, height } of now) {
    expect(height).toBeGreaterThanOrEqual(20);
    expect(top).toBeGreaterThanOrEqual(strip.y);
    expect(bottom).toBeLessThanOrEqual(strip.y + strip.height);
  }
  // Everybody's name is beside their lane, and every move is in a card with its number.
  const names = await page.locator('.strip-names bdi').allTextContents();
  expect(names.toSorted()).toEqual(sheet.fighters.toSorted());
  const cards = await page.locator('.now strong').allTextContents();
  expect(cards.map((each) => Number(each.slice(1))).reduce((sum, each) => sum + each)).toBe(15);
  const inCards = await page.locator('.now .names bdi').allTextContents();
  expect(inCards.toSorted()).toEqual(sheet.fighters.toSorted());
  expect(await complaints(page)).toEqual([]);
  expect(await runsOut(page)).toEqual([]);
});

it('more pairs than fit are groups, with every one counted', async () => {
  const sheet = crowd(40, 12, 60);
  const line = await desk(sheet, goes, 2);
  line.say({ kind: 'cue', ...cueAt(sheet, 2) });
  await expect.poll(() => page.locator('.act[data-now="true"]').count()).toBeGreaterThan(0);
  expect(onEachOther(await blocks())).toEqual([]);
  const now = await page.locator('.act[data-now="true"]').allTextContents();
  expect(now.map((each) => Number(/×(\d+)/.exec(each)?.[1])).reduce((sum, each) => sum + each)).toBe(40);
  await page.locator('.strip-names', { hasText: '40 pairs' }).waitFor();
});

it('one who fights two others at once has a row for each, and everything is seen', async () => {
  const sheet = crowd(1, 12, 60);
  const more = sheet.moves.map((each, n): MoveView => ({ ...each, number: 100 + n, who: 'Maren', to: 'North 1' }));
  const both = { ...sheet, fighters: [...sheet.fighters, 'Maren'], moves: [...sheet.moves, ...more] };
  both.moves.sort((a, b) => a.at_ticks - b.at_ticks);
  const line = await desk(both, goes, 1);
  line.say({ kind: 'cue', ...cueAt(both, 1) });
  // Two attacks and two replies, of two pairs.
  await expect.poll(() => page.locator('.act[data-now="true"]').count()).toBe(4);
  expect(onEachOther(await blocks())).toEqual([]);
  expect(await page.locator('.strip-names bdi').allTextContents()).toEqual(['North 1', 'South 1', 'North 1', 'Maren']);
  expect(await page.locator('.now .card').count()).toBe(2);
});

const at = (): Promise<string> => page.getByTestId('strip').evaluate((layer) => layer.style.transform);
/** Long enough for many frames: what moves has moved. */
const frames = () =>
  page.evaluate(
    () =>
      new Promise<void>((done) => {
        let left = 20;
        const next = (): void => void ((left -= 1) > 0 ? requestAnimationFrame(next) : done());
        next();
      }),
  );

it('in a hold the lanes stand, and the moves under way are named, the caller’s own first', async () => {
  const sheet = crowd(2, 24, 60);
  const line = await desk(sheet, goes, 4);
  line.say({ kind: 'cue', ...cueAt(sheet, 4) });
  await page.getByTestId('count').filter({ hasText: '1' }).waitFor();
  const before = await at();
  await expect.poll(at).not.toBe(before);
  const [first, second] = cueAt(sheet, 4).moves.map(({ move }) => move);
  if (first === undefined || second === undefined) throw new Error('nobody acts');
  const caller = { member: 12, name: 'Player 3', role: 'performer' as const, times: 1, reason: null, screen: null };
  const spot = { cue: 8, phrase: 0, phrase_name: 'The first wave', beat: '5', move: first.number, words: null };
  const also = [`${second.who} ${second.action} / ${second.to} ${second.reply}`];
  const called = { ...hold, generation: 5, spot, also, callers: [caller], caller_count: 1 };
  line.say({ kind: 'held', ...called });
  await page.locator('#vitals strong', { hasText: 'HELD' }).waitFor();
  await page.locator('.caught h3', { hasText: `${first.who} ${first.action} / ${first.to} ${first.reply}` }).waitFor();
  await page.locator('.also', { hasText: also[0]! }).waitFor();
  const stands = await at();
  await frames();
  expect(await at()).toBe(stands);
  // The strip marks where it stands: an attack and its reply.
  expect(await page.locator('.act[data-now="true"]').count()).toBe(2);
  // The note can be written without looking for it.
  await page.keyboard.press('o');
  expect(await page.evaluate(() => document.activeElement?.classList.contains('note-field'))).toBe(true);
  const [field, foot] = [
    await page.locator('.run .note-field').boundingBox(),
    await page.locator('#hold').boundingBox(),
  ];
  expect((field?.y ?? Infinity) + (field?.height ?? 0)).toBeLessThanOrEqual(foot?.y ?? 0);
  expect(await complaints(page)).toEqual([]);
});

it('steps by the bar where no motion is wanted', async () => {
  const sheet = crowd(2, 60, 120);
  await desk(sheet, goes, 4, { reducedMotion: 'reduce' });
  const seen = new Set<string>();
  // Two bars of two seconds: more than one place, and no more than the bars that passed.
  const began = performance.now();
  while (seen.size < 3) {
    seen.add(await at());
    expect(performance.now() - began).toBeLessThan(20_000);
  }
  const bars = Math.ceil((performance.now() - began) / 2_000) + 1;
  expect(seen.size).toBeLessThanOrEqual(bars);
  // A beat is 180 px wide, and a bar has four.
  const places = [...seen].map((each) => -Number(/\((-?[\d.]+)px/.exec(each)?.[1] ?? NaN));
  for (const place of places) expect(place % 720).toBeCloseTo(0, 1);
});

// What moves, however many lanes it has: one pair's glide, those of several step.
it.each([1, 2, 4, 15, 40])('%i pairs at 240 beats a minute flash no more than may be', async (pairs) => {
  const sheet = crowd(pairs, 240, 240);
  const line = await desk(sheet, goes, 0);
  const film = await filmed(line, sheet);
  const flashes = [countFlashes(film), countRedFlashes(film)];
  console.info(`${pairs} pairs at 240: ${flashes} flashes, light and red (${film.frames.length} frames)`);
  expect(film.frames.length).toBeGreaterThan(LEAST_FRAMES);
  for (const count of flashes) expect(count).toBeLessThanOrEqual(3);
});

const FILM_MS = 1_800;
/** Fewer frames than twice the flashes that are looked for would see nothing. */
const LEAST_FRAMES = (FILM_MS / 1_000) * 2 * 4;

// Two seconds with a cue on every beat.
async function filmed(line: Line, sheet: RunSheet): Promise<Film> {
  let beat = 1;
  const cues = setInterval(() => line.say({ kind: 'cue', ...cueAt(sheet, (beat += 1)) }), 250);
  try {
    return await record(page, FILM_MS, LEAST_FRAMES);
  } finally {
    clearInterval(cues);
  }
}
