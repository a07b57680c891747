// The frame and the run on a phone, by a ruler: how large HOLD is on each page and in each state, that a hold is the
// strongest thing a page can show, that the seat of one's own act never moves, and that nothing is cut on any glass.
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Cue, MemberView, MoveView, Role, RunSheet, Stage, State } from '../core/wire';
import { crowd } from './support/crowd';
import { openHouse, type House } from './support/house';
import { complaints } from './support/judge';
import { cue, hold, memberOf, pretend, run, setUp, state, type Line } from './support/pretend';

let house: House;
beforeAll(async () => void (house = await openHouse()));
afterAll(() => house.close());

const stateOf = (stage: Stage): State => {
  if (stage === 'idle') return state;
  if (stage === 'held') return { ...state, ...setUp, stage, generation: 5, hold, spot: hold.spot };
  return { ...state, ...setUp, stage, generation: stage === 'stopped' || stage === 'complete' ? 6 : 4 };
};

async function open(
  path: string,
  who: MemberView,
  now: State,
  sheet: RunSheet | null,
  more: object = {},
): Promise<[Page, Line]> {
  const context = await house.browser.newContext({
    viewport: { width: 390, height: 844 },
    colorScheme: 'dark',
    ...more,
  });
  const page = await context.newPage();
  const line = await pretend(page, who, now, sheet);
  // Only the frame and what the wire says is looked at here; nothing is asked over HTTP.
  await page.goto(`${house.home}${path}.html`);
  await page.locator(`body[data-stage="${now.stage}"]`).waitFor();
  return [page, line];
}

const tall = async (page: Page): Promise<{ width: number; height: number; x: number; y: number }> => {
  const box = await page.locator('#hold').boundingBox();
  if (box === null) throw new Error('there is no HOLD');
  return box;
};

const STAGES: Stage[] = ['idle', 'places', 'running', 'held', 'stopped', 'complete'];
const somebody = (role: Role): MemberView => ({ ...memberOf(2), role });

describe('HOLD', () => {
  it('has the phone from 26 to 29 of a hundred, 168 pixels at least, in every state; on its side a third', async () => {
    for (const stage of STAGES) {
      const [page] = await open('phone', memberOf(3), stateOf(stage), stage === 'idle' ? null : run);
      const { height } = await tall(page);
      expect(height / 844, stage).toBeGreaterThanOrEqual(0.26);
      expect(height / 844, stage).toBeLessThanOrEqual(0.29);
      await page.setViewportSize({ width: 320, height: 568 });
      expect((await tall(page)).height, stage).toBeGreaterThanOrEqual(168);
      await page.setViewportSize({ width: 844, height: 390 });
      const side = await tall(page);
      expect([side.height > 340, side.width / 844 > 0.28, side.width / 844 < 0.34], stage).toEqual([true, true, true]);
      await page.context().close();
    }
  });

  it.each([
    ['score', 'director'],
    ['sound', 'sound'],
    ['review', 'captain'],
  ] as const)(
    'shares one foot of 56 with the state on the %s page while nothing runs, and has 92 while anything may',
    async (path, role) => {
      for (const stage of STAGES) {
        const viewport = { width: 1_280, height: 720 };
        const [page] = await open(path, somebody(role), stateOf(stage), stage === 'idle' ? null : run, { viewport });
        const box = await tall(page);
        const quiet = stage === 'idle' || stage === 'stopped' || stage === 'complete';
        expect(Math.round(box.height), stage).toBe(quiet ? 56 : 92);
        expect(box.y + box.height, stage).toBeGreaterThan(719);
        const state = await page.locator('#vitals').boundingBox();
        if (stage !== 'held') {
          expect(box.width / 1_280, stage).toBeCloseTo(0.45, 2);
          expect(box.x + box.width, stage).toBe(1_280);
          // The state stands beside it, and nothing above the page.
          expect(Math.round(state?.y ?? 0), stage).toBe(Math.round(box.y));
          expect((await page.locator('main').boundingBox())?.y, stage).toBe(0);
        }
        await page.context().close();
      }
    },
  );

  it('has 92 at the desk', async () => {
    const [page] = await open('desk', memberOf(1), stateOf('running'), run, {
      viewport: { width: 1_440, height: 900 },
    });
    expect((await tall(page)).height).toBe(92);
    await page.context().close();
  });
});

