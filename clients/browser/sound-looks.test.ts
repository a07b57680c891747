// Every state of the sound page, put on a screen and judged by axe-core (WCAG 2.2 A, AA and the AAA contrast) and by a
// ruler: HOLD is there and uncovered, and nothing runs out of the screen. With HOLDFAST_SHOTS=DIR it leaves pictures.
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { LoopView, MemberView, OutputView, RunSheet, SoundNow, SpeakersView, State } from '../core/wire';
import { openHouse, type House } from './support/house';
import { complaints } from './support/judge';
import { hold, pretend, run, setUp, state, type Line } from './support/pretend';

let house: House;

beforeAll(async () => void (house = await openHouse()));
afterAll(() => house.close());

const nia: MemberView = {
  member: 6,
  name: 'Nia Adeyemi-Kowalczyk',
  role: 'sound',
  part: null,
  link: 'linked',
  ready: false,
  joined: '2026-03-01T18:10:00Z',
  device: 'iPad',
  notes_taken: true,
  claims: null,
};
const FIGHT = 'The Salt Stair';

const speakers: SpeakersView = {
  well: true,
  says: 'Sound goes to “USB Audio, Analogue Stereo” at 48000 Hz in buffers of 1024 frames.',
  device: 'USB Audio, Analogue Stereo',
  rate: 48_000,
  buffer: 1_024,
  device_us: 42_700,
  calibrated_us: 12_000,
  air_us: 29_140,
  whole_us: 83_840,
  left_us: 300,
  judgement: 'in-time',
  sounded: 1_284,
  late: 0,
  silenced: 4,
  dropped: 0,
  underruns: 0,
  peak_db: -9.4,
  rms_db: -21.7,
};
const midi: OutputView = { well: true, says: 'MIDI goes to USB MIDI Interface 1.', sent: 40_211, late: 2, lost: 0 };
const osc: OutputView = { well: true, says: 'OSC goes to 192.168.1.30:9000.', sent: 912, late: 0, lost: 0 };
const sent = (['speakers', 'midi', 'osc', 'speakers'] as const).map((output, n) => ({
  output,
  label: ['heavy-steel', 'note 10 53', '/holdfast/sound steel', 'body-fall'][n] ?? '',
  due_us: 1_000_000 - n * 400_000,
  late_us: [300, 1_900, 0, -900][n] ?? 0,
  audible: true,
}));
const usual: SoundNow = {
  now_us: 1_000_000,
  muted_by: null,
  off: [],
  prepared: true,
  looping: null,
  speakers,
  midi,
  osc,
  sent,
};
const looping: LoopView = { fight: FIGHT, phrase: 0, percent: 60, start_us: 0, length_us: 8_000_000, by: nia.name };
const silent: SpeakersView = {
  ...speakers,
  well: false,
  says: 'No sound: the sound device “USB Audio, Analogue Stereo” is gone. Everything else goes on; plug in or choose a sound device, it is found by itself within ten seconds.',
  device: '',
  buffer: 0,
  device_us: 0,
  whole_us: 41_140,
  left_us: null,
  underruns: 3,
  peak_db: -120,
  rms_db: -120,
};

interface Look {
  name: string;
  now: State;
  sheet: RunSheet | null;
  sound: SoundNow;
  /** What must then be on the page. */
  shows: string;
  lost?: boolean;
}

const running: State = { ...state, ...setUp, stage: 'running' };
const held: State = { ...running, stage: 'held', generation: 5, hold, spot: hold.spot };
const LOOKS: Look[] = [
  { name: 'idle', now: state, sheet: null, sound: usual, shows: 'NOTHING SET' },
  { name: 'places', now: { ...state, ...setUp, stage: 'places' }, sheet: run, sound: usual, shows: 'PLACES' },
  { name: 'running', now: running, sheet: { ...run, start_us: 0 }, sound: usual, shows: 'RUNNING' },
  { name: 'held', now: held, sheet: run, sound: usual, shows: 'HELD' },
  { name: 'muted', now: state, sheet: null, sound: { ...usual, muted_by: 'Runa Feld' }, shows: 'NOTHING SET' },
  { name: 'looping', now: state, sheet: null, sound: { ...usual, looping }, shows: 'NOTHING SET' },
  { name: 'no-device', now: state, sheet: null, sound: { ...usual, speakers: silent, sent: [] }, shows: 'NOTHING SET' },
  { name: 'lost', now: running, sheet: run, sound: usual, shows: 'RUNNING', lost: true },
];

// Between the two layouts, on a tablet, what fills the page most.
const FULLEST = LOOKS.filter(({ name }) => ['held', 'looping', 'no-device'].includes(name));
const SCREENS = [
  { width: 360, height: 740, looks: LOOKS },
  { width: 768, height: 1_024, looks: FULLEST },
  { width: 1_440, height: 900, looks: LOOKS },
];

