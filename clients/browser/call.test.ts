// A call with real pages on a real server: two phones and a desk, a run by the clock, a HOLD tapped on one of them.
import type { Browser, BrowserContext, Page, WebSocket } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, expect, it } from 'vitest';
import { decode } from '@msgpack/msgpack';
import type { Role, ToMember, ToServer } from '../core/wire';
import { startChromium } from './support/chromium';
import { House } from './support/server';

/** Somebody at a page, with everything that went over its line. */
interface Seat {
  page: Page;
  context: BrowserContext;
  said: ToServer[];
  heard: ToMember[];
}

let browser: Browser;
let house: House;
let seats: Seat[] = [];

beforeAll(async () => void (browser = await startChromium()));
afterAll(async () => browser.close());
beforeEach(async () => void (house = await House.open()));
afterEach(async () => {
  await Promise.all(seats.map((seat) => seat.context.close()));
  seats = [];
  await house.close();
});

const PHONE = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true };
const DESK = { viewport: { width: 1440, height: 900 } };

async function sit(role: Role, name: string, part?: string): Promise<Seat> {
  const context = await browser.newContext(role === 'desk' ? DESK : PHONE);
  context.setDefaultTimeout(15_000);
  const page = await context.newPage();
  const seat: Seat = { page, context, said: [], heard: [] };
  page.on('websocket', (line) => listen(line, seat));
  await page.goto(house.link(role));
  await page.getByLabel('Your name').fill(name);
  if (part !== undefined) await page.getByRole('radio', { name: part }).check();
  await page.getByRole('button', { name: 'Join' }).click();
  await page.waitForURL(role === 'desk' ? '**/desk' : '**/phone');
  await page.locator('#vitals', { hasText: 'Linked' }).waitFor();
  seats.push(seat);
  return seat;
}

function listen(line: WebSocket, seat: Seat): void {
  line.on('framesent', ({ payload }) => void seat.said.push(decode(payload as Buffer) as ToServer));
  line.on('framereceived', ({ payload }) => void seat.heard.push(decode(payload as Buffer) as ToMember));
}

const shows = (seat: Seat, text: string) => seat.page.locator('#vitals strong', { hasText: text }).waitFor();
const fired = (seat: Seat) => seat.said.filter((message) => message.kind === 'report');

async function company(): Promise<{ desk: Seat; alder: Seat; bryony: Seat }> {
  const desk = await sit('desk', 'Ines');
  const alder = await sit('performer', 'Lotte', 'ALDER');
  const bryony = await sit('performer', 'Yusuf', 'BRYONY');
  return { desk, alder, bryony };
}

async function startARun(desk: Seat, phones: Seat[]): Promise<void> {
  await desk.page.getByLabel('Speed (%)').fill('100');
  await desk.page.getByRole('button', { name: 'Call places' }).click();
  for (const phone of phones) await phone.page.getByRole('button', { name: 'I am ready' }).tap();
  await desk.page.getByRole('button', { name: 'Start the count-in' }).click();
  for (const seat of [desk, ...phones]) await shows(seat, 'RUNNING');
}

