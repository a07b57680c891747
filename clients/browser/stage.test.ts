// The stage drawn on the score page of a real server: by hand, by keys and in numbers; what is drawn is text, saved and merged as
// a score is, and what cannot be drawn is said and changes nothing.
import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { expect, it } from 'vitest';
import type { Role } from '../core/wire';
import { evenings } from './support/evening';
import { complaints, runsOut } from './support/judge';
import { House } from './support/server';

const evening = evenings(() => House.open());
/** On a machine on which several other things run. */
const SOON = { timeout: 30_000 };

const text = (page: Page) => page.getByLabel('The text of the score');
const onDisk = (): Promise<string> => readFile(join(evening.house.production, 'stage.toml'), 'utf8');

/** Somebody who has the stage open. */
async function atTheStage(role: Role, name: string): Promise<Page> {
  const { page } = await evening.room.sit(evening.house, role, name);
  if (role !== 'director') await page.goto(`http://${evening.house.place}/score`);
  await page.locator('.bar select').selectOption('stage.toml');
  await page.locator('.stage-drawn .things').waitFor();
  return page;
}

async function save(page: Page, why: string): Promise<void> {
  await page.getByLabel('Why is it changed?').fill(why);
  await page.getByRole('button', { name: 'Save', exact: true }).click();
  await page.locator('.told p', { hasText: '✓' }).waitFor();
}

it('is drawn by hand, by keys and in numbers, and is text', async () => {
  const page = await atTheStage('director', 'Runa');
  const before = await text(page).inputValue();
  await page.getByLabel('Something new').selectOption('piece');
  await page.getByRole('button', { name: 'Add', exact: true }).click();
  await expect.poll(() => text(page).inputValue(), SOON).toContain('[pieces.set-piece]');
  expect(await text(page).inputValue()).toContain('outline = [[-0.5, 4], [0.5, 4], [0.5, 5], [-0.5, 5]]');
  // A corner by keys, the whole by hand, the height in numbers.
  await page.getByRole('button', { name: /^Corner 1 of set-piece/ }).press('ArrowLeft');
  await expect.poll(() => text(page).inputValue(), SOON).toContain('[[-0.6, 4], [0.5, 4]');
  const whole = page.getByRole('button', { name: /^Move all of it: set piece set-piece/ });
  await whole.scrollIntoViewIfNeeded();
  const box = await whole.boundingBox();
  if (box === null) throw new Error('nothing is drawn');
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width / 2 + 60, box.y + box.height / 2, { steps: 5 });
  await page.mouse.up();
  await expect.poll(() => text(page).inputValue(), SOON).not.toContain('[[-0.6, 4], [0.5, 4]');
  await page.getByLabel('Height').fill('2.25');
  await page.getByLabel('Height').press('Tab');
  await expect.poll(() => text(page).inputValue(), SOON).toContain('height = 2.25');
  await page.getByLabel('Name', { exact: true }).fill('screen');
  await page.getByLabel('Name', { exact: true }).press('Tab');
  await expect.poll(() => text(page).inputValue(), SOON).toContain('[pieces.screen]');
  expect(await complaints(page)).toEqual([]);
  // Every note of the file is still there.
  const notes = (all: string): string[] => all.split('\n').filter((line) => line.startsWith('#'));
  expect(notes(await text(page).inputValue())).toEqual(notes(before));
  await save(page, 'A screen');
  expect(await onDisk()).toContain('[pieces.screen]');
  await page.getByRole('button', { name: 'Take it away', exact: true }).click();
  await expect.poll(() => text(page).inputValue(), SOON).toBe(before);
  await page.setViewportSize({ width: 390, height: 844 });
  expect(await runsOut(page)).toEqual([]);
});

it('that crosses itself is refused where it is drawn, and stays as it was', async () => {
  const page = await atTheStage('director', 'Runa');
  const before = await text(page).inputValue();
  await page.locator('.things button', { hasText: 'wing left' }).click();
  const x = page.getByLabel('1: to stage left, m');
  await x.fill('20');
  await x.press('Tab');
  await page.locator('.stage-drawn .bad', { hasText: /crosses itself|lie on one line/ }).waitFor();
  expect(await text(page).inputValue()).toBe(before);
  // What somebody types that is no stage is said at its line, and the last picture stays.
  await text(page).evaluate((area: HTMLTextAreaElement) => {
    const at = area.value.indexOf('area = ');
    area.focus();
    area.setSelectionRange(at, at + 4);
  });
  await page.keyboard.type('arena');
  await page.locator('.findings li', { hasText: 'arena' }).waitFor();
  expect(await page.locator('.stage-drawn .plan').count()).toBe(1);
});

it('is merged where two draw different things; whoever may not save reads along', async () => {
  const one = await atTheStage('director', 'Runa');
  const other = await atTheStage('desk', 'Ines');
  await one.locator('.things button', { hasText: 'edge front' }).click();
  await one.getByLabel('How deep it goes down').fill('1.2');
  await one.getByLabel('How deep it goes down').press('Tab');
  await other.locator('.things button', { hasText: 'wing right' }).click();
  await other.getByRole('button', { name: /^Corner 1 of right/ }).press('ArrowLeft');
  await expect.poll(() => text(one).inputValue(), SOON).toContain('drop = 1.2');
  await expect.poll(() => text(other).inputValue(), SOON).toContain('[[-8.1, 0]');
  await save(one, 'Measured');
  await save(other, 'Measured, too');
  const kept = await onDisk();
  expect(kept).toContain('drop = 1.2');
  expect(kept).toContain('[[-8.1, 0]');
  const { page } = await evening.room.sit(evening.house, 'observer', 'Sol');
  await page.goto(`http://${evening.house.place}/score`);
  await page.locator('.bar select').selectOption('stage.toml');
  await page.locator('.things button', { hasText: 'edge front' }).click();
  expect(await page.getByRole('button', { name: 'Add', exact: true }).count()).toBe(0);
  expect(await page.locator('.handle[aria-disabled="false"]').count()).toBe(0);
});

it('is in feet where its file is', async () => {
  const file = join(evening.house.production, 'stage.toml');
  await writeFile(file, (await onDisk()).replace('units = "metres" ', 'units = "feet" '));
  const page = await atTheStage('director', 'Runa');
  await page.locator('.things button', { hasText: 'edge front' }).click();
  await page.getByLabel('1: to stage left, ft').waitFor();
  expect(await page.getByLabel('1: to stage left, ft').inputValue()).toBe('-6');
  await page.getByLabel('1: to stage left, ft').fill('-6.5');
  await page.getByLabel('1: to stage left, ft').press('Tab');
  await expect.poll(() => text(page).inputValue(), SOON).toContain('from = [-6.5, 0]');
});