describe.each(SCREENS)('the sound page at $width × $height', ({ width, height, looks }) => {
  it.each(looks)('$name', async (look) => {
    const context = await house.browser.newContext({ viewport: { width, height }, colorScheme: 'dark' });
    try {
      const page = await context.newPage();
      const faults: string[] = [];
      page.on('pageerror', (fault) => faults.push(fault.message));
      page.on('console', (line) => line.type() === 'error' && faults.push(line.text()));
      const line = await pretend(page, nia, look.now, look.sheet);
      await page.goto(`${house.home}sound.html`);
      await page.locator('#vitals strong', { hasText: look.shows }).waitFor();
      tell(line, look.sound);
      await page.locator('.cues tbody tr').first().waitFor();
      await page.locator('.outputs h3').first().waitFor();
      if (look.lost === true) {
        line.stall();
        await page.locator('#sheet', { hasText: 'NO LINK' }).waitFor();
      }
      await shoot(page, `sound-${look.name}-${width}-dark`);
      await holdIsThere(page, height);
      await nothingRunsOut(page, width);
      expect(await complaints(page)).toEqual([]);
      await page.emulateMedia({ colorScheme: 'light' });
      await shoot(page, `sound-${look.name}-${width}-light`);
      expect(await complaints(page)).toEqual([]);
      if (process.env['HOLDFAST_SHOTS'] !== undefined) {
        await page.locator('#page').evaluate((body) => body.scrollTo(0, body.scrollHeight));
        await shoot(page, `sound-${look.name}-${width}-low`);
      }
      expect(faults).toEqual([]);
    } finally {
      await context.close();
    }
  });
});

/** What a server tells the page once it watches: sounds, cues, and how the outputs are. */
function tell(line: Line, now: SoundNow): void {
  const view = {
    takes: 5,
    recorded: false,
    trim_us: 0,
    attack_us: 3_000,
    gain_db: 0,
    choke: null,
    who: null,
    when: null,
  };
  const chosen = { trim_us: -12_000, gain_db: -3.5, who: 'Runa Feld', when: '2026-03-01T19:30:00Z' };
  const sounds = [
    { ...view, ...chosen, sound: 'steel' },
    { ...view, ...chosen, sound: 'bodyfall-on-the-wet-boards-of-the-quay', recorded: true, takes: 1 },
    { ...view, sound: 'scrape' },
  ];
  const cue = { known: true, score_trim_us: 20_000, level_db: -3, move: 1 };
  const words = 'MARET feint head, thrust belly with a lunge / OSK counter-parry 4 and step back';
  const cues = [
    { ...cue, sound: 'steel', beat: '1', at_us: 20_000, words },
    { ...cue, sound: 'bodyfall-on-the-wet-boards-of-the-quay', beat: '4+1/2', at_us: 4_200_000, words: null },
    { ...cue, sound: 'gong', known: false, beat: '9', at_us: 8_000_000, words },
  ];
  const beats_us = Array.from({ length: 12 }, (_, n) => n * 1_000_000);
  const phrase = { name: 'Across the quay', length_us: 12_000_000, beats_us, cues };
  const troubles = ['sounds/letter.wav: it is no WAV, FLAC, OGG (Vorbis) or MP3 file. Every other sound is in use.'];
  line.say({ kind: 'sound', tells: { what: 'sounds', sounds, troubles } });
  line.say({
    kind: 'sound',
    tells: { what: 'cues', fight: FIGHT, revision: '0123456789ab', percent: 60, phrases: [phrase], left_out: 0 },
  });
  line.say({ kind: 'sound', tells: { what: 'now', ...now } });
}

async function shoot(page: Page, name: string): Promise<void> {
  const folder = process.env['HOLDFAST_SHOTS'];
  if (folder !== undefined) await page.screenshot({ path: join(folder, `${name}.png`) });
}

async function holdIsThere(page: Page, height: number): Promise<void> {
  const box = await page.locator('#hold button').boundingBox();
  if (box === null) throw new Error('there is no HOLD');
  expect(box.y + box.height).toBeGreaterThan(height - 20);
  // Its sizes by state: browser/frame.test.ts. A button stands 8 px within its apron.
  expect(box.height).toBeGreaterThanOrEqual(56);
  const onTop = await page.evaluate(
    ([x, y]) => document.elementFromPoint(x ?? 0, y ?? 0)?.closest('#hold') !== null,
    [box.x + box.width / 2, box.y + box.height / 2],
  );
  expect(onTop).toBe(true);
  const clipped = await page
    .locator('#hold button')
    .evaluate((button) => button.scrollHeight > button.clientHeight + 1);
  expect(clipped, 'the words on HOLD are clipped').toBe(false);
}

async function nothingRunsOut(page: Page, width: number): Promise<void> {
  const out = await page.evaluate(
    (most) =>
      [...document.querySelectorAll('#vitals, #page, #sheet, #hold, #page button, #page input, #page select, .counts')]
        .filter((part) => part.closest('.scroll') === null)
        .filter((part) => part.getBoundingClientRect().right > most + 1 || part.scrollWidth > most)
        .map((part) => `${part.tagName} ${part.className} ${part.textContent?.slice(0, 30)}`),
    width,
  );
  expect(out).toEqual([]);
}
