// What you hear and feel, in a real browser: everything that can be tried is tried, and what the device was made to do is
// what the page says and draws; a call takes the screen; in a run at a real server the patterns and calls come.
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { PATTERNS, lengthOf } from '../core/feel';
import type { State } from '../core/wire';
import { openHouse, type House } from './support/house';
import { complaints, runsOut, shoot } from './support/judge';
import { cue, memberOf, pretend, run, setUp, state } from './support/pretend';

/** What the device was made to do. */
interface Done {
  shaken: (number | number[])[];
  said: { text: string; lang: string; rate: number; voice: string | null }[];
  tones: { hertz: number; seconds: number }[];
}

// Stands between the page and the device, before the page's own scripts.
function listen(): void {
  const done: Done = { shaken: [], said: [], tones: [] };
  Object.assign(window, { done });
  Object.defineProperty(navigator, 'vibrate', {
    value: (pattern: number | number[]) => (done.shaken.push(pattern), true),
  });
  const voices = [
    { name: 'Greta', lang: 'de-DE' },
    { name: 'Winnie', lang: 'en-GB' },
    { name: 'Abe', lang: 'en-GB' },
  ];
  const synthesis = Object.assign(new EventTarget(), {
    getVoices: () => voices,
    cancel: () => undefined,
    speak: ({ text, lang, rate, voice }: SpeechSynthesisUtterance) =>
      done.said.push({ text, lang, rate, voice: (voice as { name: string } | null)?.name ?? null }),
  });
  Object.defineProperty(window, 'speechSynthesis', { value: synthesis });
  class Utterance extends EventTarget {
    lang = '';
    rate = 1;
    voice: unknown = null;
    constructor(readonly text: string) {
      super();
    }
  }
  Object.defineProperty(window, 'SpeechSynthesisUtterance', { value: Utterance });
  const { start, stop } = OscillatorNode.prototype;
  const begun = new WeakMap<OscillatorNode, number>();
  OscillatorNode.prototype.start = function (when = 0) {
    begun.set(this, when);
    start.call(this, when);
  };
  OscillatorNode.prototype.stop = function (when = 0) {
    done.tones.push({ hertz: this.frequency.value, seconds: when - (begun.get(this) ?? 0) });
    stop.call(this, when);
  };
}

const doneOn = (page: Page): Promise<Done> => page.evaluate(() => (window as unknown as { done: Done }).done);

let house: House;
let page: Page;
beforeAll(async () => {
  house = await openHouse();
});
afterAll(() => house.close());
beforeEach(async () => {
  const context = await house.browser.newContext({ viewport: { width: 390, height: 844 }, hasTouch: true });
  page = await context.newPage();
  await page.addInitScript(listen);
});
afterEach(() => page.context().close());

async function open(now: State = state): Promise<Awaited<ReturnType<typeof pretend>>> {
  const line = await pretend(page, memberOf(3), now, run);
  await page.goto(`${house.home}phone.html`);
  await page.getByText('What you hear and feel').tap();
  await page.getByRole('heading', { name: 'You feel' }).waitFor();
  return line;
}

const attempt = (what: string) => page.getByRole('button', { name: `Try: ${what}`, exact: true }).tap();