// How much of the glass has the colour of a hold, and how much light differs from the page's ground.
async function orange(page: Page): Promise<number> {
  const shot = (await page.screenshot()).toString('base64');
  return page.evaluate(async (data) => {
    const picture = await createImageBitmap(
      new Blob([Uint8Array.from(atob(data), (letter) => letter.charCodeAt(0))], { type: 'image/png' }),
    );
    const paper = new OffscreenCanvas(picture.width, picture.height).getContext('2d');
    if (paper === null) throw new Error('no canvas');
    paper.drawImage(picture, 0, 0);
    const { data: points } = paper.getImageData(0, 0, picture.width, picture.height);
    let count = 0;
    for (let at = 0; at < points.length; at += 4)
      if (
        Math.abs((points[at] ?? 0) - 0xff) +
          Math.abs((points[at + 1] ?? 0) - 0x8a) +
          Math.abs((points[at + 2] ?? 0) - 0x5c) <
        12
      )
        count += 1;
    return count / (points.length / 4);
  }, shot);
}

it.each(['dark', 'light'] as const)(
  'a hold is the strongest thing on a phone in %s colours, and stays so',
  async (colorScheme) => {
    const [running] = await open('phone', memberOf(3), stateOf('running'), run, { colorScheme });
    const before = await orange(running);
    await running.context().close();
    const [held] = await open('phone', memberOf(3), stateOf('held'), run, { colorScheme });
    await expect.poll(() => orange(held)).toBeGreaterThan(0.7);
    expect(await complaints(held)).toEqual([]);
    expect(
      (await held.locator('#vitals strong').evaluate((word) => parseFloat(getComputedStyle(word).fontSize))) > 100,
    ).toBe(true);
    await held.locator('body[data-flood="drawn"]').waitFor();
    // The upper part and a frame are left, still more than HOLD ever has at rest.
    await expect.poll(() => orange(held)).toBeLessThan(0.6);
    const after = await orange(held);
    console.info(
      `${colorScheme}: ${before.toFixed(2)} of the phone orange in a run, ${after.toFixed(2)} in a hold that stands`,
    );
    expect(after).toBeGreaterThan(before * 1.25);
    expect(await complaints(held)).toEqual([]);
    await held.context().close();
  },
);

const part = (move: MoveView, who: string | null): 'act' | 'answer' | 'watch' =>
  move.who === who ? 'act' : move.to === who ? 'answer' : 'watch';

/** The cue of a beat as the server says it to whoever plays `who`. */
function cueAt(sheet: RunSheet, who: string | null, beat: number): Cue {
  const own = sheet.moves.filter((move) => who === null || part(move, who) !== 'watch');
  const at = (beat - 1) * 960;
  const next = own.find((move) => move.at_ticks > at);
  const read = (move: MoveView) => ({ part: part(move, who), move });
  return {
    ...cue(who),
    cue: beat + 4,
    beat: String(beat),
    bar: Math.ceil(beat / 4),
    count: ((beat - 1) % 4) + 1,
    moves: own.filter((move) => move.at_ticks === at).map(read),
    next: own.filter((move) => move.at_ticks === next?.at_ticks).map(read),
    next_in_beats: next === undefined ? null : (next.at_ticks - at) / 960,
  };
}

const first = run.moves[0]!;
const ACTS = ['thrust belly', 'parry 4', 'cut flank right', 'disengage', 'jump', 'corps-a-corps'];
/** An act every second beat, attack and reply in turn. */
const long: RunSheet = {
  ...run,
  length_ticks: 16 * 960,
  phrases: [{ ...run.phrases[0]!, length_ticks: 16 * 960 }],
  moves: ACTS.map((act, n) => {
    const own = n % 2 === 0;
    const [who, to] = own ? ['MARET', 'OSK'] : ['OSK', 'MARET'];
    return {
      ...first,
      number: n + 1,
      at_ticks: n * 1_920,
      beat: String(n * 2 + 1),
      who,
      to,
      action: own ? act : 'cut head',
      reply: own ? 'parry 4' : act,
    };
  }),
};

async function onBeat(page: Page, line: Line, who: string | null, sheet: RunSheet, beat: number): Promise<void> {
  const now = cueAt(sheet, who, beat);
  line.say({ kind: 'cue', ...now });
  await page.locator('.tally p', { hasText: `beat ${beat}` }).waitFor({ state: 'attached' });
}

// What is cut: boxes whose words run out of them.
const cut = (page: Page): Promise<string[]> =>
  page.evaluate(() =>
    [...document.querySelectorAll<HTMLElement>('.fitted, #hold button, .group, .seat, .partner')]
      .filter(
        (box) =>
          box.offsetParent !== null &&
          (box.scrollHeight > box.clientHeight + 1 || box.scrollWidth > box.clientWidth + 1),
      )
      .map(
        (box) =>
          `${box.className || box.tagName}: ${box.textContent?.slice(0, 40)} ${box.scrollWidth}×${box.scrollHeight} in ${box.clientWidth}×${box.clientHeight}`,
      ),
  );

