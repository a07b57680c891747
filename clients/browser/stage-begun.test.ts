// A stage is begun on the score page of a real server where there is none, and sets are begun on it: said in plain words, in one
// touch, once however many begin it; from then on the fights are checked on it, on every page that is open.
import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { expect, it } from 'vitest';
import type { Role } from '../core/wire';
import { evenings } from './support/evening';
import { complaints, runsOut } from './support/judge';
import { House } from './support/server';

/** Somebody far off any stage. */
const FAR = 'place ALDER -30.0,3.0';
const evening = evenings(() =>
  House.open({ stage: null, score: (usual) => usual.replace(/place ALDER\s+-?[\d.]+,-?[\d.]+/, FAR) }),
);
/** On a machine on which several other things run. */
const SOON = { timeout: 30_000 };

const text = (page: Page) => page.getByLabel('The text of the score');
const onDisk = (): Promise<string> => readFile(join(evening.house.production, 'stage.toml'), 'utf8');
const begin = (page: Page) => page.getByRole('button', { name: 'Begin a plain stage' });
const offStage = (page: Page) => page.locator('.findings li', { hasText: 'playing area' });

/** Somebody who has the score page open. */
async function atTheScore(role: Role, name: string): Promise<Page> {
  const { page } = await evening.room.sit(evening.house, role, name);
  if (role !== 'director') await page.goto(`http://${evening.house.place}/score`);
  await page.locator('.no-stage').waitFor();
  return page;
}

async function save(page: Page, why: string): Promise<void> {
  await page.getByLabel('Why is it changed?').fill(why);
  await page.getByRole('button', { name: 'Save', exact: true }).click();
  await page.locator('.told p', { hasText: '✓' }).waitFor();
}

it('is begun in one touch, is drawn on, and every open page checks on it at once', async () => {
  const page = await atTheScore('director', 'Runa');
  const other = await atTheScore('captain', 'Bryn');
  const { page: reader } = await evening.room.sit(evening.house, 'observer', 'Sol');
  await reader.goto(`http://${evening.house.place}/score`);
  await reader.locator('.no-stage', { hasText: 'is not checked' }).waitFor();
  expect(await begin(reader).count()).toBe(0);
  await page.locator('.no-stage', { hasText: 'is not checked' }).waitFor();
  expect(await offStage(other).count()).toBe(0);
  expect(await complaints(page)).toEqual([]);
  await begin(page).click();
  await page.locator('.stage-drawn .things').waitFor();
  await page.locator('.told p', { hasText: 'A plain stage is begun' }).waitFor();
  // Nobody has touched the other two, and both say what is found now.
  await offStage(other).first().waitFor();
  await offStage(reader).first().waitFor();
  await expect.poll(() => other.locator('.no-stage').count(), SOON).toBe(0);
  await page.locator('.things button', { hasText: 'edge front' }).click();
  await page.getByLabel('How deep it goes down').fill('1.4');
  await page.getByLabel('How deep it goes down').press('Tab');
  await expect.poll(() => text(page).inputValue(), SOON).toContain('drop = 1.4');
  await save(page, 'Measured');
  expect(await onDisk()).toContain('drop = 1.4');
  await other.locator('.bar select').selectOption('stage.toml');
  await expect.poll(() => text(other).inputValue(), SOON).toContain('drop = 1.4');
});

it('is begun once where two begin it at once, and nothing of either is lost', async () => {
  const pages = await Promise.all([atTheScore('director', 'Runa'), atTheScore('desk', 'Ines')]);
  await Promise.all(pages.map((page) => begin(page).click()));
  await Promise.all(pages.map((page) => page.locator('.stage-drawn .things').waitFor()));
  const said = await Promise.all(pages.map((page) => page.locator('.told').innerText()));
  expect(said.filter((each) => each.includes('A plain stage is begun'))).toHaveLength(1);
  expect(said.filter((each) => each.includes('somebody else has begun it'))).toHaveLength(1);
  const [one, two] = pages as [Page, Page];
  await one.locator('.things button', { hasText: 'edge front' }).click();
  await one.getByLabel('How deep it goes down').fill('1.2');
  await one.getByLabel('How deep it goes down').press('Tab');
  await two.locator('.things button', { hasText: 'wing right' }).click();
  await two.getByRole('button', { name: /^Corner 1 of right/ }).press('ArrowLeft');
  await expect.poll(() => text(one).inputValue(), SOON).toContain('drop = 1.2');
  await expect.poll(() => text(two).inputValue(), SOON).toContain('[[-8.1, 0]');
  await save(one, 'Measured');
  await save(two, 'Measured, too');
  const kept = await onDisk();
  expect(kept).toContain('drop = 1.2');
  expect(kept).toContain('[[-8.1, 0]');
});

