// The score page on a real server: a director and a stage manager who write, read and settle, with hands and with keys
// alone; what is typed is checked, what is saved is on the disk, and nothing that either of them wrote is lost.
import axe from 'axe-core';
import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { Role } from '../core/wire';
import { startChromium } from './support/chromium';
import { House } from './support/server';

/** Long enough for a machine on which several other things run. */
const PATIENCE = 45_000;

let browser: Browser;
let house: House;
let contexts: BrowserContext[] = [];

beforeAll(async () => void (browser = await startChromium()));
afterAll(async () => browser.close());
beforeEach(async () => void (house = await House.open()));
afterEach(async () => {
  await Promise.all(contexts.map((context) => context.close()));
  contexts = [];
  await house.close();
});

const file = (): string => join(house.production, 'scores/first-steps.fight');
const onDisk = (): Promise<string> => readFile(file(), 'utf8');

async function sit(role: Role, name: string, viewport = { width: 1440, height: 900 }): Promise<Page> {
  const context = await browser.newContext({ viewport });
  context.setDefaultTimeout(PATIENCE);
  contexts.push(context);
  const page = await context.newPage();
  await page.goto(house.link(role));
  await page.getByLabel('Your name').fill(name);
  await page.getByRole('button', { name: 'Join' }).click();
  await page.locator('#vitals', { hasText: 'Linked' }).waitFor();
  if (role !== 'director') await page.goto(`http://${house.place}/score`);
  await page.locator('.findings', { hasText: 'Nothing found' }).waitFor();
  return page;
}

const text = (page: Page) => page.getByLabel('The text of the score');
const said = (page: Page, words: string) => page.locator('.told', { hasText: words }).waitFor();

/** Selects some words of the text, as a hand would, and types others in their place. */
async function retype(page: Page, from: string, to: string): Promise<void> {
  await text(page).evaluate((area: HTMLTextAreaElement, words) => {
    const at = area.value.indexOf(words);
    if (at < 0) throw new Error(`the text has no “${words}”`);
    area.focus();
    area.setSelectionRange(at, at + words.length);
  }, from);
  await page.keyboard.type(to);
}

async function save(page: Page, why: string): Promise<void> {
  await page.getByLabel('Why is it changed?').fill(why);
  await page.getByRole('button', { name: 'Save' }).click();
}

async function violations(page: Page): Promise<unknown[]> {
  await page.evaluate(axe.source);
  return page.evaluate(async () => {
    const found = await (window as unknown as { axe: typeof axe }).axe.run(document, {
      runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa', 'best-practice'],
    });
    return found.violations.map(({ id, nodes }) => [id, nodes.map((node) => [node.html, node.failureSummary])]);
  });
}

/** The choice of the revision that is in use, as the page lists it. */
const inUse = async (page: Page): Promise<string> =>
  (await page.getByLabel('Beside it').locator('option').filter({ hasText: 'slower' }).first().innerText()).trim();

