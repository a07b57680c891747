// Pages in bad weather: a network with delay, jitter and loss, a reload in every state of a call, and a night that lasts
// eight hours on the page's own clocks.
import type { BrowserContext, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, expect, it } from 'vitest';
import { startChromium } from './support/chromium';
import { intoTheNight, lived } from './support/night';
import { PoorNetwork } from './support/poor-network';
import { memberOf } from './support/pretend';
import { score } from './support/score';
import { fired, PHONE, pressHold, Room, shows, startARun, startFromPlaces, type Seat } from './support/seats';
import { House } from './support/server';

let house: House;
let room: Room;
let network: PoorNetwork | null = null;

beforeAll(async () => {
  room = new Room(await startChromium());
});
afterAll(() => room.close());
beforeEach(async () => {
  house = await House.open({ score: score(120, 400) });
});
afterEach(async () => {
  await room.clear();
  await network?.close();
  network = null;
  await house.close();
});

it('over a network with delay, jitter and loss, cues come in time and a HOLD comes through', async () => {
  network = await PoorNetwork.open(house, { delayMs: 30, jitterMs: 40, loss: 0.03, seed: 7 });
  const desk = await room.sit(house, 'desk', 'Ines');
  const near = await room.sit(house, 'performer', 'Lotte', 'ALDER');
  const far = await room.sit(network, 'performer', 'Yusuf', 'BRYONY');
  await startARun(desk, [near, far]);
  await expect.poll(() => fired(far).length, { timeout: 25_000 }).toBeGreaterThan(8);
  // The wire was late, up to half a second; what waited for its time on the page's own clock was not.
  const cues = new Map(far.heard.flatMap((message) => (message.kind === 'cue' ? [[message.cue, message]] : [])));
  expect(cues.size).toBeGreaterThan(8);
  expect(fired(far).every((report) => report.fired_us !== null)).toBe(true);

  await pressHold(far);
  for (const seat of [desk, near, far]) await shows(seat, 'HELD');
  await far.page.locator('#hold', { hasText: 'Written in the log' }).waitFor();
  const told = far.said.length;
  expect((await house.log()).filter(({ kind }) => kind === 'hold')).toHaveLength(1);
  expect(far.said.slice(told).filter(({ kind }) => kind === 'report')).toEqual([]);
});

it('a reload in any state finds that state again, and HOLD with it', async () => {
  const { desk, alder, bryony } = await room.company(house);
  const captain = await room.sit(house, 'captain', 'Bram');
  const all = [desk, alder, bryony, captain];
  await again(all, 'NOTHING SET');
  await desk.page.getByRole('button', { name: 'Call places', exact: true }).click();
  await again(all, 'PLACES');
  await startFromPlaces(desk, [alder, bryony]);
  await again(all, 'RUNNING');
  await pressHold(alder);
  await again(all, 'HELD');
  await captain.page.getByRole('button', { name: 'Release …' }).tap();
  await captain.page.getByRole('button', { name: 'Everybody is safe: release' }).tap();
  await again(all, 'STOPPED');
  expect((await house.log()).filter(({ kind }) => kind === 'hold' || kind === 'start')).toHaveLength(2);
});

// Eight hours of frames, on a faked clock: half a minute on a quiet machine.
it('a night of eight hours leaves a page as light as it was', async () => {
  const { page, context } = await room.open(PHONE);
  await intoTheNight(page, memberOf(3));
  await page.goto(`http://${house.place}/phone`);
  await page.clock.runFor(1_000);
  await page.locator('#vitals', { hasText: 'Linked' }).waitFor();
  const hour = async (): Promise<Weight> => {
    for (let half = 0; half < 2; half += 1) await page.clock.runFor(30 * 60 * 1_000);
    return weight(page, context);
  };
  const first = await hour();
  const before = await lived(page);
  let last = first;
  for (let hours = 1; hours < 8; hours += 1) last = await hour();
  const after = await lived(page);
  console.info(`after one hour ${first.bytes} bytes, ${first.nodes} nodes; after eight ${last.bytes}, ${last.nodes}`);
  expect(after.said).toBeGreaterThan(before.said + 2_000);
  expect(after.fired, 'every cue of the night was shown').toBeGreaterThan(after.said - 400);
  expect(last.nodes).toBeLessThan(first.nodes * 1.2 + 100);
  expect(last.bytes).toBeLessThan(first.bytes * 1.2 + 500_000);
}, 240_000);

async function again(seats: Seat[], state: string): Promise<void> {
  for (const seat of seats) {
    await shows(seat, state);
    await seat.page.reload();
    await shows(seat, state);
    await seat.page.locator('#vitals', { hasText: 'Linked' }).waitFor();
    expect(await seat.page.locator('#hold button').isEnabled()).toBe(true);
  }
}

interface Weight {
  bytes: number;
  nodes: number;
}

async function weight(page: Page, context: BrowserContext): Promise<Weight> {
  const devtools = await context.newCDPSession(page);
  await devtools.send('HeapProfiler.collectGarbage');
  const { usedSize } = await devtools.send('Runtime.getHeapUsage');
  const { nodes } = await devtools.send('Memory.getDOMCounters');
  await devtools.detach();
  return { bytes: usedSize, nodes };
}