// What lies over what: of the parts of the counting screen no two share a point.
const over = (page: Page): Promise<string[]> =>
  page.evaluate(() => {
    const parts = [
      ...document.querySelectorAll('#vitals, .tally, .partner, .seat, .next, .then, .groups, .after, #hold'),
    ];
    const boxes = parts.map((each) => ({ name: each.className || each.id, box: each.getBoundingClientRect() }));
    return boxes.flatMap((one, n) =>
      boxes.slice(n + 1).flatMap((other) => {
        const wide = Math.min(one.box.right, other.box.right) - Math.max(one.box.left, other.box.left);
        const high = Math.min(one.box.bottom, other.box.bottom) - Math.max(one.box.top, other.box.top);
        return wide > 1 && high > 1 ? [`${one.name} and ${other.name}`] : [];
      }),
    );
  });

const GLASSES: [string, number, number, string][] = [
  ['upright', 390, 844, 'usual'],
  ['on its side', 844, 390, 'usual'],
  ['small', 320, 568, 'usual'],
  ['large', 390, 844, 'large'],
  ['small and large', 320, 568, 'large'],
  ['at 200 %', 195, 422, 'usual'],
  ['on its side at 200 %', 422, 195, 'usual'],
];

describe.each(GLASSES)('a run on a phone, %s', (_, width, height, text) => {
  it('keeps the seat of my act where it is, and cuts nothing', async () => {
    const [page, line] = await phone(memberOf(3), long, width, height, text);
    const seats = new Set<string>();
    for (let beat = 1; beat <= 11; beat += 1) {
      await onBeat(page, line, 'MARET', long, beat);
      seats.add(JSON.stringify(await page.locator('.seat').boundingBox()));
      await expect.poll(() => cut(page), { message: `beat ${beat}` }).toEqual([]);
      expect(await over(page), `beat ${beat}`).toEqual([]);
    }
    expect([...seats]).toHaveLength(1);
    await page.context().close();
  });
});

// A fight of so many pairs, each of which does something else on every beat.
const diverse = (pairs: number): RunSheet => {
  const sheet = crowd(pairs, 8, 60);
  return { ...sheet, moves: sheet.moves.map((move, n) => ({ ...move, action: `${move.action} ${n % pairs}` })) };
};

// Whatever is read in sight whose letters are smaller than that many pixels.
const smaller = (page: Page, least: number): Promise<string[]> =>
  page.evaluate((px) => {
    const found: string[] = [];
    const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    for (let text = texts.nextNode(); text !== null; text = texts.nextNode()) {
      const element = text.parentElement;
      if (element === null || (text.textContent ?? '').trim() === '' || element.closest('.unseen, script')) continue;
      if (!element.checkVisibility()) continue;
      const size = parseFloat(getComputedStyle(element).fontSize);
      if (size < px) found.push(`${element.tagName}.${element.className} ${size}: ${text.textContent}`);
    }
    return found;
  }, least);

it.each(GLASSES)('in a run nothing on a phone is read in less than 15 pixels, %s', async (_, width, height, text) => {
  // Drawn twice as large a pixel is two.
  const least = Math.min(width, height) < 200 ? 7.5 : 15;
  const context = await house.browser.newContext({ viewport: { width, height } });
  for (const [who, sheet] of [
    [memberOf(3), long],
    [memberOf(2), crowd(12, 8, 60)],
    [memberOf(2), diverse(12)],
  ] as const) {
    const page = await context.newPage();
    await wears(page, text);
    // It comes into the middle of a run, so it says what happened to it.
    const line = await pretend(page, who, stateOf('running'), sheet);
    await page.goto(`${house.home}phone.html`);
    await page.locator('.news', { hasText: 'RUNNING' }).waitFor();
    for (let beat = 1; beat <= 4; beat += 1) {
      await onBeat(page, line, who.part, sheet, beat);
      expect(await smaller(page, least), `${who.role} beat ${beat}`).toEqual([]);
      expect(await cut(page), `${who.role} beat ${beat}`).toEqual([]);
      expect(await over(page), `${who.role} beat ${beat}`).toEqual([]);
    }
    await page.close();
  }
  await context.close();
});