describe('one who writes', () => {
  it('is told what is wrong under the line it is in, and no longer when it is mended', async () => {
    const page = await sit('director', 'Ana');
    expect(new URL(page.url()).pathname).toBe('/score');
    await retype(page, 'parry 4', 'pary 4');
    const peek = page.locator('.peek');
    await peek.waitFor();
    expect(await peek.innerText()).toMatch(/ERROR.*parry/s);
    const line = await text(page).evaluate((area: HTMLTextAreaElement) => {
      const row = area.getBoundingClientRect();
      return row.top + area.value.slice(0, area.selectionStart).split('\n').length * 24;
    });
    const box = await peek.boundingBox();
    expect(Math.abs((box?.y ?? 0) - line)).toBeLessThan(6);
    await page.locator('.findings button', { hasText: 'ERROR' }).first().waitFor();
    await retype(page, 'pary 4', 'parry 4');
    await page.locator('.findings', { hasText: 'Nothing found' }).waitFor();
    await peek.waitFor({ state: 'detached' });
  });

  it('saves with a reason: the file has it, the desk sees it, the log and the revisions say who and why', async () => {
    const page = await sit('director', 'Ana');
    const desk = await sit('desk', 'Ines');
    await desk.goto(`http://${house.place}/desk`);
    const before = await desk.getByText(/^revision [0-9a-f]{12}$/).innerText();
    await retype(page, 'tempo 60', 'tempo 54');
    await page.locator('.state', { hasText: 'not saved' }).waitFor();
    await page.getByRole('button', { name: 'Save' }).click();
    await said(page, 'Say why');
    await save(page, 'slower for the understudy');
    await said(page, 'Saved.');
    expect(await onDisk()).toContain('tempo 54');
    await page.locator('.state', { hasText: 'As saved' }).waitFor();
    await expect
      .poll(() => desk.getByText(/^revision [0-9a-f]{12}$/).innerText(), { timeout: PATIENCE })
      .not.toBe(before);
    const row = page.locator('.revisions button', { hasText: 'slower for the understudy' });
    await row.waitFor();
    expect(await row.innerText()).toMatch(/Ana.*in use/s);
    const log = await house.log();
    expect(log.filter(({ kind }) => kind === 'revision')).toMatchObject([
      { who: 'Ana', role: 'director', reason: 'slower for the understudy' },
    ]);
    await page.locator('.revisions button', { hasText: 'Found in the folder' }).click();
    const sides = page.getByRole('region', { name: 'Both texts, side by side' });
    const changed = sides.locator('tr[data-sign="changed"]');
    expect((await changed.innerText()).split(/\s+/).filter((word) => /^\d\d$/.test(word))).toEqual(['60', '54']);
    await page.getByText('One line differs.').waitFor();
    // What is typed meanwhile stands beside it, too; long stretches that are alike are opened with a touch.
    await retype(page, 'rest 2', 'rest 3');
    await page.getByText('2 lines differ.').waitFor();
    await page.getByLabel('Beside it').selectOption({ label: await inUse(page) });
    await page.getByText('One line differs.').waitFor();
    const folded = sides.getByRole('button', { name: /^Show .* alike$/ });
    await folded.first().click();
    expect(await violations(page)).toEqual([]);
  });

  it('begins a fight, a phrase and a pattern', async () => {
    const page = await sit('director', 'Ana');
    await page.getByRole('button', { name: 'New fight …' }).click();
    await page.getByLabel('What the fight is called').fill('The Rope Walk');
    await page.getByRole('button', { name: 'Begin it' }).click();
    await said(page, 'The Rope Walk is begun, in scores/the-rope-walk.fight.');
    await page.locator('.findings', { hasText: 'Nothing found' }).waitFor();
    for (const part of ['New phrase', 'New phrase', 'New pattern'])
      await page.getByRole('button', { name: part }).click();
    const now = await text(page).inputValue();
    for (const head of ['phrase "New phrase"', 'phrase "New phrase 2"', 'pattern "New pattern" for A, B'])
      expect(now).toContain(head);
    // What is begun is whole: nothing of it is an error.
    await page.locator('.findings', { hasNotText: 'Checking' }).waitFor();
    await expect.poll(() => page.locator('.findings').innerText()).toMatch(/0 errors, 0 warnings/);
    expect(await violations(page)).toEqual([]);
  });

  it('undoes what was done before the page was loaded again', async () => {
    const page = await sit('director', 'Ana');
    const before = await text(page).inputValue();
    await retype(page, 'tempo 60', 'tempo 54');
    await retype(page, 'rest 2', 'rest 4');
    const after = await text(page).inputValue();
    await page.reload();
    await page.locator('.state', { hasText: 'not saved' }).waitFor();
    expect(await text(page).inputValue()).toBe(after);
    await text(page).focus();
    for (let n = 0; n < 20 && (await text(page).inputValue()) !== before; n += 1)
      await page.keyboard.press('Control+z');
    expect(await text(page).inputValue()).toBe(before);
    await page.getByRole('button', { name: 'Redo' }).click();
    expect(await text(page).inputValue()).not.toBe(before);
    expect(await onDisk()).toBe(before);
  });

  it('hears and steps a phrase here alone, while nobody is called anywhere', async () => {
    const page = await sit('director', 'Ana');
    await page.getByRole('button', { name: 'Step on' }).click();
    await page.locator('.heard', { hasText: 'ALDER thrust belly / BRYONY parry 4' }).waitFor();
    const lines = (await text(page).inputValue()).split('\n');
    const attack = lines.findIndex((line) => line.includes('thrust belly'));
    const playing = page.locator('.playing');
    expect(await playing.evaluate((mark: HTMLElement) => mark.style.getPropertyValue('--line-no'))).toBe(
      String(attack),
    );
    await page.getByLabel('Speed (%)').fill('150');
    await page.getByRole('button', { name: 'Hear it' }).click();
    await page.locator('.heard', { hasText: 'to go' }).waitFor();
    await page.locator('.heard', { hasText: 'thrust belly' }).waitFor();
    await page.getByRole('button', { name: 'Silence' }).click();
    await page.getByRole('button', { name: 'Hear it' }).click();
    await page.locator('.heard', { hasText: 'to go' }).waitFor();
    await page.keyboard.press('Escape');
    await page.locator('.heard', { hasText: 'Something real is going on' }).waitFor();
    expect(await page.getByRole('button', { name: 'Hear it' }).isDisabled()).toBe(true);
    expect((await house.log()).some(({ kind }) => ['places', 'start', 'phrase'].includes(kind))).toBe(false);
  });

  it('does it all with keys: words offered, columns, reason, saving; and HOLD is Escape', async () => {
    const page = await sit('director', 'Ana');
    await text(page).focus();
    await page.keyboard.press('Control+End');
    await page.keyboard.type('  7 BRYONY c');
    await page.getByRole('option', { name: 'cut' }).waitFor();
    await page.keyboard.type('ut');
    await page.keyboard.type(' he');
    await page.getByRole('option', { name: 'head' }).waitFor();
    await page.keyboard.press('ArrowDown');
    expect(await text(page).getAttribute('aria-activedescendant')).toBe('score-offer-0');
    await page.keyboard.press('Enter');
    await page.keyboard.type(' / ');
    await page.keyboard.press('Control+Space');
    await page.getByRole('option', { name: 'ALDER' }).waitFor();
    await page.keyboard.press('Enter');
    await page.keyboard.type(' parry 5');
    await page.keyboard.press('Tab');
    await said(page, 'in columns');
    expect(await text(page).inputValue()).toContain('  7      BRYONY  cut head            / ALDER   parry 5');
    await page.keyboard.press('Tab');
    await expect.poll(() => page.evaluate(() => document.activeElement?.id)).toBe('score-why');
    await page.keyboard.type('one more');
    await page.keyboard.press('Enter');
    await said(page, 'Saved.');
    expect(await onDisk()).toContain('cut head            / ALDER   parry 5\n');
    // Escape closes the words that are offered, and holds when none are.
    await text(page).focus();
    await page.keyboard.press('Control+End');
    await page.keyboard.type('  9 ALDER c');
    await page.getByRole('option', { name: 'cut' }).waitFor();
    await page.locator('#hold', { hasText: 'Esc closes the words that are offered; Esc again stops' }).waitFor();
    await page.keyboard.press('Escape');
    await page.getByRole('option', { name: 'cut' }).waitFor({ state: 'detached' });
    await page.locator('#hold', { hasText: 'Esc, anywhere on this page, stops everything' }).waitFor();
    expect(await page.locator('#hold', { hasText: 'HELD' }).count()).toBe(0);
    await page.keyboard.press('Escape');
    await page.locator('#hold', { hasText: 'HELD' }).waitFor();
    await page.locator('#hold', { hasText: 'Written in the log' }).waitFor();
  });
});

