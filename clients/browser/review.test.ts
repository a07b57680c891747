// The review page on a real server under a season of fight calls: selections that are links, a mark that tells its hold,
// a call that goes on, files, the keyboard alone, a server that goes away and comes back, HOLD, and a look at every state
// by axe-core and a ruler. With HOLDFAST_SHOTS=DIR it leaves pictures.
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { Locator, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, expect, it } from 'vitest';
import type { Role } from '../core/wire';
import { startChromium } from './support/chromium';
import { complaints, runsOut, shoot } from './support/judge';
import { LAPTOP, pressHold, release, Room, shows, type Seat } from './support/seats';
import { House } from './support/server';

const FIGHT = 'The Lantern Bridge';
const SCREENS = [
  { width: 360, height: 740 },
  { width: 390, height: 844 },
  { width: 768, height: 1_024 },
  { width: 1_440, height: 900 },
];

let room: Room;
let house: House;
let people = 0;

beforeAll(async () => {
  room = new Room(await startChromium());
  house = await House.open({ season: true });
});
afterEach(() => room.clear());
afterAll(async () => {
  await room.close();
  await house.close();
});

/** Somebody with a code, at the review. */
async function read(role: Role, more = '', options: object = LAPTOP, first: (() => void)[] = []): Promise<Seat> {
  people += 1;
  const seat = await room.sit(house, role, `Reader ${people}`, undefined, options, first);
  await seat.page.goto(new URL(`/review${more}`, house.link(role)).href);
  await counted(seat.page);
  return seat;
}

const counted = (page: Page) => page.getByRole('status').filter({ hasText: 'As the log was at' }).waitFor();
const marks = (page: Page): Locator => page.locator('figure.phrase svg a');
const story = (page: Page): Locator => page.getByRole('complementary', { name: 'A hold or stop, told whole' });

it('is one link away from the desk, from the phones of captain and observer, and from the score page', async () => {
  for (const role of ['desk', 'captain', 'observer', 'director'] as const) {
    people += 1;
    const { page } = await room.sit(house, role, `Walker ${people}`, undefined, LAPTOP);
    await page.getByRole('link', { name: /^Review/ }).click();
    await page.getByRole('heading', { name: 'What to drill next' }).waitFor();
    await page.getByRole('link', { name: /^Back to/ }).waitFor();
  }
});

it('is a selection that is a link, which another opens and sees the same', async () => {
  const { page } = await read('director');
  await page.getByRole('combobox', { name: 'Fight', exact: true }).selectOption(FIGHT);
  await page.getByText(`only “${FIGHT}”`).waitFor();
  await page.getByRole('combobox', { name: 'Phrase', exact: true }).selectOption('The turn');
  await page.getByText('only the phrase “The turn”').waitFor();
  const days = (await page.locator('.report header p').first().textContent()) ?? '';
  const [first = '', last = ''] = days.match(/\d{4}-\d\d-\d\d/g) ?? [];
  await page.getByLabel('From', { exact: true }).fill(later(first, 14));
  await expect.poll(() => page.locator('.report header p').first().textContent()).not.toBe(days);
  await counted(page);
  const link = (await page.getByRole('link', { name: 'This selection as a link' }).getAttribute('href')) ?? '';
  expect(new URL(page.url()).search).toBe(link.replace('/review', ''));
  expect(Object.fromEntries(new URLSearchParams(link.split('?')[1]))).toEqual({
    since: later(first, 14),
    fight: FIGHT,
    phrase: 'The turn',
  });
  const other = await read('observer', link.replace('/review', ''));
  const paper = (at: Page) => at.locator('.review-columns > .report').innerText();
  expect(await paper(other.page)).toBe(await paper(page));
  expect(await other.page.getByLabel('From', { exact: true }).inputValue()).toBe(later(first, 14));
  expect(await other.page.getByRole('combobox', { name: 'Phrase', exact: true }).inputValue()).toBe('The turn');
  // The browser's own way back goes through the selections.
  await page.goBack();
  await expect.poll(() => page.locator('.report header p').first().textContent()).toBe(days);
  await page.getByRole('button', { name: 'Show everything' }).click();
  await page.getByRole('heading', { name: 'The Ferryman' }).waitFor();
  // What cannot be meant gets a sentence, in the page that was asked for.
  const { page: lost } = await room.sit(house, 'captain', 'Lost', undefined, LAPTOP);
  await lost.goto(new URL('/review?fight=nothing', house.link('captain')).href);
  await lost.getByRole('status').filter({ hasText: 'No fight of the journal is called “nothing”' }).waitFor();
  await lost.goto(new URL(`/review?since=${later(last, 400)}`, house.link('captain')).href);
  await lost.getByText('Nothing was run.').waitFor();
  expect(await complaints(lost)).toEqual([]);
});

