// What a page weighs on the way to a device, as the server sends it to a browser of today (brotli, the file that the build has
// laid beside each), and how soon something is on its glass over a slow link. Counted is what a page fetches by itself,
// from nothing set to a hold; what somebody opens comes then.
import { existsSync, statSync } from 'node:fs';
import { join } from 'node:path';
import type { Request } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import type { Role, Stage } from '../core/wire';
import { TAGS } from '../core/words/languages';
import { openHouse, type House } from './support/house';
import { hold, memberOf, pretend, run, setUp, state } from './support/pretend';

const dist = join(import.meta.dirname, '../dist');
/** The most that a page may weigh, bytes; and a language besides English. */
const MOST = 60_000;
const MOST_LANGUAGE = 13_500;
const PAGES: [string, Role | null][] = [
  ['index', null],
  ['join', null],
  ['phone', 'performer'],
  ['phone', 'captain'],
  ['desk', 'desk'],
  ['score', 'director'],
  ['sound', 'sound'],
  ['review', 'observer'],
];
let house: House;

beforeAll(async () => {
  house = await openHouse();
});
afterAll(() => house.close());

const weigh = (file: string): number => {
  const packed = join(dist, `${file}.br`);
  return statSync(existsSync(packed) ? packed : join(dist, file)).size;
};

// Every file of the house that a page asks for before anybody touches it.
async function fetched(name: string, role: Role | null, locale: string): Promise<string[]> {
  const context = await house.browser.newContext({ locale });
  try {
    const page = await context.newPage();
    const files = new Set<string>();
    const coming = new Set<string>();
    const fileOf = (request: Request): string => new URL(request.url()).pathname.slice(1);
    page.on('request', (request) => {
      const file = fileOf(request);
      if (file === '' || !existsSync(join(dist, file))) return;
      files.add(file);
      coming.add(file);
    });
    page.on('requestfinished', (request) => coming.delete(fileOf(request)));
    const here = () => expect.poll(() => [...coming]).toEqual([]);
    const who = role === null ? null : { ...memberOf(role === 'performer' ? 3 : 1), role };
    const line = who === null ? null : await pretend(page, who, state, null);
    await page.goto(`${house.home}${name}.html`);
    // What is drawn has all that it is drawn by.
    await page.locator('#page > *').first().waitFor({ state: 'attached' });
    await here();
    for (const stage of who === null ? [] : (['places', 'running', 'held', 'stopped'] satisfies Stage[])) {
      const generation = stage === 'held' ? 5 : stage === 'stopped' ? 6 : 4;
      const held = stage === 'held' ? { hold, spot: hold.spot } : {};
      line?.say({ kind: 'run', ...run });
      line?.say({
        kind: 'state',
        ...state,
        ...setUp,
        stage,
        generation,
        ...held,
        now_us: Math.round(performance.now() * 1_000),
      });
      await page.locator(`body[data-stage="${stage}"]`).waitFor();
      await here();
    }
    return [...files];
  } finally {
    await context.close();
  }
}

it.each(PAGES)('%s, for a %s, is 60 kB at the most', async (name, role) => {
  const others = TAGS.filter((tag) => tag !== 'en');
  const inOthers: string[][] = [];
  for (const tag of others) inOthers.push(await fetched(name, role, tag));
  const isLanguage = (file: string): boolean => others.some((tag) => file.startsWith(`assets/${tag}-`));
  // What a page fetches by and by may come before or after what is looked at: everything that it ever did is weighed.
  const all = new Set([...(await fetched(name, role, 'en')), ...inOthers.flat()]);
  const english = [...all].filter((file) => !isLanguage(file));
  const sum = (files: string[]): number => files.reduce((all, file) => all + weigh(file), 0);
  const kB = (bytes: number): string => `${(bytes / 1_000).toFixed(1)} kB`;
  const said = english.map((file) => `${file.replace(/^assets\/|-[\w-]{8}(?=\.)/g, '')} ${kB(weigh(file))}`);
  console.info(`${name} (${role}): ${kB(sum(english))} in ${english.length} files: ${said.join(', ')}`);
  expect(english.filter((file) => file.endsWith('.js')).length).toBeGreaterThan(1);
  expect(sum(english)).toBeLessThan(MOST);
  for (const [n, tag] of others.entries()) {
    const more = (inOthers[n] ?? []).filter(isLanguage);
    console.info(`${name} (${role}): ${kB(sum(more))} more in ${tag}`);
    expect(more, tag).toHaveLength(1);
    expect(sum(more), tag).toBeLessThan(MOST_LANGUAGE);
  }
});

it('the file for home, without a part in it, is no more with every language that it carries', () => {
  console.info(`home: ${(weigh('home.html') / 1_000).toFixed(1)} kB`);
  expect(weigh('home.html')).toBeLessThan(MOST + (TAGS.length - 1) * MOST_LANGUAGE);
});

it('the phone page paints within a second over a slow link', async () => {
  const context = await house.browser.newContext({ viewport: { width: 360, height: 740 } });
  try {
    const page = await context.newPage();
    await pretend(page, memberOf(3), state, null);
    const devtools = await context.newCDPSession(page);
    await devtools.send('Network.enable');
    // 3G as Chromium's own tools have it, "fast": 1.44 Mbit/s, but half of its 150 ms, as on a crowded wireless network.
    const link = { offline: false, latency: 75, downloadThroughput: 180_000, uploadThroughput: 84_375 };
    await devtools.send('Network.emulateNetworkConditions', link);
    await page.goto(`${house.home}phone.html`);
    await page.locator('#hold button').waitFor();
    // It is noted with the frame after it.
    const paint = await page.waitForFunction(
      () => performance.getEntriesByName('first-contentful-paint')[0]?.startTime,
    );
    console.info(`first contentful paint: ${(await paint.jsonValue())?.toFixed(0)} ms`);
  } finally {
    await context.close();
  }
});
