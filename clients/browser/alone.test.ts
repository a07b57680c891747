// A part that is played alone: on a linked phone, where anything that happens in the room is silence at once, and at home,
// from one file without a server or a network.
import { mkdtemp, readFile, rm, stat } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import type { SoundClips } from '../core/wire';
import { evenings } from './support/evening';
import { complaints, runsOut } from './support/judge';
import { pressHold, PHONE, shows, type Seat } from './support/seats';
import { House } from './support/server';

const evening = evenings(() => House.open());
let folder = '';

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'home-'));
});

afterAll(() => rm(folder, { recursive: true, force: true }));

interface Ear {
  /** Tones and sounds that were started, and that will still be heard. */
  started: number;
  sounding: Set<unknown>;
  spoken: string[];
  cancelled: number;
  /** Recordings that were read. */
  decoded: number;
  /** How many were still sounding when the task after a stop's own ran; one entry for each stop that came. */
  afterStop: number[];
}

declare global {
  interface Window {
    ear: Ear;
  }
}

// Runs in the page: listens to what sounds. A stop's frame is looked at by its bytes, before the page's own script sees it.
function listenIn(): void {
  const ear: Ear = { started: 0, sounding: new Set(), spoken: [], cancelled: 0, decoded: 0, afterStop: [] };
  window.ear = ear;
  // The hold's own call is another sound than what is listened for here.
  localStorage.setItem('holdfast.settings', JSON.stringify({ hold: 'off' }));
  const start = AudioScheduledSourceNode.prototype.start;
  const watch = function (this: AudioScheduledSourceNode, when?: number): void {
    ear.started += 1;
    ear.sounding.add(this);
    this.addEventListener('ended', () => ear.sounding.delete(this));
    start.call(this, when);
  };
  OscillatorNode.prototype.start = watch;
  AudioBufferSourceNode.prototype.start = watch;
  // What is cut off from the way to the loudspeaker is silent, however long it goes on by itself.
  const disconnect = AudioNode.prototype.disconnect as (this: AudioNode) => void;
  AudioNode.prototype.disconnect = function (this: AudioNode): void {
    if (this instanceof GainNode) ear.sounding.clear();
    disconnect.call(this);
  } as never;
  const decode = BaseAudioContext.prototype.decodeAudioData;
  BaseAudioContext.prototype.decodeAudioData = async function (this: BaseAudioContext, bytes: ArrayBuffer) {
    const buffer = await decode.call(this, bytes);
    ear.decoded += 1;
    return buffer;
  };
  window.speechSynthesis.speak = (call) => void ear.spoken.push(call.text);
  window.speechSynthesis.cancel = () => void (ear.cancelled += 1);
  const Real = window.WebSocket;
  window.WebSocket = class extends Real {
    constructor(address: string | URL) {
      super(address);
      this.addEventListener('message', ({ data }: MessageEvent<ArrayBuffer>) => {
        const text = new TextDecoder('latin1').decode(data.slice(0, 24));
        if (text.includes('\xa4kind\xa4stop')) setTimeout(() => ear.afterStop.push(ear.sounding.size));
      });
    }
  };
}

const heard = <T>(page: Page, ask: (ear: Ear) => T): Promise<T> =>
  page.evaluate(`(${ask.toString()})(window.ear)`) as Promise<T>;
const plays = (page: Page): Promise<unknown> => page.waitForFunction(() => window.ear.started > 3);
const open = ({ page }: Seat) => page.locator('.my-part > summary').tap();

async function companyWithEar() {
  const { room, house } = evening;
  const desk = await room.sit(house, 'desk', 'Ines');
  const alder = await room.sit(house, 'performer', 'Lotte', 'ALDER', {}, [listenIn]);
  // What computes the sounds gives way to everything else that the machine has to do.
  alder.context.setDefaultTimeout(100_000);
  const bryony = await room.sit(house, 'performer', 'Yusuf', 'BRYONY');
  return { desk, alder, bryony };
}