describe('two who write', () => {
  it('in different lines: both are in', async () => {
    const ana = await sit('director', 'Ana');
    const ines = await sit('desk', 'Ines');
    await ana.locator('.state', { hasText: 'Ines (stage manager)' }).waitFor();
    await retype(ana, 'tempo 60', 'tempo 54');
    await retype(ines, 'rest 2', 'rest 4');
    await save(ana, 'slower');
    await said(ana, 'Saved.');
    await said(ines, 'Another revision is in use meanwhile, from Ana');
    await save(ines, 'the scene change');
    await said(ines, 'together with');
    const now = await onDisk();
    expect(now).toContain('tempo 54');
    expect(now).toContain('rest 4');
    expect(await text(ines).inputValue()).toBe(now);
    await expect.poll(() => text(ana).inputValue(), { timeout: PATIENCE }).toBe(now);
  });

  it('in the same line: both are shown, a person settles it, nothing is lost', async () => {
    const ana = await sit('director', 'Ana');
    const ines = await sit('desk', 'Ines');
    await retype(ana, 'tempo 60', 'tempo 54');
    await retype(ines, 'tempo 60', 'tempo 66');
    await save(ana, 'slower');
    await said(ana, 'Saved.');
    await save(ines, 'faster');
    const conflict = ines.getByRole('region', { name: 'Two of you changed the same lines' });
    await conflict.waitFor();
    expect(await conflict.innerText()).toMatch(/tempo 66.*From Ana.*tempo 54/s);
    expect(await onDisk()).toContain('tempo 54');
    expect(await text(ines).inputValue()).toContain('tempo 66');
    expect(await violations(ines)).toEqual([]);
    await conflict.getByRole('button', { name: 'Take yours' }).click();
    await conflict.getByRole('button', { name: 'Make this the draft' }).click();
    await conflict.waitFor({ state: 'detached' });
    await save(ines, 'agreed with Ana');
    await said(ines, 'Saved.');
    expect(await onDisk()).toContain('tempo 66');
    await ines.locator('.revisions button', { hasText: 'kept beside the score' }).waitFor();
    await ines.locator('.revisions button', { hasText: 'slower' }).waitFor();
  });
});