it('tells a hold whole, from the keyboard alone, and is left the same way', async () => {
  const { page } = await read('captain', `?fight=${encodeURIComponent(FIGHT)}`);
  const first = marks(page).first();
  await tabTo(page, (await first.getAttribute('aria-label')) ?? '');
  await page.keyboard.press('ArrowRight');
  const mark = (await page.evaluate(() => document.activeElement?.getAttribute('aria-label'))) ?? '';
  expect(mark).not.toBe(await first.getAttribute('aria-label'));
  await page.keyboard.press('Enter');
  await story(page).getByRole('heading', { level: 2 }).waitFor();
  await expect.poll(() => page.evaluate(() => document.activeElement?.localName)).toBe('h2');
  for (const part of ['Called by', 'What the phones had shown']) await story(page).getByText(part).first().waitFor();
  const [beat = '', words = ''] = mark.replace('Beat ', '').split(/, |: broke/);
  await story(page).getByText(`beat ${beat}: ${words}`).first().waitFor();
  expect(await story(page).locator('tbody tr').count()).toBeGreaterThan(1);
  // The place in the address is the hold's: whoever gets it sees the same.
  const address = new URL(page.url());
  expect(address.hash).toMatch(/^#e\d+$/);
  const other = await read('observer', address.search + address.hash);
  await story(other.page).getByRole('heading', { level: 2 }).waitFor();
  expect(await story(other.page).locator('h2 ~ *').allInnerTexts()).toEqual(
    await story(page).locator('h2 ~ *').allInnerTexts(),
  );
  await tabTo(page, 'Close', true);
  await page.keyboard.press('Enter');
  await story(page).waitFor({ state: 'detached' });
  await expect.poll(() => page.evaluate(() => document.activeElement?.getAttribute('aria-label'))).toBe(mark);
  // A fold opens, and its rows lead to the same story.
  await tabTo(page, 'Every hold and stop of');
  await page.keyboard.press('Enter');
  await page.locator('details[data-part^="breaks-"] tbody tr').first().waitFor();
});

it('lets the seconds before a hold be heard again, and is silent when anything happens', async () => {
  const { page } = await read('captain', `?fight=${encodeURIComponent(FIGHT)}`);
  const other = await read('observer');
  await marks(page).first().dispatchEvent('click');
  const [listen, silence] = ['Listen to the seconds before', 'Stop listening'].map((name) =>
    story(page).getByRole('button', { name, exact: true }),
  );
  await listen?.click();
  await silence?.waitFor();
  await pressHold(other);
  await silence?.waitFor({ state: 'detached', timeout: 2_000 });
  expect(await listen?.isDisabled(), 'while a hold stands').toBe(true);
  await release(await room.sit(house, 'desk', 'Ines C'));
  await expect.poll(() => listen?.isEnabled()).toBe(true);
});

/** In the place of the loudspeakers a recording that is made at once, by the browser's own audio: what would be heard. */
function recorded(): void {
  class Recording extends OfflineAudioContext {
    constructor() {
      super(1, 48_000 * 12, 48_000);
      Object.assign(window, { recording: this });
    }
    override resume(): Promise<void> {
      return Promise.resolve();
    }
  }
  Object.assign(window, { AudioContext: Recording });
}

it('lets the seconds before a hold be heard as the phones had them: a note a cue and phone, then the call', async () => {
  const { page } = await read('captain', `?fight=${encodeURIComponent(FIGHT)}`, LAPTOP, [recorded]);
  await marks(page).first().dispatchEvent('click');
  await story(page).getByRole('button', { name: 'Listen to the seconds before', exact: true }).click();
  const heard = await page.evaluate(async () => {
    const { recording } = window as unknown as { recording: OfflineAudioContext };
    const samples = (await recording.startRendering()).getChannelData(0);
    const shown = [...document.querySelectorAll<SVGGElement>('[data-shown]')].map(({ dataset }) =>
      (dataset['shown'] ?? '').split(' ').filter(Boolean).map(Number),
    );
    // As loud as the loudest sample of each millisecond.
    const loud = Array.from({ length: samples.length / 48 }, (_, ms) =>
      Math.max(...samples.subarray(ms * 48, ms * 48 + 48).map(Math.abs)),
    );
    const crossings = (from: number, to: number) => {
      const part = samples.subarray(from * 48, to * 48);
      return part.reduce((count, sample, n) => count + (n > 0 && sample > 0 !== (part[n - 1] ?? 0) > 0 ? 1 : 0), 0);
    };
    const first = Math.max(...shown.flat());
    const call = 100 + first;
    return { shown, loud, first, pitch: crossings(call + 60, call + 460) / 2 / 0.4 };
  });
  const notes = heard.shown.flat().map((ms) => 100 + heard.first - ms);
  expect(notes.length).toBeGreaterThan(3);
  const loudest = (from: number, to: number) => Math.max(...heard.loud.slice(Math.round(from), Math.round(to)));
  for (const note of notes) expect(loudest(note, note + 12), `a note at ${note} ms`).toBeGreaterThan(0.1);
  // Between two notes it is still; a note is thirty milliseconds long.
  const inOrder = [...notes, 100 + heard.first].sort((one, other) => one - other);
  const gaps = inOrder.slice(1).map((at, n): [number, number] => [(inOrder[n] ?? 0) + 40, at - 2]);
  const still = gaps.filter(([from, to]) => to - from > 10);
  expect(still.length).toBeGreaterThan(0);
  for (const [from, to] of still) expect(loudest(from, to), `still from ${from} to ${to} ms`).toBeLessThan(0.01);
  expect(loudest(0, 98)).toBe(0);
  // The call is the low tone.
  expect(Math.abs(heard.pitch - 220)).toBeLessThan(4);
});

it('answers first what is asked first: what to drill, what is new, who is ready', async () => {
  for (const viewport of [
    { width: 320, height: 640 },
    { width: 390, height: 844 },
    { width: 1_280, height: 800 },
  ]) {
    const { page } = await read('captain', '', { viewport });
    const answer = page.locator('.answer');
    for (const said of [/^Drill .+ at \d+ %, \d+ min;/, /^New /, /^Ready \d+ of \d+ phrases stand on a step/]) {
      await answer.getByRole('listitem').filter({ hasText: said }).waitFor();
    }
    const box = await answer.boundingBox();
    // On the smallest phone the answer begins on the first screen, on every other it is whole there.
    const first = await answer.getByRole('listitem').first().boundingBox();
    const end = viewport.width === 320 ? (first?.y ?? Infinity) + 48 : (box?.y ?? Infinity) + (box?.height ?? 0);
    expect(end, `${viewport.width}`).toBeLessThan(viewport.height - 56);
    // The table of who is ready fits: nothing of it moves sideways, and no column is one letter wide.
    const table = page.locator('.readiness table');
    expect(await table.evaluate((it) => it.scrollWidth - it.clientWidth), `${viewport.width}`).toBeLessThanOrEqual(0);
    const narrowest = await page
      .locator('.report th, .report td')
      .evaluateAll((cells) =>
        Math.min(
          ...cells
            .filter((cell) => cell.checkVisibility() && (cell.textContent ?? '').trim().length > 3)
            .map((cell) => cell.getBoundingClientRect().width),
        ),
      );
    expect(narrowest, `${viewport.width}`).toBeGreaterThan(36);
  }
});

it('gives its selection as files', async () => {
  const { page } = await read('director', `?fight=${encodeURIComponent(FIGHT)}`);
  await page.getByText('Take it with you').click();
  const take = async (button: RegExp): Promise<string> => {
    const [file] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('button', { name: button }).click(),
    ]);
    await page.getByRole('status').filter({ hasText: file.suggestedFilename() }).waitFor();
    return readFile(await file.path(), 'utf8');
  };
  const report = (...more: string[]) => house.says('report', house.production, '--fight', FIGHT, ...more);
  expect(await take(/^Holds and stops/)).toBe(await report('--format', 'csv', '--table', 'breaks'));
  expect((await take(/HTML/)).trimEnd()).toBe((await report('--format', 'html')).trimEnd());
});