it('plays with click, sounds and calls, and is silent with a hold before anything else is done', async () => {
  const { alder, bryony } = await companyWithEar();
  const { page } = alder;
  await open(alder);
  await page.getByText('How it plays').tap();
  await page.getByRole('switch', { name: 'Calls: off' }).tap();
  expect(await complaints(page)).toEqual([]);
  await page.getByRole('button', { name: 'Play it' }).tap();
  await plays(page);
  await page.getByTestId('practice-count').waitFor();
  await page.locator('.playing .seat .move').first().waitFor();
  await page.waitForFunction(() => window.ear.spoken.length > 0);
  expect(await complaints(page)).toEqual([]);
  expect(await runsOut(page)).toEqual([]);
  const before = await heard(page, (ear) => ear.cancelled);
  await pressHold(bryony);
  await page.waitForFunction(() => window.ear.afterStop.length > 0);
  // The stop's own task has silenced it: there was nothing to wait for.
  expect(await heard(page, (ear) => ear.afterStop)).toEqual([0]);
  expect(await heard(page, (ear) => ear.cancelled)).toBeGreaterThan(before);
  await page.locator('.playing').waitFor({ state: 'detached' });
  // It stays so, also once the lookout for what comes next would have come round.
  const started = await heard(page, (ear) => ear.started);
  await page.waitForFunction((ms) => performance.now() > ms, (await page.evaluate(() => performance.now())) + 500);
  expect(await heard(page, (ear) => ear.started)).toBe(started);
});

it('is silent when places are called, and when its own person calls a hold', async () => {
  const { desk, alder } = await companyWithEar();
  const { page } = alder;
  await open(alder);
  await page.getByRole('button', { name: 'Play it' }).tap();
  await plays(page);
  await desk.page.getByRole('button', { name: 'Call places', exact: true }).click();
  await page.getByRole('button', { name: 'I am ready' }).waitFor();
  expect(await heard(page, (ear) => ear.sounding.size)).toBe(0);
  await open(alder);
  await page.getByRole('button', { name: 'Play it' }).tap();
  await page.locator('.playing').waitFor();
  await pressHold(alder);
  await page.locator('.playing').waitFor({ state: 'detached' });
  expect(await heard(page, (ear) => ear.sounding.size)).toBe(0);
});

it('never begins where a hold came while its sounds were fetched', async () => {
  const { alder, bryony } = await companyWithEar();
  const { page } = alder;
  const SOUNDS = '**/api/part/sounds';
  let letThemCome = (): void => undefined;
  const kept = new Promise<void>((go) => (letThemCome = go));
  await alder.context.route(SOUNDS, async (route) => {
    await kept;
    await route.continue();
  });
  await open(alder);
  const [asked] = await Promise.all([page.waitForRequest(SOUNDS), page.getByRole('button', { name: 'Play it' }).tap()]);
  await pressHold(bryony);
  await shows(alder, 'HELD');
  letThemCome();
  const { clips } = (await (await asked.response())?.json()) as SoundClips;
  expect(clips.length).toBeGreaterThan(0);
  await page.waitForFunction((all) => window.ear.decoded === all, clips.length);
  // It would begin with the next task, and look for what comes next many times meanwhile.
  await page.waitForFunction((ms) => performance.now() > ms, (await page.evaluate(() => performance.now())) + 500);
  expect(await heard(page, (ear) => ear.started)).toBe(0);
  expect(await page.locator('.playing').count()).toBe(0);
});