it('whoever only reads cannot write, sees what is saved, and has HOLD', async () => {
  const reader = await sit('observer', 'Ola', { width: 768, height: 1024 });
  expect(await text(reader).isEditable()).toBe(false);
  expect(await reader.getByRole('button', { name: 'Save' }).count()).toBe(0);
  await writeFile(file(), (await onDisk()).replace('tempo 60', 'tempo 48'));
  await expect.poll(() => text(reader).inputValue(), { timeout: PATIENCE }).toContain('tempo 48');
  expect(await violations(reader)).toEqual([]);
  await reader.locator('#hold button').dispatchEvent('pointerdown', { button: 0, isPrimary: true });
  await reader.locator('#hold', { hasText: 'HELD' }).waitFor();
});

// Pictures for whoever changes the look: SCORE_LOOKS names a folder.
const looks = process.env['SCORE_LOOKS'];
it.runIf(looks !== undefined)(
  'is looked at',
  async () => {
    for (const scheme of ['dark', 'light'] as const) {
      for (const viewport of [
        { width: 1440, height: 900 },
        { width: 768, height: 1024 },
      ]) {
        const page = await sit('director', `Ana ${scheme} ${viewport.width}`, viewport);
        await page.emulateMedia({ colorScheme: scheme });
        await expect.poll(() => text(page).inputValue(), { timeout: PATIENCE }).toContain('tempo 60');
        await retype(page, 'parry 4', 'pary 4');
        await page.locator('.peek').waitFor();
        await page.screenshot({ path: join(looks ?? '', `score-finding-${scheme}-${viewport.width}.png`) });
        await retype(page, 'pary 4', 'parry 4');
        await page.locator('.peek').waitFor({ state: 'detached' });
        await page.getByRole('button', { name: 'Step on' }).click();
        await page.keyboard.press('Control+End');
        await text(page).focus();
        await page.keyboard.press('Control+End');
        await page.keyboard.type('  7 BRYONY c');
        await page.locator('.offers').waitFor();
        await page.screenshot({ path: join(looks ?? '', `score-offer-${scheme}-${viewport.width}.png`) });
        await page.keyboard.type('ut head / ALDER parry 5');
        await retype(page, 'tempo 60', 'tempo 66');
        const now = await onDisk();
        await writeFile(file(), now.replace('tempo 60', 'tempo 54'));
        await save(page, 'faster');
        await page.locator('.conflict').waitFor();
        await page.screenshot({ path: join(looks ?? '', `score-conflict-${scheme}-${viewport.width}.png`) });
        await writeFile(file(), now);
        await page.getByRole('button', { name: 'Go on writing' }).click();
      }
    }
  },
  240_000,
);