it('follows a call that goes on: a hold called on it is told on it, and everything stays where it was', async () => {
  const desk = await room.sit(house, 'desk', 'Ines');
  const reader = await read('captain', `?fight=${encodeURIComponent(FIGHT)}`);
  const { page } = reader;
  const fold = page.locator('details[data-part^="breaks-"]').first();
  await fold.locator('summary').click();
  await fold.locator('tbody tr').first().waitFor();
  const before = await fold.locator('summary').innerText();
  await page.evaluate(() => Object.assign(window, { untouched: true }));
  const phone = await room.sit(house, 'observer', 'Pim');
  await desk.page.getByText('Choose something else', { exact: true }).click();
  await desk.page.getByRole('combobox', { name: 'Fight', exact: true }).selectOption(FIGHT);
  await desk.page.getByLabel('Speed (%)').fill('100');
  await desk.page.getByRole('button', { name: 'Call places', exact: true }).click();
  // The season's cast is not here and nobody has signed the checks: that is said, and keeps nobody from starting.
  await desk.page.waitForFunction(() => {
    const said = [...document.querySelectorAll('.start li')].map((each) => each.textContent ?? '');
    return said.length > 0 && said.every((each) => /no link|not signed|the checks found/.test(each));
  });
  await desk.page.getByRole('button', { name: 'Start anyway …' }).click();
  await desk.page.getByRole('button', { name: 'Start all the same' }).click();
  await shows(reader, 'RUNNING');
  await pressHold(phone);
  await shows(reader, 'HELD');
  // The page was never loaded anew, the fold is still open, and the hold is in it with who called it.
  await expect.poll(() => fold.locator('summary').innerText(), { timeout: 20_000 }).not.toBe(before);
  expect(await fold.evaluate((it: HTMLDetailsElement) => it.open)).toBe(true);
  expect(await page.evaluate(() => 'untouched' in window)).toBe(true);
  await fold.locator('summary').click();
  await fold.locator('summary').click();
  const newest = fold.locator('tbody tr').last();
  await newest.filter({ hasText: 'Pim' }).waitFor();
  await release(desk);
});

