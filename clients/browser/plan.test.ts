// The picture that moves, on real pages: on desk and phones with the run, standing still where a page cannot vouch for it, by
// steps where no motion is wanted; gone through by hand on the score page, the review and one's own part; and marks that are
// set on the score page, by hand and by keys, change their line of the text and lose nobody's.
import { readFileSync } from 'node:fs';
import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import type { FloorSheet, RunSheet } from '../core/wire';
import { evenings } from './support/evening';
import { countFlashes, countRedFlashes, record } from './support/film';
import { complaints, runsOut } from './support/judge';
import { cue, memberOf, pretend, run, setUp, state, type Line } from './support/pretend';
import { LAPTOP, PHONE, pressHold, startARun, type Seat } from './support/seats';
import { House } from './support/server';

/** On a machine on which several other things run. */
const SOON = { timeout: 30_000 };

/** Alder walks for four beats, between two of his moves. */
const evening = evenings(() =>
  House.open({
    score: (usual) =>
      usual.replace('  5      ALDER   cut flank', '  4 ALDER walk -0.7,3.5 by 8\n  9      ALDER   cut flank'),
  }),
);

/** Where the people of a picture stand, over so many frames of it. */
async function places(page: Page, frames: number): Promise<string[]> {
  await page.locator('.plan .person').first().waitFor({ state: 'attached' });
  return page.evaluate(async (many) => {
    const seen: string[] = [];
    for (let n = 0; n < many; n += 1) {
      await new Promise(requestAnimationFrame);
      const people = [...document.querySelectorAll('.plan .person')];
      seen.push(people.map((each) => each.getAttribute('transform') ?? '').join(' '));
    }
    return seen;
  }, frames);
}

const different = (seen: string[]): number => new Set(seen).size;

/** This device has chosen something before its page comes up. */
const chosen = (settings: object): string =>
  `localStorage.setItem('holdfast.settings', ${JSON.stringify(JSON.stringify(settings))})`;

/** Waits until somebody's picture is one that moves. */
async function moves(seat: Seat): Promise<void> {
  await seat.page.locator('.plan-live[data-still="no"]').waitFor({ state: 'attached' });
  await expect.poll(async () => different(await places(seat.page, 20)), SOON).toBeGreaterThan(5);
}