it('large text makes groups larger, and what has no room then is a touch away', async () => {
  const sizes = async (text: string): Promise<{ words: number; who: number }> => {
    const [page, line] = await phone(memberOf(2), crowd(12, 8, 60), 390, 844, text);
    await onBeat(page, line, null, crowd(12, 8, 60), 1);
    const px = (selector: string): Promise<number> =>
      page
        .locator(selector)
        .first()
        .evaluate((word) => parseFloat(getComputedStyle(word).fontSize));
    const found = { words: await px('.group .what b'), who: await px('.group small') };
    await page.context().close();
    return found;
  };
  const [usual, large] = [await sizes('usual'), await sizes('large')];
  console.info(`groups ${usual.words} and ${usual.who} px, large ${large.words} and ${large.who} px`);
  expect(large.words).toBeGreaterThan(usual.words);
  expect(large.who).toBeGreaterThan(usual.who);

  const sheet = diverse(12);
  for (const [text, width, height] of [
    ['usual', 390, 844],
    ['large', 390, 844],
    ['usual', 844, 390],
    ['usual', 320, 568],
  ] as const) {
    const [page, line] = await phone(memberOf(2), sheet, width, height, text);
    for (let beat = 1; beat <= 3; beat += 1) {
      await onBeat(page, line, null, sheet, beat);
      const shown = await page.locator('.group:has(.what)').count();
      const left = page.locator('.group', { hasText: `and ${12 - shown} more` });
      await left.click();
      await page.locator('.pairs').waitFor();
      expect(await page.locator('.pairs .choices').count(), `${text} beat ${beat}`).toBe(12 - shown);
      await page.locator('.pairs').getByRole('button', { name: 'Back' }).click();
      expect(await cut(page)).toEqual([]);
    }
    await page.context().close();
  }
});

const wears = (page: Page, text: string): Promise<unknown> =>
  page.addInitScript((size) => localStorage.setItem('holdfast.settings', JSON.stringify({ text: size })), text);

async function phone(
  who: MemberView,
  sheet: RunSheet,
  width: number,
  height: number,
  text: string,
): Promise<[Page, Line]> {
  const context = await house.browser.newContext({ viewport: { width, height }, colorScheme: 'dark' });
  const page = await context.newPage();
  await wears(page, text);
  const line = await pretend(page, who, stateOf('places'), sheet);
  await page.goto(`${house.home}phone.html`);
  await page.locator('body[data-stage="places"]').waitFor();
  // From places on, so that nothing happened to the page of which it would speak.
  line.say({ kind: 'state', ...stateOf('running'), now_us: Math.round(performance.now() * 1_000) });
  await page.locator('body[data-stage="running"]').waitFor();
  return [page, line];
}

it('large text makes the words of an act larger', async () => {
  const sizes = async (text: string): Promise<number[]> => {
    const [page, line] = await phone(memberOf(3), long, 390, 844, text);
    const found: number[] = [];
    for (let beat = 1; beat <= 11; beat += 2) {
      await onBeat(page, line, 'MARET', long, beat);
      found.push(await page.locator('.seat b').evaluate((word) => parseFloat(getComputedStyle(word).fontSize)));
    }
    await page.context().close();
    return found;
  };
  const [usual, large] = [await sizes('usual'), await sizes('large')];
  console.info(`acts ${usual.join(' ')} px, large ${large.join(' ')} px`);
  for (const [n, size] of usual.entries()) expect(large[n], ACTS[n]).toBeGreaterThan(size);
});

it('of thirty who fight the captain sees every pair, in groups, and can follow one', async () => {
  const kinds = [
    ['cut head', 'parry 5'],
    ['slash feet', 'jump'],
    ['thrust belly', 'parry 4'],
  ] as const;
  const moves = Array.from({ length: 45 }, (_, n): MoveView => {
    const [action, reply] = kinds[n % 3]!;
    const pair = (n % 15) + 1;
    return {
      ...first,
      number: n + 1,
      at_ticks: Math.floor(n / 15) * 960,
      who: `SOUTH ${pair}`,
      to: `NORTH ${pair}`,
      action,
      reply,
    };
  });
  const mass: RunSheet = { ...run, moves, fighters: moves.slice(0, 15).flatMap(({ who, to }) => [who, to ?? '']) };
  const [page, line] = await phone(memberOf(2), mass, 390, 844, 'usual');
  await onBeat(page, line, null, mass, 1);
  expect(await page.locator('.group .times').allTextContents()).toEqual(['×5', '×5', '×5']);
  expect(await page.locator('.group', { hasText: 'and 2 more' }).count()).toBe(3);
  await expect.poll(() => cut(page)).toEqual([]);
  expect(await complaints(page)).toEqual([]);
  const pairs = new Set<string>();
  for (let n = 0; n < 3; n += 1) {
    await page.locator('.group').nth(n).click();
    for (const name of await page.locator('.pairs .choices button').allTextContents()) pairs.add(name);
    await page.locator('.pairs').getByRole('button', { name: 'Back' }).click();
  }
  expect(pairs.size).toBe(30);
  await page.locator('.group').first().click();
  await page.getByRole('button', { name: 'South 4', exact: true }).click();
  await page.locator('.slab .attack', { hasText: 'cut head' }).waitFor();
  expect(await page.locator('.groups .group').count()).toBe(3);
  await page.reload();
  await page.locator('body[data-stage="places"]').waitFor();
  line.say({ kind: 'state', ...stateOf('running'), now_us: Math.round(performance.now() * 1_000) });
  await page.getByRole('button', { name: 'Following South 4' }).waitFor();
  await page.context().close();
});