it('that appears in the folder meanwhile is opened and not overwritten', async () => {
  const page = await atTheScore('director', 'Runa');
  const theirs = 'area = [[-3, 0], [3, 0], [3, 5], [-3, 5]] # the studio\n';
  // A page that has heard nothing of it.
  await page.route('**/api/scores/here', (route) => route.abort());
  await writeFile(join(evening.house.production, 'stage.toml'), theirs);
  await begin(page).click();
  await page.locator('.told p', { hasText: 'somebody else has begun it' }).waitFor();
  expect(await text(page).inputValue()).toBe(theirs);
  expect(await onDisk()).toBe(theirs);
});

it('has sets, which are begun, named, drawn on, and are for the fights that are chosen', async () => {
  const page = await atTheScore('director', 'Runa');
  await begin(page).click();
  await page.locator('.stage-drawn .things').first().waitFor();
  const before = await text(page).inputValue();
  await page.getByRole('button', { name: 'New set …' }).click();
  await page.getByLabel('What the set is called').fill('The Attic');
  await page.locator('.asked summary', { hasText: 'from a phrase on' }).first().click();
  await page.locator('.asked button', { hasText: 'from “The answer” on' }).click();
  await page.getByRole('button', { name: 'Begin the set' }).click();
  await expect
    .poll(() => text(page).inputValue(), SOON)
    .toContain('[sets."The Attic"]\nfights = ["First Steps: The answer"]');
  const set = page.locator('.measures', { hasText: 'For which fights' });
  await set.getByRole('button', { name: 'First Steps', exact: true }).click();
  await expect
    .poll(() => text(page).inputValue(), SOON)
    .toContain('fights = ["First Steps: The answer", "First Steps"]');
  expect(await complaints(page)).toEqual([]);
  await page.setViewportSize({ width: 390, height: 844 });
  expect(await runsOut(page)).toEqual([]);
  await page.setViewportSize({ width: 1280, height: 800 });
  // What is drawn stands on this set alone.
  await page.getByLabel('Something new').selectOption('piece');
  await page.getByRole('button', { name: 'Add', exact: true }).click();
  await expect.poll(() => text(page).inputValue(), SOON).toContain('[sets."The Attic".pieces.set-piece]');
  // A second set cannot have the same fight; of the first it is taken, and then it can.
  await page.getByRole('button', { name: 'New set …' }).click();
  await page.getByLabel('What the set is called').fill('Roof');
  await page
    .locator('.asked')
    .getByRole('button', { name: /^First Steps \(on the set The Attic\)$/ })
    .waitFor();
  expect(
    await page
      .locator('.asked')
      .getByRole('button', { name: /^First Steps \(on/ })
      .isDisabled(),
  ).toBe(true);
  await page.getByRole('button', { name: 'Begin the set' }).click();
  await expect.poll(() => text(page).inputValue(), SOON).toContain('[sets.Roof]\nfights = []');
  await page.getByLabel('What stands there').selectOption('The Attic');
  await set.getByRole('button', { name: 'First Steps', exact: true }).click();
  await expect.poll(() => text(page).inputValue(), SOON).toContain('fights = ["First Steps: The answer"]');
  await page.getByLabel('What stands there').selectOption('Roof');
  await set.getByRole('button', { name: 'First Steps', exact: true }).click();
  await expect.poll(() => text(page).inputValue(), SOON).toContain('[sets.Roof]\nfights = ["First Steps"]');
  await page.getByLabel('Name of the set').fill('The Roof');
  await page.getByLabel('Name of the set').press('Tab');
  await expect.poll(() => text(page).inputValue(), SOON).toContain('[sets."The Roof"]');
  // A name that is taken is refused in a sentence, and nothing is another.
  await page.getByLabel('Name of the set').fill('The Attic');
  await page.getByLabel('Name of the set').press('Tab');
  await page.locator('.stage-drawn .bad', { hasText: 'There is a set “The Attic” already' }).waitFor();
  await save(page, 'Two sets');
  expect(await onDisk()).toContain('[sets."The Roof"]\nfights = ["First Steps"]');
  await set.getByRole('button', { name: 'Take this set away' }).click();
  await page.getByLabel('What stands there').selectOption('The Attic');
  await set.getByRole('button', { name: 'Take this set away' }).click();
  await expect.poll(() => text(page).inputValue(), SOON).toBe(before);
});