it('begins from a move, covers one’s own half until its beat, and plays again what was not known', async () => {
  const { alder } = await companyWithEar();
  const { page } = alder;
  await open(alder);
  await page.getByText('How it plays').tap();
  await page.getByRole('button', { name: 'None', exact: true }).tap();
  await page.getByRole('switch', { name: 'Cover my half until its beat: off' }).tap();
  for (let n = 0; n < 20; n += 1) await page.getByRole('button', { name: 'Faster' }).tap();
  await page.getByText('150 %').waitFor();
  // The second move of the first phrase: what I answer is not told before its beat.
  await page
    .getByRole('button', { name: /^From here/ })
    .nth(1)
    .tap();
  const coming = page.locator('.seat[data-solid=false]');
  const now = page.locator('.seat[data-solid=true]');
  await now.getByText('parry 5').waitFor();
  await page.getByRole('button', { name: 'I did not know it' }).tap();
  await coming.getByText(/What do you (do|answer)/).waitFor();
  expect(await coming.locator('.picture').count()).toBe(0);
  await page.getByText(/You knew \d of \d\./).waitFor();
  await page.getByRole('button', { name: 'Play what I did not know: 1' }).tap();
  await now.getByText('parry 5').waitFor();
  await page.locator('.playing').waitFor({ state: 'detached' });
  // It was known this time.
  expect(await page.getByRole('button', { name: /Play what I did not know/ }).count()).toBe(0);
  expect(await complaints(page)).toEqual([]);
});

/** Presses, and opens what is downloaded from the disk, where there is no network. */
async function takenHome({ page }: Seat, button: string): Promise<{ at: Page; asked: string[]; faults: string[] }> {
  const download = page.waitForEvent('download');
  await page.getByRole('button', { name: button }).tap();
  const file = join(folder, (await download).suggestedFilename());
  await (await download).saveAs(file);
  expect((await stat(file)).size).toBeLessThan(500_000);
  const seat = await evening.room.open({ ...PHONE, offline: true });
  const [asked, faults]: string[][] = [[], []];
  seat.page.on('request', (request) => request.url().startsWith('http') && asked?.push(request.url()));
  seat.page.on('pageerror', (fault) => faults?.push(fault.message));
  await seat.page.addInitScript(listenIn);
  await seat.page.goto(pathToFileURL(file).href);
  return { at: seat.page, asked: asked ?? [], faults: faults ?? [] };
}

it('goes home as one file, which reads, plays and asks without a server', async () => {
  const { alder } = await companyWithEar();
  await open(alder);
  const { at, asked, faults } = await takenHome(alder, 'My part as a file');
  await at.getByRole('heading', { name: 'ALDER' }).waitFor();
  await at.getByText(/Revision [0-9a-f]{12}, made on/).waitFor();
  await at.getByText('This file hears no HOLD', { exact: false }).waitFor();
  await at.locator('.phrase .picture').nth(5).waitFor();
  expect(await at.locator('.phrase .move').count()).toBe(6);
  expect(await complaints(at)).toEqual([]);
  expect(await runsOut(at)).toEqual([]);
  await at.getByRole('button', { name: 'Play it' }).tap();
  await plays(at);
  // Sounds too, not the click alone.
  await at.waitForFunction(() => [...window.ear.sounding].some((node) => node instanceof AudioBufferSourceNode));
  await at.getByRole('button', { name: 'Stop' }).tap();
  expect(await heard(at, (ear) => ear.sounding.size)).toBe(0);
  await at.getByRole('button', { name: 'Ask me: 6 moves' }).tap();
  await at.getByRole('button', { name: 'Show it' }).tap();
  await at.locator('.ask-me .picture').waitFor();
  expect(await complaints(at)).toEqual([]);
  expect([asked, faults]).toEqual([[], []]);
});

it('goes home for everybody in one file, and says so where scripts do not run', async () => {
  const { alder } = await companyWithEar();
  await open(alder);
  const { at, faults } = await takenHome(alder, 'Everybody’s as one file');
  await at.getByLabel('Whose part?').selectOption('BRYONY');
  await at.getByRole('heading', { name: 'BRYONY' }).waitFor();
  await at.getByRole('button', { name: 'Ask me: 6 moves' }).waitFor();
  expect(faults).toEqual([]);
  const plain = await evening.room.open({ ...PHONE, javaScriptEnabled: false });
  await plain.page.goto(at.url());
  await plain.page.getByText('Open this file in a browser', { exact: false }).waitFor();
  await plain.page.getByText('Beat 3: BRYONY cut head / ALDER parry 5').waitFor();
  const text = await readFile(new URL(at.url()), 'utf8');
  expect(text).not.toMatch(/https?:\/\/(?!www\.w3\.org)/);
});