describe('a run', () => {
  it('moves on the desk and on phones, and stands where a hold catches it', async () => {
    const { room, house } = evening;
    const desk = await room.sit(house, 'desk', 'Ines');
    const alder = await room.sit(house, 'performer', 'Lotte', 'ALDER', {}, [chosen({ plan: 'on' })]);
    const bryony = await room.sit(house, 'performer', 'Yusuf', 'BRYONY');
    const captain = await room.sit(house, 'captain', 'Kit');
    await startARun(desk, [alder, bryony], 50);
    await Promise.all([desk, alder, captain].map(moves));
    expect(await alder.page.locator('.person[data-is="you"]').getAttribute('data-who')).toBe('ALDER');
    expect(await alder.page.locator('.person[data-is="partner"]').getAttribute('data-who')).toBe('BRYONY');
    expect(await bryony.page.locator('.plan').count(), 'a performer’s phone has it where they chose it').toBe(0);
    for (const { page } of [desk, alder, captain]) {
      expect(await complaints(page)).toEqual([]);
      expect(await runsOut(page)).toEqual([]);
    }
    await pressHold(bryony);
    await desk.page.locator('.plan-state', { hasText: 'Held: the picture stands still.' }).waitFor();
    expect(different(await places(desk.page, 40))).toBe(1);
  });

  it('is seen from the stage where this device looks from there, and keeps it', async () => {
    const { desk, alder, bryony } = await evening.room.company(evening.house);
    await startARun(desk, [alder, bryony], 50);
    const x = async (): Promise<number> =>
      Number(/translate\((-?[\d.]+)/.exec((await places(desk.page, 1))[0] ?? '')?.[1]);
    // Alder stands to stage right: at the left for the house.
    expect(await x()).toBeLessThan(0);
    await desk.page.getByRole('button', { name: 'the stage', exact: true }).click();
    await expect.poll(x, SOON).toBeGreaterThan(0);
    await desk.page.reload();
    await desk.page.locator('.plan .person').first().waitFor({ state: 'attached' });
    await expect.poll(x, SOON).toBeGreaterThan(0);
  });
});

describe('what a phone cannot vouch for', () => {
  const floor = (
    JSON.parse(readFileSync(join(import.meta.dirname, '../../tests/vectors/floor.json'), 'utf8')) as {
      sheet: FloorSheet;
    }[]
  )[0]?.sheet;

  /** Somebody’s page in a run that began just now. */
  async function at(path: string, member: number, more: object = {}, bpm = 50): Promise<{ page: Page; line: Line }> {
    const { page } = await evening.room.open({ ...PHONE, ...more });
    await page.addInitScript(chosen({ plan: 'on' }));
    await page.route('**/floors/**', (route) => route.fulfill({ json: floor }));
    const phrase = { phrase: 0, name: 'One', at_ticks: 0, length_ticks: floor?.phrases[0]?.length_ticks ?? 0 };
    const sheet: RunSheet = {
      ...run,
      floor: 'of-the-test',
      start_us: Math.round(performance.now() * 1_000),
      // Somebody walks at any time in these.
      phrases: [{ ...phrase, at_us: 0, percent: 60 }],
      tempo: [{ at_ticks: 0, length_ticks: 15_360, at_us: 0, from_bpm: bpm, to_bpm: bpm }],
    };
    const line = await pretend(page, memberOf(member), { ...state, ...setUp, stage: 'running' }, sheet);
    await page.goto(`http://${evening.house.place}${path}`);
    line.say({ kind: 'cue', ...cue(member === 3 ? 'MARET' : null) });
    await page.locator('.plan .person').first().waitFor({ state: 'attached' });
    return { page, line };
  }

  it('does not move: the link is lost', async () => {
    const desk = await at('/desk', 1, LAPTOP);
    const phone = await at('/phone', 3);
    for (const { page } of [desk, phone]) {
      await expect.poll(async () => different(await places(page, 20)), SOON).toBeGreaterThan(5);
    }
    desk.line.stall();
    phone.line.stall();
    await desk.page.locator('.plan-state', { hasText: 'No link: the picture stands still. Watch the room.' }).waitFor();
    expect(different(await places(desk.page, 60))).toBe(1);
    // On a phone nothing is left that could be taken for the run.
    await phone.page.locator('.plan').waitFor({ state: 'detached' });
  });

  it('flashes no more than may be, however fast the run is', async () => {
    const { page } = await at('/phone', 3, {}, 150);
    await expect.poll(async () => different(await places(page, 20)), SOON).toBeGreaterThan(5);
    const film = await record(page, 4_000, 40);
    expect([countFlashes(film), countRedFlashes(film)].map((flashes) => flashes <= 3)).toEqual([true, true]);
  });

  it('steps from beat to beat where no motion is wanted', async () => {
    const { page } = await at('/phone', 3, { reducedMotion: 'reduce' });
    await page.locator('.plan-state', { hasText: 'steps from beat to beat' }).waitFor();
    // Five seconds at 50 beats a minute are four beats, and a fifth at an edge.
    const seen = await places(page, 300);
    expect(different(seen)).toBeLessThanOrEqual(6);
  });
});

const text = (page: Page) => page.getByLabel('The text of the score');

async function onThePlan(seat: Seat): Promise<Page> {
  const { page } = seat;
  await page.locator('.plan-now > summary').click();
  await page.locator('.plan .person').first().waitFor({ state: 'attached' });
  return page;
}

describe('where nothing runs', () => {
  it('the review goes through a fight by hand and says the same in words', async () => {
    const seat = await evening.room.sit(evening.house, 'director', 'Runa');
    await seat.page.goto(seat.page.url().replace('/score', '/review'));
    const page = await onThePlan(seat);
    const [before] = await places(page, 1);
    const slider = page.getByRole('slider', { name: 'Where in the fight' });
    await slider.focus();
    await slider.press('End');
    await expect.poll(async () => (await places(page, 1))[0], SOON).not.toBe(before);
    await page.getByText('The same in words').click();
    await page.locator('.plan-words li', { hasText: /^Alder stands at .* stage right, .* up, facing/ }).waitFor();
    await page.locator('.plan-words li', { hasText: 'playing area' }).waitFor();
    expect(await complaints(page)).toEqual([]);
    await page.setViewportSize({ width: 390, height: 844 });
    expect(await runsOut(page)).toEqual([]);
  });

  it('plays by itself, and ends when a run begins', async () => {
    const { room, house } = evening;
    const director = await room.sit(house, 'director', 'Runa');
    const page = await onThePlan(director);
    const { desk, alder, bryony } = await room.company(house);
    await page.getByRole('button', { name: /Play/ }).click();
    await expect.poll(async () => different(await places(page, 20)), SOON).toBeGreaterThan(5);
    await startARun(desk, [alder, bryony]);
    await page.getByText('Not while a run goes or a hold stands.').waitFor();
    expect(different(await places(page, 30))).toBe(1);
  });

  it('speaks German with the page', async () => {
    const { page } = await evening.room.sit(evening.house, 'director', 'Runa');
    await page.evaluate(() => localStorage.setItem('holdfast.settings', JSON.stringify({ language: 'de' })));
    await page.goto(page.url().replace('/score', '/review'));
    await page.locator('.plan-now > summary', { hasText: 'Auf dem Plan' }).click();
    await page.getByRole('button', { name: 'vom Saal aus' }).waitFor();
    await page.getByRole('button', { name: /Abspielen/ }).waitFor();
    await page.getByText('Dasselbe in Worten').click();
    await page.locator('.plan-words li', { hasText: /^Alder steht: .* rechts, .* hinten/ }).waitFor();
    await page.setViewportSize({ width: 320, height: 640 });
    expect(await runsOut(page)).toEqual([]);
    expect(await complaints(page)).toEqual([]);
  });

  it('one’s own part is gone through on the phone', async () => {
    const alder = await evening.room.sit(evening.house, 'performer', 'Lotte', 'ALDER');
    const { page } = alder;
    await page.locator('.my-part > summary').tap();
    await page.locator('.my-part .plan-now > summary').tap();
    await page.locator('.plan .person[data-is="you"]').waitFor({ state: 'attached' });
    expect(await complaints(page)).toEqual([]);
    expect(await runsOut(page)).toEqual([]);
  });
});

/** A mark or a way that may be moved: not before the picture is that of the text. */
const grip = (page: Page, name: RegExp) => page.getByRole('button', { name, disabled: false });

describe('marks on the score page', () => {
  it('are moved by keys and by hand; their line alone changes, and the checks follow', async () => {
    const page = await onThePlan(await evening.room.sit(evening.house, 'director', 'Runa'));
    const before = await text(page).inputValue();
    const mark = grip(page, /^Mark of Alder: /);
    await mark.focus();
    await mark.press('ArrowLeft');
    await mark.press('Shift+ArrowUp');
    await page.getByRole('button', { name: /^Mark of Alder: 1\.3 m stage right, 3\.0 m up/ }).waitFor();
    const line = before.split('\n').findIndex((each) => /place\s+ALDER/.test(each));
    const now = (await text(page).inputValue()).split('\n');
    expect(now[line]).toMatch(/place\s+ALDER\s+-1\.3,3\.01\b/);
    now[line] = before.split('\n')[line] ?? '';
    expect(now.join('\n')).toBe(before);
    // Far off the stage, by hand: it is said where it is.
    await expect(mark.getAttribute('aria-disabled')).resolves.toBe('false');
    const box = await mark.boundingBox();
    const area = await page.locator('.plan').boundingBox();
    if (box === null || area === null) throw new Error('nothing is drawn');
    await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
    await page.mouse.down();
    await page.mouse.move(area.x + area.width / 2, area.y + 6, { steps: 4 });
    await page.mouse.up();
    await page.locator('.handle[data-severity]').waitFor();
    await page.locator('.said-of-marks', { hasText: 'ALDER' }).waitFor();
    expect(await complaints(page)).toEqual([]);
    await page.keyboard.press('Control+z');
    await page.getByRole('button', { name: 'Undo' }).click();
    await page.locator('.handle[data-severity]').waitFor({ state: 'detached' });
  });

  it('that two people move at the same time are both kept', async () => {
    const { room, house } = evening;
    const one = await onThePlan(await room.sit(house, 'director', 'Runa'));
    const other = await room.sit(house, 'desk', 'Ines');
    await other.page.goto(other.page.url().replace('/desk', '/score'));
    await onThePlan(other);
    await grip(one, /^Mark of Alder: /).press('ArrowUp');
    await expect.poll(() => text(one).inputValue(), SOON).toMatch(/place\s+ALDER\s+-1\.2,3\.1\b/);
    await grip(other.page, /^Alder walks at beat 4 to: /).press('ArrowDown');
    await expect.poll(() => text(other.page).inputValue(), SOON).toContain('ALDER walk -0.7,3.4 by 8');
    for (const page of [one, other.page]) {
      await page.getByLabel('Why is it changed?').fill('A better place');
      await page.getByRole('button', { name: 'Save', exact: true }).click();
      await page.locator('.told p', { hasText: '✓' }).waitFor();
    }
    const kept = await readFile(join(house.production, 'scores/first-steps.fight'), 'utf8');
    expect(kept).toMatch(/place\s+ALDER\s+-1\.2,3\.1\b/);
    expect(kept).toMatch(/ALDER walk -0\.7,3\.4 by 8/);
  });

  it('are set for whoever has none; without a stage the page says so', async () => {
    const { room, house } = evening;
    const file = join(house.production, 'scores/first-steps.fight');
    await writeFile(file, (await readFile(file, 'utf8')).replace(/^.*place\s+BRYONY.*\n/m, ''));
    const seat = await room.sit(house, 'director', 'Runa');
    const page = await onThePlan(seat);
    await page.getByRole('button', { name: 'Set a mark for Bryony' }).click();
    await page.getByRole('button', { name: /^Mark of Bryony: centre, 2\.0 m up/ }).waitFor();
    expect(await text(page).inputValue()).toMatch(/\n +place BRYONY 0\.0,2\.0\n/);
    await writeFile(join(house.production, 'stage.toml'), 'units = "metres"\n');
    await expect
      .poll(
        async () => {
          await page.reload();
          await page.locator('.plan-now > summary').click();
          await page.locator('.plan-now :is(.plan, p:not(.hint))').first().waitFor();
          return page.getByText('This production has no plan of its stage').isVisible();
        },
        { timeout: 30_000, interval: 2_000 },
      )
      .toBe(true);
  });
});
