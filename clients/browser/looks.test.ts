// Every state of the phone and the desk, put on a screen and judged by axe-core (WCAG 2.2 A, AA and the AAA contrast
// that runs need) and by a ruler: HOLD is there, in the lowest third, uncovered, and nothing runs out of the screen.
// With HOLDFAST_SHOTS=DIR it also leaves a picture of each.
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { MemberView, RunSheet, State } from '../core/wire';
import { openHouse, type House } from './support/house';
import { complaints, shoot } from './support/judge';
import {
  cue,
  hold,
  memberOf,
  notes,
  pretend,
  pretendDoor,
  room,
  run,
  setUp,
  state,
  type Line,
} from './support/pretend';

let house: House;

beforeAll(async () => {
  house = await openHouse();
});

afterAll(() => house.close());

interface Look {
  name: string;
  now: State;
  sheet: RunSheet | null;
  /** What is told of the room besides the usual. */
  more?: Partial<typeof room>;
  /** What happens after the page has come up, and what must then be on it. */
  then(line: Line, page: Page, member: MemberView): Promise<void>;
}

const places: State = { ...state, ...setUp, stage: 'places' };
const running: State = { ...state, ...setUp, stage: 'running' };
const held: State = { ...running, stage: 'held', generation: 5, hold, spot: hold.spot };
const released: State = {
  ...running,
  stage: 'stopped',
  generation: 6,
  because: 'Released by Idris Vane. Call places to go on.',
};
const over = { ...hold, released_by: 'Idris Vane' };
const said = (text: string) => async (_: Line, page: Page) => {
  await page.locator('#vitals strong', { hasText: text }).waitFor();
};

const LOOKS: Look[] = [
  { name: 'idle', now: state, sheet: null, then: said('NOTHING SET') },
  {
    name: 'trial',
    now: state,
    sheet: null,
    then: async (line, page) => {
      await said('NOTHING SET')(line, page);
      line.say({ kind: 'trial', trial: 1, by: 'Idris Vane' });
      await page.locator('#sheet', { hasText: 'HOLD: A TRIAL' }).waitFor();
    },
  },
  {
    name: 'places',
    // With the line that says that nobody will hear a hold, so that the fullest of the two is looked at.
    now: { ...places, hold_call: false },
    sheet: run,
    then: async (line, page) => {
      await said('PLACES')(line, page);
      await page.getByText('The loudspeakers will not say HOLD. Say it out loud.').waitFor();
    },
  },
  {
    name: 'running',
    now: running,
    // Nought stands for a second before the page comes up.
    sheet: { ...run, start_us: 0 },
    then: async (line, page, member) => {
      await said('RUNNING')(line, page);
      line.say({ kind: 'cue', ...cue(member.part) });
      await page.getByTestId('count').filter({ hasText: '2' }).waitFor();
    },
  },
  { name: 'held', now: held, sheet: run, more: { holds: [{ hold, notes, earlier_notes: 2 }] }, then: said('HELD') },
  {
    name: 'stopped',
    now: released,
    sheet: run,
    more: { holds: [{ hold: over, notes, earlier_notes: 0 }] },
    then: said('STOPPED'),
  },
  {
    name: 'lost',
    now: running,
    sheet: run,
    then: async (line, page) => {
      await said('RUNNING')(line, page);
      line.stall();
      await page.locator('#sheet', { hasText: 'NO LINK' }).waitFor();
      await page.locator('#hold button').dispatchEvent('pointerdown', { button: 0 });
      await page.locator('#hold', { hasText: 'NOT TOLD' }).waitFor();
    },
  },
];