it('says so when the server is gone, and goes on where it was when it is back', async () => {
  const reader = await read('captain');
  const { page } = reader;
  const place = house.place;
  await house.stop();
  await page.locator('#sheet', { hasText: 'NO LINK' }).waitFor();
  expect(await complaints(page)).toEqual([]);
  await shoot(page, 'review-gone');
  await house.start(place);
  await page.locator('#vitals', { hasText: 'Linked' }).waitFor();
  await page.getByRole('heading', { name: 'What to drill next' }).waitFor();
  await page.getByRole('combobox', { name: 'Fight', exact: true }).selectOption(FIGHT);
  await page.getByText(`only “${FIGHT}”`).waitFor();
});

it('holds by a touch and by Escape', async () => {
  const [one, other] = [await read('captain'), await read('director')];
  await pressHold(one);
  await shows(other, 'HELD');
  await other.page.getByLabel('From', { exact: true }).focus();
  await other.page.keyboard.press('Escape');
  const last = async () => (await house.log()).filter(({ kind }) => kind.startsWith('hold')).slice(-2);
  await expect.poll(async () => (await last()).map(({ kind }) => kind)).toEqual(['hold', 'hold-joined']);
  await release(await room.sit(house, 'desk', 'Ines B'));
});

it('signs the checks before a call from the keyboard, and notes who is there', async () => {
  const { page } = await room.sit(house, 'desk', 'Runa');
  await room.sit(house, 'performer', 'Noor', 'No part yet');
  const check = page.locator('.checklist li', { hasText: 'floor dry and swept' });
  const judge = async (state: string): Promise<void> => {
    await page.locator('.checks').scrollIntoViewIfNeeded();
    await shoot(page, `desk-checks-${state}`);
    expect(await complaints(page), state).toEqual([]);
  };
  await judge('unsigned');
  await tabTo(page, 'Sign: floor dry');
  await page.keyboard.press('Enter');
  await check.filter({ hasText: '✓ Runa' }).waitFor();
  await tabTo(page, 'With a note: marks in place');
  await page.keyboard.press('Enter');
  await page.keyboard.press('Tab');
  await page.keyboard.type('the third is gone');
  await judge('asked');
  await tabTo(page, 'Not in order');
  await page.keyboard.press('Enter');
  const marks = page.locator('.checklist li', { hasText: 'marks in place' });
  await marks.filter({ hasText: 'Not in order. Runa' }).filter({ hasText: 'the third is gone' }).waitFor();
  await tabTo(page, 'Present and absent');
  await page.keyboard.press('Enter');
  await tabTo(page, 'Somebody else');
  await page.keyboard.type('Ayo Lindqvist');
  await page.keyboard.press('Enter');
  await page.locator('summary', { hasText: 'absent: Ayo Lindqvist' }).waitFor();
  await page.getByRole('group', { name: 'Noor' }).getByRole('button', { name: 'Present' }).press('Enter');
  await judge('signed');
  // It is the record of this call, on whoever's page.
  const { page: paper } = await read('captain');
  const record = paper.locator('section.call');
  await record.locator('tr', { hasText: 'marks in place' }).filter({ hasText: 'not in order' }).waitFor();
  await record.getByText(/Absent: .*Ayo Lindqvist/).waitFor();
});

