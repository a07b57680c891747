// A call with real pages on a real server: two phones and a desk, a run by the clock, a HOLD tapped on one of them. In the
// browser as people have it, windows and all; other files take its engine alone (support/chromium.ts).
import { afterAll, afterEach, beforeAll, beforeEach, expect, it } from 'vitest';
import type { Role } from '../core/wire';
import { startChromium } from './support/chromium';
import { fired, Room, type Seat, shows, startARun } from './support/seats';
import { House } from './support/server';

let house: House;
let room: Room;

beforeAll(async () => {
  room = new Room(await startChromium({ whole: true }));
});
afterAll(() => room.close());
beforeEach(async () => {
  // Everything as a new production has it, a bar of count-in too.
  house = await House.open({ countIn: null });
});
afterEach(async () => {
  await room.clear();
  // Whatever the evening was like, it can be played again to the states that everybody was told.
  const starts = await house.replay();
  await house.close();
  for (const { same_build, inputs, states, differs, failed } of starts) {
    expect({ same_build, differs, failed }).toEqual({ same_build: true, differs: null, failed: null });
    expect(Math.min(inputs, states)).toBeGreaterThan(0);
  }
});

const sit = (role: Role, name: string, part?: string) => room.sit(house, role, name, part);
const company = () => room.company(house);

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
  const kinds = async (): Promise<string[]> =>
    (await house.log()).map(({ kind }) => kind).filter((kind) => ['start', 'hold', 'release'].includes(kind));
  await expect.poll(kinds).toEqual(['start', 'hold', 'release']);
});

it('tries the hold: every page shows it, a phone that was touched sounds, and the desk reads who was reached', async () => {
  const { desk, alder, bryony } = await company();
  // A browser lets a page sound only once it was touched.
  await alder.page.locator('#vitals').tap();
  await alder.page.waitForFunction(
    () => document.querySelector('.settings')?.textContent?.includes('once the screen') !== true,
  );
  const shownTo = () =>
    Promise.all(
      [desk, alder, bryony].map((seat) => seat.page.locator('#sheet', { hasText: 'HOLD: A TRIAL' }).waitFor()),
    );
  await triesTheHold(desk, /3 of 3 answered, the slowest after/, shownTo);
  const answers = [alder, bryony].map((seat) => seat.said.filter((message) => message.kind === 'tried').at(-1));
  expect(answers[0]).toMatchObject({ shown: true, felt: true });
  expect(answers[1]).toMatchObject({ shown: true });
  for (const seat of [desk, alder, bryony]) await seat.page.locator('#sheet').waitFor({ state: 'hidden' });
  await shows(desk, 'NOTHING SET');
  expect((await house.log()).filter(({ kind }) => kind === 'hold')).toEqual([]);

  // A phone that is out of sight is named.
  await bryony.page.evaluate(() => {
    Object.defineProperty(document, 'visibilityState', { configurable: true, get: () => 'hidden' });
  });
  await triesTheHold(desk, /Page not in sight: Yusuf\./);
});

// A machine that stands still for a second answers too late, and the result says so: whoever tries then tries again.
async function triesTheHold(desk: Seat, wanted: RegExp, meanwhile: () => Promise<unknown> = () => Promise.resolve()) {
  const results = async () =>
    (await house.log()).flatMap(({ kind, detail }) => (kind === 'check' ? [detail?.note ?? ''] : []));
  const before = (await results()).length;
  for (let times = 1; times <= 4; times += 1) {
    await desk.page.getByRole('button', { name: 'Try the hold' }).click();
    await meanwhile();
    await expect.poll(async () => (await results()).length, { timeout: 20_000 }).toBe(before + times);
    if (wanted.test((await results()).at(-1) ?? '')) return desk.page.getByText(wanted).waitFor();
    await desk.page.locator('#sheet').waitFor({ state: 'hidden' });
  }
  throw new Error(`no trial came out as ${wanted}: ${(await results()).join(' | ')}`);
}

it('obeys Escape at the desk, whatever the focus is on', async () => {
  const { desk, alder, bryony } = await company();
  await startARun(desk, [alder, bryony]);
  await desk.page.getByLabel('Speed from the next phrase').focus();
  await desk.page.keyboard.press('Escape');
  for (const seat of [desk, alder, bryony]) await shows(seat, 'HELD');
});

it('keeps what is typed at the desk while what it shows changes under it', async () => {
  const { desk } = await company();
  const speed = desk.page.getByLabel('Speed (%)');
  await speed.fill('12');
  const changes = () => desk.heard.filter(({ kind }) => kind === 'subject').length;
  const before = changes();
  await sit('observer', 'Pim');
  await expect.poll(changes).toBeGreaterThan(before);
  expect(await speed.inputValue()).toBe('12');
  await speed.pressSequentially('0');
  await desk.page.getByRole('button', { name: 'Call places' }).click();
  await shows(desk, 'PLACES');
  expect(desk.said.find(({ kind }) => kind === 'places')).toMatchObject({ setup: { percent: 120 } });
});

it('starts nothing by the space bar', async () => {
  const { desk, alder, bryony } = await company();
  await desk.page.getByLabel('Speed (%)').fill('150');
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
  await alder.page.locator('#sheet', { hasText: 'NO LINK' }).waitFor();
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