const SCREENS = [
  { path: 'phone', member: 3, width: 360, height: 740 },
  { path: 'phone', member: 2, width: 390, height: 780 },
  { path: 'phone', member: 3, width: 390, height: 844 },
  { path: 'phone', member: 2, width: 768, height: 1_024 },
  { path: 'phone', member: 3, width: 320, height: 568 },
  { path: 'phone', member: 3, width: 1_440, height: 900 },
  { path: 'desk', member: 1, width: 1_280, height: 800 },
  { path: 'desk', member: 1, width: 1_440, height: 900 },
  { path: 'desk', member: 1, width: 3_840, height: 2_160 },
  { path: 'desk', member: 1, width: 390, height: 844 },
];

describe.each(SCREENS)('$path of member $member at $width × $height', ({ path, member, width, height }) => {
  it.each(LOOKS)('$name', async (look) => {
    const context = await house.browser.newContext({ viewport: { width, height }, colorScheme: 'dark' });
    try {
      const page = await context.newPage();
      const faults: string[] = [];
      page.on('pageerror', (fault) => faults.push(fault.message));
      page.on('console', (line) => line.type() === 'error' && faults.push(line.text()));
      const who = memberOf(member);
      // A run that goes began a second ago, whenever that is.
      const began = look.sheet?.start_us === 0 ? { start_us: Math.round(performance.now() * 1_000) - 1_000_000 } : {};
      const sheet = look.sheet === null ? null : { ...look.sheet, ...began };
      const line = await pretend(page, who, look.now, sheet, look.more);
      await page.goto(`${house.home}${path}.html`);
      await look.then(line, page, who);
      await page.locator('#page > :not(:empty)').first().waitFor({ state: 'attached' });
      await shoot(page, `${path}-${member}-${width}-${look.name}`);
      await holdIsThere(page, height, path === 'phone');
      await nothingRunsOut(page, width);
      expect(await complaints(page)).toEqual([]);
      await page.emulateMedia({ colorScheme: 'light' });
      expect(await complaints(page)).toEqual([]);
      expect(faults).toEqual([]);
    } finally {
      await context.close();
    }
  });
});

describe('the leaves', () => {
  const leaves: [string, string, string][] = [
    ['front', 'index.html', 'Ask the stage manager'],
    ['join', 'join.html#a-secret', 'The spoken'],
    ['join-refused', 'join.html#another', 'was taken back'],
    ['join-nothing', 'join.html', 'no invitation in it'],
    ['phone-not-joined', 'phone.html', 'NOT JOINED'],
  ];
  it.each(leaves)('%s', async (name, path, text) => {
    const context = await house.browser.newContext({ viewport: { width: 390, height: 844 }, colorScheme: 'dark' });
    try {
      const page = await context.newPage();
      await pretendDoor(page, places);
      await page.goto(`${house.home}${path}`);
      await page.getByText(text).waitFor();
      await shoot(page, `leaf-${name}`);
      expect(await complaints(page)).toEqual([]);
      await page.emulateMedia({ colorScheme: 'light' });
      expect(await complaints(page)).toEqual([]);
    } finally {
      await context.close();
    }
  });
});

it.each([
  [360, 740, 3],
  [390, 780, 2],
  [390, 844, 3],
])('everything in a run fits at %i × %i, whatever the words', async (width, height, member) => {
  const context = await house.browser.newContext({ viewport: { width, height } });
  try {
    const page = await context.newPage();
    const who = memberOf(member);
    const line = await pretend(page, who, running, { ...run, start_us: 0 });
    await page.goto(`${house.home}phone.html`);
    await said('RUNNING')(line, page);
    const long = ['Zwerchhieb', 'over-the-shoulder disengage', 'ضربة قاطعة', 'Unterhau-mit-Durchwechseln'];
    for (const [n, action] of long.entries()) {
      const now = cue(who.part);
      const wordy = (each: (typeof now.moves)[number], at: number) => ({
        ...each,
        move: { ...each.move, action, reply: long[(n + at) % long.length] ?? null, at_ticks: n * 960 + at },
      });
      const moves = [...now.moves, ...now.moves].map(wordy);
      line.say({ kind: 'cue', ...now, cue: now.cue + n, count: n + 1, moves, next: now.next.map(wordy) });
      await page
        .getByTestId('count')
        .filter({ hasText: String(n + 1) })
        .waitFor();
      await expect.poll(() => page.locator('.fitted').evaluateAll(fit), { message: action }).toEqual([]);
    }
  } finally {
    await context.close();
  }
});

