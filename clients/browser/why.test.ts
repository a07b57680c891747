// Why, on every page that asks: once a hold is told and never before, in one touch, over nothing that HOLD needs; and a near
// miss without one. Judged by axe-core and a ruler, in light and dark, German too, down to 320 px.
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import type { HoldView, State } from '../core/wire';
import { openHouse, type House } from './support/house';
import { complaints, runsOut, shoot } from './support/judge';
import { openPage, type Look } from './support/opened';
import { hold, setUp, state, type Line } from './support/pretend';

let house: House;

beforeAll(async () => {
  house = await openHouse();
});
afterAll(() => house.close());

const running: State = { ...state, ...setUp, stage: 'running' };
const held: State = { ...running, stage: 'held', generation: 5, hold, spot: hold.spot };
const reason = { says: 'distance', by: 'Ana Lindqvist-Okafor' };
const explained: HoldView = { ...hold, reason, released_by: 'Idris Vane' };
const stopped: State = { ...running, stage: 'stopped', generation: 5, released: explained, because: 'Released.' };

const open = (path: 'phone' | 'desk', member: number, now: State, look: Look = {}) =>
  openPage(house, path, member, now, look);

async function judged(page: Page, name: string): Promise<void> {
  await shoot(page, name, true);
  expect(await complaints(page)).toEqual([]);
  expect(await runsOut(page)).toEqual([]);
  const covered = await page.evaluate(() => {
    const box = document.querySelector('#hold button')?.getBoundingClientRect();
    if (box === undefined) return 'there is no HOLD';
    const on = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
    return on?.closest('#hold') === null ? on.outerHTML.slice(0, 80) : null;
  });
  expect(covered).toBeNull();
}

const of = (line: Line, kind: string) => line.heard.filter((message) => message.kind === kind);

it.each([
  { dark: false, german: false },
  { dark: true, german: true },
])('whoever called a hold says why on their phone, in one touch, once it is told (%o)', async (how) => {
  const { page, line, close } = await open('phone', 3, running, how);
  try {
    await page.locator('#hold button').waitFor();
    expect(await page.locator('.why').count()).toBe(0);
    line.say({ kind: 'state', ...held });
    const why = page.locator('.why .choices button');
    await why.first().waitFor();
    expect(await why.count()).toBe(10);
    await why.first().click();
    await expect.poll(() => of(line, 'reason')).toEqual([{ kind: 'reason', hold: 2, reason: 'distance' }]);
    line.say({ kind: 'state', ...held, hold: { ...hold, reason } });
    await page.locator('.why button[aria-pressed=true]').waitFor();
    await judged(page, `why-phone-held-${how.german ? 'de-dark' : 'en-light'}`);
    line.say({ kind: 'state', ...stopped });
    await page.locator('.stopped-bar').waitFor();
    await judged(page, `why-phone-released-${how.german ? 'de-dark' : 'en-light'}`);
  } finally {
    await close();
  }
});

it('whoever has not called it is not asked, and nobody while their own tap is on its way', async () => {
  const others = { ...hold, callers: hold.callers.filter(({ member }) => member !== 3) };
  const { page, line, close } = await open('phone', 3, { ...held, hold: others });
  try {
    await page.locator('.hold-text').waitFor();
    expect(await page.locator('.why').count()).toBe(0);
    await page.locator('#hold button').dispatchEvent('pointerdown', { button: 0 });
    await expect.poll(() => of(line, 'hold').length).toBeGreaterThan(0);
    expect(await page.locator('.why').count()).toBe(0);
    const [tap] = of(line, 'hold') as { tap: string }[];
    line.say({ kind: 'tap-answer', tap: tap?.tap ?? '', outcome: 'held', hold: 2 });
    await page.locator('.why').waitFor();
  } finally {
    await close();
  }
});

it.each(['either', 'named', 'unnamed'] as const)('a near miss is reported, %s', async (near_misses) => {
  const why = { reasons: ['distance', 'footing'], near_misses };
  const { page, line, close } = await open('phone', 3, stopped, { dark: near_misses === 'named', room: { why } });
  try {
    await page.locator('.near-miss > button').click();
    const form = page.locator('.near-miss form');
    await form.waitFor();
    expect(await form.locator('input[type=checkbox]').count()).toBe(near_misses === 'either' ? 1 : 0);
    await judged(page, `near-miss-${near_misses}`);
    await form.locator('.choices button').nth(1).click();
    await form.locator('select').nth(1).selectOption('3');
    await form.locator('button[type=submit]').click();
    await expect
      .poll(() => of(line, 'near-miss'))
      .toEqual([
        {
          kind: 'near-miss',
          run: 7,
          place: { phrase: 0, move: 3 },
          named: near_misses === 'named',
          reason: 'footing',
          note: null,
        },
      ]);
    line.say({ kind: 'taken', asked: 'near-miss', named: near_misses === 'named' });
    await page.locator('.near-miss [role=status]', { hasText: '✓' }).waitFor();
  } finally {
    await close();
  }
});

it('where the company takes none, nothing offers it', async () => {
  const why = { reasons: [], near_misses: 'no' as const };
  const { page, close } = await open('phone', 3, stopped, { room: { why } });
  try {
    await page.locator('.stopped-bar').waitFor();
    await page.waitForLoadState('networkidle');
    expect(await page.locator('.near-miss, .why').count()).toBe(0);
  } finally {
    await close();
  }
});

it.each([
  { width: 1280, height: 720, german: false, dark: false },
  { width: 1440, height: 900, german: true, dark: true },
])('the desk gives the reason of a hold by keyboard and reads what nearly went wrong (%o)', async (how) => {
  const misses = [
    { at_us: 900_000, by: null, spot: hold.spot, reason: 'footing', note: 'wet at the edge' },
    { at_us: 800_000, by: 'Mo Sarr', spot: null, reason: null, note: null },
  ];
  const around = { holds: [{ hold, notes: ['Grip.'], earlier_notes: 0 }], nearMisses: { count: 2, misses } };
  const { page, line, close } = await open('desk', 1, held, { ...how, room: around });
  try {
    const first = page.locator('.caught .why .choices button').first();
    await first.waitFor();
    await page.locator('.near-misses > summary').click();
    await page.locator('.near-miss').waitFor();
    await judged(page, `why-desk-${how.width}-${how.german ? 'de-dark' : 'en-light'}`);
    await first.focus();
    await page.keyboard.press('Enter');
    await expect.poll(() => of(line, 'reason')).toEqual([{ kind: 'reason', hold: 2, reason: 'distance' }]);
  } finally {
    await close();
  }
});
