// What hands do to the pages: joining, HOLD by finger and by key, the space bar, a page whose drawn part is broken.
import type { BrowserContext, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { PROTOCOL, type State, type ToServer } from '../core/wire';
import { openHouse, type House } from './support/house';
import { hold, memberOf, pretend, pretendDoor, room, run, setUp, state, type Line } from './support/pretend';

let house: House;
let context: BrowserContext;
let page: Page;

beforeAll(async () => {
  house = await openHouse();
});
afterAll(() => house.close());
beforeEach(async () => {
  context = await house.browser.newContext({ viewport: { width: 390, height: 844 }, hasTouch: true });
  page = await context.newPage();
});
afterEach(() => context.close());

const places: State = { ...state, ...setUp, stage: 'places' };
const running: State = { ...state, ...setUp, stage: 'running' };

async function come(path: 'phone' | 'desk', who: number, now: State, more: Partial<typeof room> = {}): Promise<Line> {
  const line = await pretend(page, memberOf(who), now, run, more);
  await page.goto(`${house.home}${path}.html`);
  await page.locator('#vitals', { hasText: 'Linked' }).waitFor();
  return line;
}

async function heard(line: Line, kind: ToServer['kind']): Promise<ToServer> {
  await expect.poll(() => line.heard.some((message) => message.kind === kind)).toBe(true);
  const found = line.heard.find((message) => message.kind === kind);
  if (found === undefined) throw new Error('heard and forgotten');
  return found;
}

describe('HOLD', () => {
  it('goes out when the finger comes down, once for one tap', async () => {
    const line = await come('phone', 3, running);
    await page.locator('#hold button').tap();
    expect(await heard(line, 'hold')).toMatchObject({ generation: 4, queued: false });
    const tap = line.heard.find((message) => message.kind === 'hold');
    if (tap?.kind !== 'hold') throw new Error('no tap');
    line.say({ kind: 'tap-answer', tap: tap.tap, outcome: 'held', hold: 2 });
    line.say({ kind: 'held', ...hold });
    await page.locator('#hold', { hasText: 'HELD' }).waitFor();
    const names = new Set(line.heard.flatMap((message) => (message.kind === 'hold' ? [message.tap] : [])));
    expect(names.size).toBe(1);
  });

  it('works from the keyboard alone', async () => {
    const line = await come('phone', 3, running);
    await page.locator('#hold button').focus();
    await page.keyboard.press('Enter');
    await heard(line, 'hold');
  });

  it('is the Escape key at the desk, in the middle of a word too', async () => {
    const past = { ...hold, generation: 3 };
    const line = await come(
      'desk',
      1,
      { ...running, stage: 'stopped' },
      { holds: [{ hold: past, notes: [], earlier_notes: 0 }] },
    );
    await page.locator('.note-field').first().fill('The grip');
    await page.keyboard.press('Escape');
    await heard(line, 'hold');
    expect(await page.locator('.note-field').first().inputValue()).toBe('The grip');
  });

  it('is there although the drawn part cannot be had, and says that something failed', async () => {
    await page.route(/assets\/drawn/, (route) => route.abort());
    const line = await come('phone', 3, running);
    await page.locator('#fault', { hasText: 'HOLD, link and clock still work' }).waitFor();
    await page.locator('#hold button').tap();
    await heard(line, 'hold');
  });

  it('is there although what is drawn breaks', async () => {
    // A state that no honest server sends: the drawn part falls over a hold without callers.
    const broken = { ...running, stage: 'stopped', hold: { ...hold, callers: null } } as unknown as State;
    const line = await come('phone', 3, broken);
    await page.locator('#fault', { hasText: 'HOLD, link and clock still work' }).waitFor();
    await page.locator('#hold button').tap();
    await heard(line, 'hold');
  });
});

describe('at places', () => {
  it('nothing starts by the space bar; Enter starts', async () => {
    const line = await come('desk', 1, places, { missing: { generation: 4, parts: [] } });
    const start = page.getByRole('button', { name: 'Start the count-in' });
    await start.focus();
    await page.keyboard.press('Space');
    await page.keyboard.press('Enter');
    expect(await heard(line, 'start')).toEqual({ kind: 'start', generation: 4, anyway: false, seen: '1-call-4' });
    expect(line.heard.filter((message) => message.kind === 'start').length).toBe(1);
  });

  it('with somebody missing, a start takes two presses and names them', async () => {
    const line = await come('desk', 1, places);
    await page.getByRole('button', { name: 'Start anyway' }).click();
    await page.locator('.start', { hasText: 'OSK (Teo Brandt): no link' }).waitFor();
    await page.getByRole('button', { name: 'Start all the same' }).click();
    expect(await heard(line, 'start')).toMatchObject({ anyway: true });
  });

  it('a performer says ready with one touch', async () => {
    const line = await come('phone', 4, places);
    await page.getByRole('button', { name: 'I am ready' }).tap();
    expect(await heard(line, 'ready')).toEqual({ kind: 'ready', ready: true, generation: 4 });
  });
});

it('a release names its callers, and is closed by one more call', async () => {
  const held: State = { ...running, stage: 'held', generation: 5, hold };
  const line = await come('phone', 2, held);
  await page.getByRole('button', { name: 'Release …' }).tap();
  await page.locator('.asked', { hasText: 'Ana Lindqvist-Okafor' }).waitFor();
  const again = { ...(hold.callers[0] ?? never()), times: 2 };
  const more = { ...hold, calls: 3, last_event: '1-call-9', callers: [again, ...hold.callers.slice(1)] };
  line.say({ kind: 'held', ...more });
  await page.locator('.asked').waitFor({ state: 'detached' });
  await page.getByRole('button', { name: 'Release …' }).tap();
  await page.locator('.asked', { hasText: 'Idris Vane (2 times)' }).waitFor();
  await page.getByRole('button', { name: 'Everybody is safe' }).tap();
  expect(await heard(line, 'release')).toEqual({ kind: 'release', hold: 2, seen: '1-call-9' });
});

it('a code is scanned, a name written, a part touched, Join touched: in', async () => {
  const atTheDoor = await pretendDoor(page, places);
  await page.goto(`${house.home}join.html#a-secret`);
  await page.getByLabel('Your name').fill('Ana');
  await page.getByRole('radio', { name: 'MARET' }).tap();
  await page.getByRole('button', { name: 'Join' }).tap();
  await page.locator('#vitals', { hasText: 'Ana, performer' }).waitFor();
  expect(atTheDoor).toEqual([
    { kind: 'look', protocol: PROTOCOL, invitation: 'a-secret' },
    { kind: 'join', protocol: PROTOCOL, invitation: 'a-secret', name: 'Ana', part: 'MARET', page: expect.any(String) },
    { kind: 'return', protocol: PROTOCOL, key: 'fresh', page: expect.any(String), taps: [] },
    { kind: 'show', subjects: ['why', 'tonight'] },
  ]);
  expect(page.url()).not.toContain('secret');
});

function never(): never {
  throw new Error('the hold has no caller');
}