it('the report and the fight sheets are read by everybody, on the glass as well', async () => {
  const files: [string, string][] = [
    ['report', await house.says('report', house.production, '--fight', FIGHT, '--format', 'html')],
    ['sheet', await house.says('sheet', join(house.production, 'scores/lantern-bridge.fight'), '--format', 'html')],
  ];
  const { page } = await room.open(LAPTOP);
  for (const [name, html] of files) {
    await page.setContent(html);
    await page.evaluate(() => {
      for (const fold of [...document.querySelectorAll('details')].slice(0, 4)) fold.open = true;
    });
    await shoot(page, `paper-${name}`, true);
    expect(await complaints(page), name).toEqual([]);
    expect(await runsOut(page), name).toEqual([]);
  }
});

it.each(SCREENS)('is as it should be at $width × $height', async (viewport) => {
  const phone = viewport.width < 700 ? { hasTouch: true, isMobile: true } : {};
  const { page } = await read('captain', `?fight=${encodeURIComponent(FIGHT)}`, { viewport, ...phone });
  const faults: string[] = [];
  page.on('pageerror', (fault) => faults.push(fault.message));
  page.on('console', (line) => line.type() === 'error' && faults.push(line.text()));
  const judge = async (state: string, judged: 'dark' | 'light' | null): Promise<void> => {
    for (const colorScheme of ['dark', 'light'] as const) {
      await page.emulateMedia({ colorScheme });
      await shoot(page, `review-${viewport.width}-${state}-${colorScheme}`);
      // The colours are those of the scheme, whatever the width: each is judged once.
      if (colorScheme === judged) expect(await complaints(page), `${state}, ${colorScheme}`).toEqual([]);
    }
    expect(await runsOut(page), state).toEqual([]);
    expect(await page.locator('#page').evaluate((it) => it.scrollWidth - it.clientWidth), state).toBeLessThanOrEqual(0);
    const hold = await page.locator('#hold button').boundingBox();
    // The foot of a page where nothing runs (browser/frame.test.ts).
    expect(hold?.height).toBe(56);
    const onTop = await page.evaluate(
      ([x, y]) => document.elementFromPoint(x ?? 0, y ?? 0)?.closest('#hold') !== null,
      [(hold?.x ?? 0) + (hold?.width ?? 0) / 2, (hold?.y ?? 0) + (hold?.height ?? 0) / 2],
    );
    expect(onTop, 'nothing lies over HOLD').toBe(true);
    const clipped = await page.locator('#hold button').evaluate((it) => it.scrollHeight > it.clientHeight + 1);
    expect(clipped, 'the words on HOLD are clipped').toBe(false);
  };
  const judged = viewport.width === 390 ? 'dark' : viewport.width === 1_440 ? 'light' : null;
  await judge('top', judged);
  for (const place of [
    'Where it breaks',
    'Whether it gets better',
    'Speed ladder',
    'Revisions',
    'Phones and network',
  ]) {
    await page.getByRole('heading', { name: place }).evaluate((it) => it.scrollIntoView());
    await shoot(page, `review-${viewport.width}-${place.replaceAll(' ', '-')}`);
  }
  await page.getByRole('heading', { name: 'Fight calls' }).evaluate((it) => it.scrollIntoView());
  await judge('calls', null);
  const fold = page.locator('details[data-part^="breaks-"]').first();
  await fold.locator('summary').click();
  await fold.locator('tbody tr').first().waitFor();
  await judge('fold', judged);
  await page.locator('.before > summary').click();
  await page.getByText('Take it with you').click();
  await page.locator('#page').evaluate((it) => it.scrollTo(0, 0));
  await judge('before', judged);
  await marks(page).first().dispatchEvent('click');
  await story(page).getByRole('heading', { level: 2 }).waitFor();
  await judge('told', judged);
  expect(faults).toEqual([]);
});

/** Tab, until that has the focus. */
async function tabTo(page: Page, name: string, back = false): Promise<void> {
  for (let step = 0; step < 120; step += 1) {
    const found = await page.evaluate(() => {
      const focus = document.activeElement;
      const own = focus?.getAttribute('aria-label') ?? focus?.closest('label')?.firstChild?.textContent;
      return own ?? focus?.textContent ?? '';
    });
    if (found.startsWith(name)) return;
    await page.keyboard.press(back ? 'Shift+Tab' : 'Tab');
  }
  throw new Error(`the Tab key never comes to ${name}`);
}

/** So many days after a day. */
function later(day: string, days: number): string {
  return new Date(Date.parse(day) + days * 86_400_000).toISOString().slice(0, 10);
}
