// What a page weighs on the way to a phone, compressed, and how soon something is on its glass over a slow link. The
// server sends plain bytes; gzip stands for what the issue counts in.
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { TAGS } from '../core/words/languages';
import { openHouse, type House } from './support/house';
import { memberOf, pretend, state } from './support/pretend';

const dist = join(import.meta.dirname, '../dist');
const PAGES = readdirSync(dist).filter((file) => file.endsWith('.html'));
let house: House;

beforeAll(async () => {
  house = await openHouse();
});
afterAll(() => house.close());

/** The files of languages, of which a page fetches one at most. */
const LANGUAGE = new RegExp(`^assets/(${TAGS.join('|')})-`);

it.each(PAGES)('%s with everything it loads is under 100 kB', (page) => {
  const wanted = new Set<string>();
  const follow = (file: string): void => {
    if (wanted.has(file)) return;
    wanted.add(file);
    const text = readFileSync(join(dist, file), 'utf8');
    for (const [, name] of text.matchAll(/(?:assets\/|\.\/)([\w.-]+\.(?:js|css))/g)) follow(`assets/${name}`);
  };
  follow(page);
  const weigh = (file: string): number => gzipSync(readFileSync(join(dist, file))).length;
  const files = [...wanted];
  const languages = files.filter((file) => LANGUAGE.test(file));
  const bytes =
    files.reduce((sum, file) => sum + weigh(file), 0) - languages.reduce((sum, file) => sum + weigh(file), 0);
  const language = Math.max(0, ...languages.map(weigh));
  const kB = (some: number): string => `${(some / 1024).toFixed(1)} kB`;
  console.info(
    `${page}: ${kB(bytes)} gz in ${files.length - languages.length} files, another language ${kB(language)}`,
  );
  expect(languages.length).toBe(TAGS.length - 1);
  expect(bytes + language).toBeLessThan(100 * 1024);
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
    const paint = await page.evaluate(() => performance.getEntriesByName('first-contentful-paint')[0]?.startTime);
    console.info(`first contentful paint: ${paint?.toFixed(0)} ms`);
    expect(paint).toBeDefined();
  } finally {
    await context.close();
  }
});
