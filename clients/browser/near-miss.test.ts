// A near miss is reported wherever somebody is who saw one: on the score, sound and review pages as on phone and desk, by the same
// form, which comes when it is asked for; and the desk of a real server reads it. HOLD stands there as ever.
import type { Page } from 'playwright-core';
import { expect, it } from 'vitest';
import type { Role } from '../core/wire';
import { evenings } from './support/evening';
import { complaints, runsOut } from './support/judge';
import { House } from './support/server';

const evening = evenings(() => House.open());

const PAGES: [string, Role, string][] = [
  ['score', 'director', 'Runa'],
  ['sound', 'sound', 'Tove'],
  ['review', 'observer', 'Sol'],
];

/** Somebody at a page, and every file that it asked for. */
async function at(path: string, role: Role, name: string): Promise<{ page: Page; files: string[] }> {
  const { page } = await evening.room.sit(evening.house, role, name);
  const files: string[] = [];
  page.on('request', (request) => files.push(new URL(request.url()).pathname));
  await page.goto(`http://${evening.house.place}/${path}`);
  await page.locator('.near-miss > button').waitFor();
  return { page, files };
}

it.each(PAGES)('is reported from the %s page', async (path, role, name) => {
  const { page: desk } = await evening.room.sit(evening.house, 'desk', 'Ines');
  await desk.locator('.near-misses > summary').click();
  await desk.locator('.near-misses li, .near-misses .near-miss').first().waitFor();
  const { page, files } = await at(path, role, name);
  expect(files.filter((file) => file.includes('near-miss-report'))).toEqual([]);
  await page.locator('.near-miss > button').click();
  const form = page.locator('.near-miss form');
  await form.waitFor();
  expect(await complaints(page)).toEqual([]);
  await page.setViewportSize({ width: 390, height: 844 });
  expect(await runsOut(page)).toEqual([]);
  await form.scrollIntoViewIfNeeded();
  await form.locator('.choices button').first().click();
  await form.locator('input:not([type=checkbox])').fill(`Seen from the ${path} page`);
  await form.locator('button[type=submit]').click();
  await page.locator('.near-miss [role=status]', { hasText: '✓' }).waitFor();
  const told = desk.locator('.near-misses li', { hasText: `Seen from the ${path} page` });
  await told.waitFor();
  expect(await told.locator('small').innerText()).toBe('without a name');
  // While a hold stands there is nothing to report here: it comes after.
  await page.keyboard.press('Escape');
  await page.locator('body[data-stage="held"]').waitFor();
  await expect.poll(() => page.locator('.near-miss').count()).toBe(0);
});
