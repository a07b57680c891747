// The sound page on a real server: cues, trims and tests from the keyboard alone, what the log says of them, a hold that
// ends a round, and the devices. Every state on every screen is in sound-looks.test.ts. With HOLDFAST_SHOTS=DIR it leaves pictures.
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, expect, it } from 'vitest';
import { startChromium } from './support/chromium';
import { complaints } from './support/judge';
import { House } from './support/server';

/** A busy machine needs patience. */
const PATIENCE_MS = 40_000;
const LAPTOP = { width: 1_440, height: 900 };

let browser: Browser;
let house: House;
let pages: Page[] = [];

beforeAll(async () => void (browser = await startChromium()));
afterAll(async () => browser.close());
beforeEach(async () => void (house = await House.open()));
afterEach(async () => {
  await Promise.all(pages.map((page) => page.context().close()));
  pages = [];
  await house.close();
});

async function come(role: 'sound' | 'observer', name: string): Promise<Page> {
  const context = await browser.newContext({ viewport: LAPTOP, colorScheme: 'dark' });
  context.setDefaultTimeout(PATIENCE_MS);
  const page = await context.newPage();
  pages.push(page);
  await page.goto(house.link(role));
  await page.getByLabel('Your name').fill(name);
  await page.getByRole('button', { name: 'Join' }).click();
  await page.waitForURL(role === 'sound' ? '**/sound' : '**/phone');
  await page.locator('#vitals', { hasText: 'Linked' }).waitFor();
  return page;
}

/** Tab, until that is in focus. */
async function tabTo(page: Page, name: string): Promise<void> {
  for (let step = 0; step < 80; step += 1) {
    const found = await page.evaluate(() => {
      const focus = document.activeElement;
      const label = focus?.closest('label')?.firstChild?.textContent ?? '';
      return focus?.getAttribute('aria-label') ?? `${label} ${focus?.textContent ?? ''}`;
    });
    if (found.includes(name)) return;
    await page.keyboard.press('Tab');
  }
  throw new Error(`the Tab key never comes to ${name}`);
}

const kinds = async (): Promise<string[]> => (await house.log()).map((row) => row.kind);

it('works from the keyboard alone: a test, a trim by arrow keys, a level by typing, kept across a restart', async () => {
  const page = await come('sound', 'Nia');
  await page.locator('.cues tbody tr').first().waitFor();
  const sound = (await page.locator('.cues tbody tr td:nth-child(3) b').first().textContent()) ?? '';
  await page.locator('.cues tbody button:enabled').first().waitFor();
  await tabTo(page, `Test ${sound} of beat`);
  // A hand that falls on the space bar tests nothing.
  await page.keyboard.press('Space');
  await page.keyboard.press('Enter');
  await page.locator('.sent li', { hasText: sound }).waitFor();
  await tabTo(page, `${sound}: later`);
  for (let step = 0; step < 12; step += 1) await page.keyboard.press('ArrowDown');
  await page.keyboard.press('Tab');
  await page.keyboard.press('ArrowUp');
  await page.keyboard.press('Control+A');
  await page.keyboard.type('-3.5');
  await page.keyboard.press('Tab');
  await page.locator('.sound-row', { hasText: 'Nia' }).waitFor();
  const trim = page.getByLabel(new RegExp(`^${sound}: later`));
  await expect.poll(() => trim.inputValue()).toBe('-12');
  await expect.poll(() => page.getByLabel(new RegExp(`^${sound}: level`)).inputValue()).toBe('-3.5');

  const tests = (await house.log()).filter((row) => row.kind === 'sound-test');
  expect(tests.map(({ who, run, reason }) => ({ who, run, reason }))).toEqual([
    { who: 'Nia', run: null, reason: `test of ${sound}` },
  ]);
  const place = house.place;
  await house.stop();
  await page.locator('#sheet', { hasText: 'NO LINK' }).waitFor();
  await house.start(place);
  await page.locator('#vitals', { hasText: 'Linked' }).waitFor();
  await page.locator('.sound-row', { hasText: 'Nia' }).waitFor();
  expect(await trim.inputValue()).toBe('-12');
  const last = (await house.log()).filter((row) => row.kind === 'trim').at(-1);
  expect(last).toMatchObject({ who: 'Nia', reason: `${sound}: -12 ms, -3.5 dB` });
});

it('lets a phrase go round until somebody calls hold', async () => {
  const page = await come('sound', 'Nia');
  const phone = await come('observer', 'Pim');
  await page.locator('.cues tbody tr').first().waitFor();
  await page.getByRole('button', { name: 'Let this phrase go round' }).click();
  await page.getByText('Nia lets “').waitFor();
  await page.locator('.needle').waitFor();
  await page.locator('.sent li', { hasText: 'click' }).first().waitFor();
  await phone.locator('#hold button').dispatchEvent('pointerdown', { button: 0, isPrimary: true });
  await page.locator('#vitals strong', { hasText: 'HELD' }).waitFor();
  await page.getByRole('button', { name: 'Let this phrase go round' }).waitFor();
  await page.getByRole('button', { name: 'Let this phrase go round' }).click();
  await page.locator('.refusals', { hasText: 'A hold stands, so nothing sounds' }).waitFor();
  await expect.poll(async () => (await kinds()).filter((kind) => kind === 'sound-test').length).toBe(2);
});

it('holds by Escape from within a field, and mutes for everybody', async () => {
  const page = await come('sound', 'Nia');
  await page.getByRole('button', { name: 'Mute all' }).click();
  await page.locator('.muting', { hasText: 'Nia has muted sound, MIDI and OSC' }).waitFor();
  await page.getByRole('button', { name: 'Let it be heard again' }).click();
  await page.getByRole('button', { name: 'Mute all' }).waitFor();
  await page.getByLabel('Speed (%)').focus();
  await page.keyboard.press('Escape');
  await page.locator('#vitals strong', { hasText: 'HELD' }).waitFor();
  expect((await kinds()).filter((kind) => kind === 'mute').length).toBe(2);
});

it('shows its devices on a laptop, to the liking of axe-core too', async () => {
  const page = await come('sound', 'Nia');
  const faults: string[] = [];
  page.on('pageerror', (fault) => faults.push(fault.message));
  page.on('console', (line) => line.type() === 'error' && faults.push(line.text()));
  await page.locator('.cues tbody tr').first().waitFor();
  await page.locator('summary', { hasText: 'Choose the loudspeakers' }).click();
  await page.getByRole('button', { name: 'Use these' }).scrollIntoViewIfNeeded();
  await shoot(page, 'sound-devices');
  expect(await complaints(page)).toEqual([]);
  expect(faults).toEqual([]);
});

async function shoot(page: Page, name: string): Promise<void> {
  const folder = process.env['HOLDFAST_SHOTS'];
  if (folder !== undefined) await page.screenshot({ path: join(folder, `${name}.png`) });
}
