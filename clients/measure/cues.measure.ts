// Due against fired, for what is seen (the frame that shows it), heard (the audio clock) and felt (the call that shakes),
// measured in the page and apart from the page's own code: a spy keeps its own clock exchanges with the server and reads
// the server's cues off the wire. Figures, printed; machines differ, so nothing is asserted but that there were enough.
// `npm run measure`; HOLDFAST_CUES sets how many cues.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { afterAll, afterEach, beforeAll, expect, it } from 'vitest';
import { startChromium } from '../browser/support/chromium';
import { PoorNetwork } from '../browser/support/poor-network';
import { Room, startARun, type Seat } from '../browser/support/seats';
import { House } from '../browser/support/server';
import { score } from '../browser/support/score';
import { spy, type Seen } from './spy';

const CUES = Number(process.env['HOLDFAST_CUES'] ?? 500);
const msgpack = readFileSync(
  createRequire(import.meta.url)
    .resolve('@msgpack/msgpack')
    .replace(/dist[^/]*\/.*$/, 'dist.umd/msgpack.min.js'),
  'utf8',
);
let room: Room;
let house: House | null = null;
let network: PoorNetwork | null = null;

beforeAll(async () => {
  room = new Room(await startChromium({ whole: true }));
});
afterEach(async () => {
  await room.clear();
  await network?.close();
  await house?.close();
});
afterAll(() => room.close());

/** 30 to 70 ms each way, and every thirtieth write lost. */
const POOR = { delayMs: 30, jitterMs: 40, loss: 0.03, seed: 7 };

it.each([
  ['a quiet phone', 1, null],
  ['a phone four times slower', 4, null],
  ['a poor network', 1, POOR],
])('%s', async (name, slower, poor) => {
  house = await House.open({ score: score(140, CUES + 8) });
  const desk = await room.sit(house, 'desk', 'Ines');
  const bryony = await room.sit(house, 'performer', 'Yusuf', 'BRYONY');
  network = poor === null ? null : await PoorNetwork.open(house, poor);
  const alder = await room.sit(network ?? house, 'performer', 'Lotte', 'ALDER', {}, [msgpack, spy]);
  await alder.page.getByRole('switch', { name: 'Click on this phone' }).tap();
  await alder.page.getByRole('group', { name: 'Vibration' }).getByRole('button', { name: 'moves', exact: true }).tap();
  await throttle(alder, slower);
  await startARun(desk, [alder, bryony], 150);
  const measured = () => alder.page.evaluate(() => (window as unknown as { spied(): Seen }).spied());
  await expect
    .poll(async () => (await measured()).seen.length, { timeout: 400_000, interval: 2_000 })
    .toBeGreaterThan(CUES - 8);
  const { seen, heard, felt } = await measured();
  for (const [sense, errors] of Object.entries({ seen, heard, felt })) {
    console.info(
      `${name}, ${sense}: ${errors.length} cues, p50 ${at(errors, 0.5)} ms, p99 ${at(errors, 0.99)} ms late`,
    );
  }
  expect(heard.length).toBeGreaterThan(CUES / 2);
});

async function throttle({ page, context }: Seat, rate: number): Promise<void> {
  const devtools = await context.newCDPSession(page);
  await devtools.send('Emulation.setCPUThrottlingRate', { rate });
}

function at(errors: number[], share: number): string {
  const sorted = [...errors].sort((one, other) => one - other);
  return (sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))] ?? Number.NaN).toFixed(2);
}