it('stops both phones and the desk when one phone taps HOLD, and the log has it', async () => {
  const { desk, alder, bryony } = await company();
  await startARun(desk, [alder, bryony]);
  await alder.page.getByText('thrust belly').first().waitFor();
  await bryony.page.locator('#hold button').dispatchEvent('pointerdown', { button: 0, isPrimary: true });
  for (const seat of [desk, alder, bryony]) await shows(seat, 'HELD');
  await desk.page.getByText('Yusuf').first().waitFor();
  await desk.page.getByText('Salute and first attack').first().waitFor();
  await bryony.page.locator('#hold', { hasText: 'Written in the log' }).waitFor();

  const row = (await house.log()).find(({ kind }) => kind === 'hold');
  expect(row).toMatchObject({ who: 'Yusuf', role: 'performer', phrase: 'Salute and first attack', speed: 100, run: 1 });

  // Nothing is fired after the hold: the next beats' time passes, and no page reports a cue of that run.
  const reported = [alder, bryony].map((seat) => fired(seat).length);
  const held = [alder, bryony].map((seat) => seat.heard.find((message) => message.kind === 'held'));
  const generation = held[0]?.kind === 'held' ? held[0].generation : Number.NaN;
  await desk.page.waitForTimeout(2_500);
  expect([alder, bryony].map((seat) => fired(seat).length)).toEqual(reported);
  for (const seat of [alder, bryony]) {
    const after = seat.heard.slice(seat.heard.findIndex((message) => message.kind === 'held'));
    expect(after.filter((message) => message.kind === 'cue' && message.generation < generation)).toEqual([]);
  }

  // Released by the desk, with who called on the screen; nothing moves by itself.
  await desk.page.getByRole('button', { name: 'Release …' }).click();
  await desk.page.getByRole('button', { name: 'Everybody is safe: release' }).click();
  for (const seat of [desk, alder, bryony]) await shows(seat, 'STOPPED');
  const kinds = (await house.log()).map(({ kind }) => kind);
  expect(kinds.filter((kind) => kind === 'start')).toHaveLength(1);
  expect(kinds.indexOf('release')).toBeGreaterThan(kinds.indexOf('hold'));
});

it('obeys Escape at the desk, whatever the focus is on', async () => {
  const { desk, alder, bryony } = await company();
  await startARun(desk, [alder, bryony]);
  await desk.page.getByLabel('Speed from the next phrase').focus();
  await desk.page.keyboard.press('Escape');
  for (const seat of [desk, alder, bryony]) await shows(seat, 'HELD');
});

it('keeps what is typed at the desk while the state changes under it', async () => {
  const { desk } = await company();
  const speed = desk.page.getByLabel('Speed (%)');
  await speed.fill('12');
  const states = () => desk.heard.filter(({ kind }) => kind === 'state').length;
  const before = states();
  await sit('observer', 'Pim');
  await expect.poll(states).toBeGreaterThan(before);
  expect(await speed.inputValue()).toBe('12');
  await speed.pressSequentially('0');
  await desk.page.getByRole('button', { name: 'Call places' }).click();
  await shows(desk, 'PLACES');
  expect(desk.said.find(({ kind }) => kind === 'places')).toMatchObject({ percent: 120 });
});

it('starts nothing by the space bar', async () => {
  const { desk, alder, bryony } = await company();
  await desk.page.getByRole('button', { name: 'Call places' }).click();
  for (const phone of [alder, bryony]) await phone.page.getByRole('button', { name: 'I am ready' }).tap();
  const start = desk.page.getByRole('button', { name: 'Start the count-in' });
  await start.focus();
  await desk.page.keyboard.press('Space');
  await desk.page.waitForTimeout(500);
  expect(desk.said.filter(({ kind }) => kind === 'start')).toEqual([]);
  await desk.page.keyboard.press('Enter');
  await shows(desk, 'RUNNING');
});

it('says in big words that the link is lost, keeps a HOLD, and sends it when the server is back', async () => {
  const { desk, alder } = await company();
  const place = house.place;
  await house.stop('SIGKILL');
  await alder.page.getByText('NO LINK').first().waitFor();
  await alder.page.locator('#hold button').dispatchEvent('pointerdown', { button: 0, isPrimary: true });
  await alder.page.locator('#hold', { hasText: 'NOT TOLD' }).waitFor();
  await house.start(place);
  await shows(desk, 'NOTHING SET');
  await alder.page.locator('#vitals', { hasText: 'Linked' }).waitFor();
  const log = async () => (await house.log()).map(({ kind }) => kind);
  await expect
    .poll(log, { timeout: 10_000 })
    .toSatisfy((kinds: string[]) => kinds.some((kind) => kind.startsWith('hold')));
});

it('cues a page that was loaded anew in the middle of a run', async () => {
  const { desk, alder, bryony } = await company();
  await startARun(desk, [alder, bryony]);
  alder.heard.length = 0;
  await alder.page.reload();
  await shows(alder, 'RUNNING');
  await expect.poll(() => alder.heard.some((message) => message.kind === 'cue'), { timeout: 10_000 }).toBe(true);
});