// What does not fit, of the boxes whose words are fitted.
function fit(boxes: Element[]): string[] {
  const out = (box: Element): boolean => box.scrollHeight > box.clientHeight || box.scrollWidth > box.clientWidth;
  return boxes.filter(out).map((box) => `${box.className}: ${box.scrollHeight} in ${box.clientHeight}`);
}

it('the codes, the release and the stop at the desk', async () => {
  const context = await house.browser.newContext({ viewport: { width: 1_440, height: 900 }, colorScheme: 'dark' });
  try {
    const page = await context.newPage();
    const line = await pretend(page, memberOf(1), held, run, { holds: [{ hold, notes, earlier_notes: 2 }] });
    await page.goto(`${house.home}desk.html`);
    await page.getByRole('button', { name: 'Release …', exact: false }).first().click();
    await page.getByRole('button', { name: 'Stop …' }).first().click();
    await shoot(page, 'desk-asked');
    await page.getByRole('button', { name: 'Show codes' }).click();
    const qr_svg = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path d="M1 1h3v3H1zM5 5h3v3H5z"/></svg>';
    const code = {
      link: 'http://127.0.0.1:8080/join#0123456789abcdef0123456789abcdef',
      qr_svg,
      secure: { link: 'https://127.0.0.1:8443/join#x', qr_svg },
      joined: 1,
      until: '2026-03-01T19:30:00Z',
    };
    const roles = ['desk', 'captain', 'performer', 'sound', 'director', 'observer'] as const;
    line.say({
      kind: 'invitations',
      invitations: roles.map((role) => ({ role, ...code, ran_out: role === 'captain', closed: role === 'observer' })),
      fingerprint: 'A5:0C:'.repeat(16).slice(0, -1),
    });
    line.say({ kind: 'refused', asked: 'start', reason: 'OSK is not ready. Wait, or start anyway.' });
    await page.getByRole('button', { name: 'Revoke …' }).nth(1).click();
    const picture = page.getByRole('img', { name: 'Code to scan, for performer, HTTPS' });
    await picture.scrollIntoViewIfNeeded();
    expect(await picture.evaluate((image: HTMLImageElement) => image.naturalWidth)).toBeGreaterThan(0);
    await shoot(page, 'desk-codes');
    expect(await complaints(page)).toEqual([]);
  } finally {
    await context.close();
  }
});

async function holdIsThere(page: Page, height: number, third: boolean): Promise<void> {
  const box = await page.locator('#hold button').boundingBox();
  if (box === null) throw new Error('there is no HOLD');
  expect(box.y + box.height).toBeGreaterThan(height - 20);
  expect(box.height).toBeGreaterThan(third ? height * 0.24 : 70);
  const onTop = await page.evaluate(
    ([x, y]) => document.elementFromPoint(x ?? 0, y ?? 0)?.closest('#hold') !== null,
    [box.x + box.width / 2, box.y + box.height / 2],
  );
  expect(onTop).toBe(true);
}

async function nothingRunsOut(page: Page, width: number): Promise<void> {
  const widths = await page.evaluate(() =>
    ['#vitals', '#page', '#sheet', '#hold'].map((part) => document.querySelector(part)?.scrollWidth ?? 0),
  );
  for (const each of widths) expect(each).toBeLessThanOrEqual(width);
  const clipped = await page.evaluate(() => {
    const button = document.querySelector('#hold button');
    return button === null || button.scrollHeight > button.clientHeight + 1;
  });
  expect(clipped, 'the words on HOLD are clipped').toBe(false);
}