describe('what you hear and feel', () => {
  it('lets every pattern be felt as it is drawn, whatever is switched off', async () => {
    await open();
    const names = {
      attack: 'You attack',
      reply: 'You reply',
      alone: 'You walk, or act by yourself',
      others: 'Others do something',
      beat: 'A beat',
    };
    for (const name of Object.values(names)) await attempt(name);
    const kinds = Object.keys(names) as (keyof typeof names)[];
    expect((await doneOn(page)).shaken).toEqual(kinds.map((kind) => [...PATTERNS[kind]]));
    const drawn = await page.locator('.strokes').evaluateAll((all) =>
      all.map((each) =>
        [...each.querySelectorAll('rect')].map((bar) => {
          const [box, whole] = [bar.getBoundingClientRect(), each.getBoundingClientRect()];
          return { at: (box.left - whole.left) / whole.width, length: box.width / whole.width };
        }),
      ),
    );
    const all = lengthOf(PATTERNS.hold);
    for (const [n, kind] of [...kinds, 'hold' as const].entries()) {
      const bars = drawn[n] ?? [];
      let at = 0;
      const wanted = PATTERNS[kind].flatMap((ms, k) => {
        const bar = { at: at / all, length: ms / all };
        at += ms;
        return k % 2 === 0 ? [bar] : [];
      });
      expect(bars.length).toBe(wanted.length);
      for (const [k, bar] of bars.entries()) {
        expect(bar.at).toBeCloseTo(wanted[k]?.at ?? 0, 2);
        expect(bar.length).toBeCloseTo(wanted[k]?.length ?? 0, 2);
      }
    }
  });

  it('says calls with the chosen voice and speed, the act first', async () => {
    await open();
    await attempt('To reply');
    await page.getByRole('switch', { name: /what the partner does/ }).tap();
    await page.getByRole('combobox', { name: 'Voice' }).selectOption('Winnie');
    await page.getByRole('button', { name: 'slow', exact: true }).tap();
    await attempt('To reply');
    await attempt('To attack');
    await attempt('By yourself');
    expect(await page.locator('optgroup').evaluateAll((all) => all.map((each) => each.getAttribute('label')))).toEqual([
      'de-DE',
      'en-GB',
    ]);
    const slow = { lang: 'en-GB', rate: 0.9, voice: 'Winnie' };
    expect((await doneOn(page)).said).toEqual([
      { text: 'parry 5, Maret', lang: 'en', rate: 1.2, voice: null },
      { text: 'parry 5, Maret, cut head', ...slow },
      { text: 'thrust belly, Maret', ...slow },
      { text: 'retire', ...slow },
    ]);
  });

  it('lets clicks and a hold be heard, and nobody is held', async () => {
    const line = await open();
    await attempt('First beat of a bar');
    await expect.poll(async () => (await doneOn(page)).tones.length).toBe(1);
    await attempt('A hold');
    await expect.poll(async () => (await doneOn(page)).tones.length).toBe(3);
    const done = await doneOn(page);
    expect(done.tones.map(({ hertz }) => Math.round(hertz))).toEqual([1_568, 880, 660]);
    expect(done.shaken).toEqual([[...PATTERNS.hold]]);
    expect(line.heard.filter(({ kind }) => kind === 'hold')).toEqual([]);
  });

  it('fits its page, for eyes and readers, on a small phone and in light colours', async () => {
    await open();
    expect(await complaints(page)).toEqual([]);
    await shoot(page, 'feels-dark', true);
    await page.emulateMedia({ colorScheme: 'light' });
    expect(await complaints(page)).toEqual([]);
    await page.setViewportSize({ width: 320, height: 568 });
    expect(await runsOut(page)).toEqual([]);
  });

  it('goes as soon as places are called, and is not offered while anything moves', async () => {
    const line = await open();
    line.say({ kind: 'state', ...state, ...setUp, generation: 5, stage: 'places', last_event: '1-call-5' });
    await page.locator('button.ready').waitFor();
    expect(await page.locator('.feels').count()).toBe(0);
  });
});

it('in a run the pattern of my act is felt, its call comes before it, and a hold ends both', async () => {
  const now: State = { ...state, ...setUp, stage: 'running' };
  await page.addInitScript(() => {
    const chosen = { voice: true, shake: 'moves', speaker: 'Abe' };
    localStorage.setItem('holdfast.settings', JSON.stringify(chosen));
  });
  const line = await pretend(page, memberOf(3), now, run);
  await page.goto(`${house.home}phone.html`);
  await page.locator('#vitals', { hasText: 'Linked' }).waitFor();
  line.say({ kind: 'cue', ...cue('MARET') });
  await expect.poll(async () => (await doneOn(page)).shaken.length).toBeGreaterThan(0);
  const done = await doneOn(page);
  expect(done.shaken).toEqual([[...PATTERNS.reply]]);
  expect(done.said).toEqual([{ text: 'jump, Osk', lang: 'en-GB', rate: 1.2, voice: 'Abe' }]);
  line.say({ kind: 'stop', generation: 4, at_us: 0 });
  await page.locator('#hold', { hasText: 'I call it too' }).waitFor();
  // An older cue is dead.
  line.say({ kind: 'cue', ...cue('MARET'), cue: 6 });
  await expect.poll(async () => (await doneOn(page)).shaken).toEqual([[...PATTERNS.reply], 0, [...PATTERNS.hold]]);
  expect((await doneOn(page)).said.length).toBe(1);
});
