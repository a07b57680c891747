// People at real pages of a real server, each in a browser of their own, with everything that goes over their lines.
import { readFile } from 'node:fs/promises';
import { join as pathOf } from 'node:path';
import { decode } from '@msgpack/msgpack';
import type { Browser, BrowserContext, BrowserContextOptions, Page, WebSocket } from 'playwright-core';
import type { Role, ToMember, ToServer } from '../../core/wire';
import { pageOf } from '../../ui/enter';
import type { House } from './server';

/** Somebody at a page. */
export interface Seat {
  page: Page;
  context: BrowserContext;
  said: ToServer[];
  heard: ToMember[];
}

/** A phone, as most are. */
export const PHONE = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true };
/** The desk's laptop. */
export const LAPTOP = { viewport: { width: 1_440, height: 900 } };
/** With HOLDFAST_PAGES=dist the pages are those of that folder, so that a change is tried without building the server. */
const PAGES = process.env['HOLDFAST_PAGES'];
/** A busy machine needs patience. */
const PATIENCE_MS = 25_000;

/** The people of a test, and the browser that they all use. */
export class Room {
  #seats: Seat[] = [];

  constructor(readonly browser: Browser) {}

  /** Somebody with a code sits down and joins. */
  async sit(
    house: Pick<House, 'link'>,
    role: Role,
    name: string,
    part?: string,
    more: BrowserContextOptions = {},
    first: (string | (() => void))[] = [],
  ): Promise<Seat> {
    const seat = await this.open({ ...(pageOf(role) === '/phone' ? PHONE : LAPTOP), ...more });
    for (const script of first) {
      await seat.page.addInitScript(typeof script === 'string' ? { content: script } : script);
    }
    await seat.page.goto(house.link(role));
    await join(seat, role, name, part);
    return seat;
  }

  /** A browser with an empty page, whose lines are listened to. */
  async open(options: BrowserContextOptions): Promise<Seat> {
    const context = await this.browser.newContext(options);
    context.setDefaultTimeout(PATIENCE_MS);
    if (PAGES !== undefined) await takePages(context, PAGES);
    const seat = listened(await context.newPage(), context);
    this.#seats.push(seat);
    return seat;
  }

  /** A stage manager and two performers. */
  async company(house: House): Promise<{ desk: Seat; alder: Seat; bryony: Seat }> {
    const desk = await this.sit(house, 'desk', 'Ines');
    const alder = await this.sit(house, 'performer', 'Lotte', 'ALDER');
    const bryony = await this.sit(house, 'performer', 'Yusuf', 'BRYONY');
    return { desk, alder, bryony };
  }

  /** Everybody goes home. */
  async clear(): Promise<void> {
    await Promise.all(this.#seats.map((seat) => seat.context.close()));
    this.#seats = [];
  }

  /** The browser too. */
  async close(): Promise<void> {
    await this.clear();
    await this.browser.close();
  }
}

/** Fills in the join page and waits until the person is in their part. */
export async function join({ page }: Seat, role: Role, name: string, part?: string): Promise<void> {
  await page.getByLabel('Your name').fill(name);
  if (part !== undefined) await page.getByRole('radio', { name: part }).check();
  await page.getByRole('button', { name: 'Join' }).click();
  await page.waitForURL(`**${pageOf(role)}`);
  await page.locator('#vitals', { hasText: 'Linked' }).waitFor();
}

/** Waits until a page says that the call stands there. */
export const shows = ({ page }: Seat, text: string) => page.locator('#vitals strong', { hasText: text }).waitFor();

/** What a page reported of its cues. */
export const fired = (seat: Seat) => seat.said.flatMap((message) => (message.kind === 'report' ? [message] : []));

/** A finger comes down on HOLD. */
export const pressHold = ({ page }: Seat) =>
  page.locator('#hold button').dispatchEvent('pointerdown', { button: 0, isPrimary: true, pointerId: 1 });

/** Lets go of the hold that stands. */
export async function release({ page }: Seat): Promise<void> {
  await page.getByRole('button', { name: 'Release …' }).first().click();
  await page.locator('.asked .main').first().click();
  await page.locator('#vitals strong').filter({ hasNotText: 'HELD' }).waitFor();
}

/** From nothing to a run that goes. */
export async function startARun(desk: Seat, phones: Seat[], percent = 100): Promise<void> {
  await desk.page.getByLabel('Speed (%)').fill(String(percent));
  await desk.page.getByRole('button', { name: 'Call places', exact: true }).click();
  await startFromPlaces(desk, phones);
}

/** From places to a run that goes. */
export async function startFromPlaces(desk: Seat, phones: Seat[]): Promise<void> {
  for (const phone of phones) await phone.page.getByRole('button', { name: 'I am ready' }).tap();
  await startAllTheSame(desk);
  for (const seat of [desk, ...phones]) await shows(seat, 'RUNNING');
}

// A fight in which the checks find errors takes a second press.
async function startAllTheSame({ page }: Seat): Promise<void> {
  const anyway = page.getByRole('button', { name: 'Start anyway …' });
  const start = page.getByRole('button', { name: 'Start the count-in' });
  const ready = page.getByText(/Everybody is ready|the checks found/);
  await ready.waitFor();
  if (await start.isVisible()) return start.click();
  const onlyErrors = (): boolean =>
    [...document.querySelectorAll('.start li')].every((each) => each.textContent?.includes('the checks found'));
  await page.waitForFunction(onlyErrors);
  await anyway.click();
  await page.getByRole('button', { name: 'Start all the same' }).click();
}

// The server's own headers stay: its policy is a part of what is tested.
async function takePages(context: BrowserContext, folder: string): Promise<void> {
  await context.route(/^https?:\/\/[^/]+\/(assets\/[^/]*|[a-z]*)(\?.*)?$/, async (route) => {
    const { pathname } = new URL(route.request().url());
    if (pathname.startsWith('/assets/')) return route.fulfill({ path: pathOf(folder, pathname) });
    const body = await readFile(pathOf(folder, `${pathname === '/' ? '/index' : pathname}.html`));
    return route.fulfill({ response: await route.fetch(), body });
  });
}

/** Somebody at that page, with everything that goes over its lines from now on. */
export function listened(page: Page, context: BrowserContext): Seat {
  const seat: Seat = { page, context, said: [], heard: [] };
  page.on('websocket', (line) => listen(line, seat));
  return seat;
}

function listen(line: WebSocket, seat: Seat): void {
  line.on('framesent', ({ payload }) => void seat.said.push(decode(payload as Buffer) as ToServer));
  line.on('framereceived', ({ payload }) => void seat.heard.push(decode(payload as Buffer) as ToMember));
}
