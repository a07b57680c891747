// What the sound page knows after what it is told, and what it asks while somebody leans on an arrow key.
import { describe, expect, it } from 'vitest';
import { NO_SOUND, soundTold, Trimmer, TRIM_EVERY_MS, type Asked } from '../core/sound';
import type { SoundView } from '../core/wire';
import { clock, lateness, level, signedDb, signedMs } from '../sound/figures';

const steel: SoundView = {
  sound: 'steel',
  takes: 5,
  recorded: false,
  trim_us: 3_000,
  attack_us: 2_000,
  gain_db: -2,
  choke: null,
  who: null,
  when: null,
};

/** A trimmer with a clock of the test's own. */
function bench() {
  const sent: [string, Asked][] = [];
  let timers: (() => void)[] = [];
  const trimmer = new Trimmer(
    (ms, then) => {
      expect(ms).toBe(TRIM_EVERY_MS);
      timers.push(then);
    },
    (sound, asked) => sent.push([sound, asked]),
  );
  const tick = (): void => {
    const now = timers;
    timers = [];
    for (const then of now) then();
  };
  return { trimmer, sent, tick };
}

describe('trims while a key repeats', () => {
  it('sends the first at once, the newest afterwards, and nothing when nothing is new', () => {
    const { trimmer, sent, tick } = bench();
    for (let us = 4_000; us <= 24_000; us += 1_000) trimmer.choose(steel, { trim_us: us });
    expect(sent).toEqual([['steel', { trim_us: 4_000, gain_db: -2 }]]);
    tick();
    expect(sent.slice(1)).toEqual([['steel', { trim_us: 24_000, gain_db: -2 }]]);
    tick();
    tick();
    expect(sent.length).toBe(2);
  });

  it('never takes back one value by sending the other before the server has told of the first', () => {
    const { trimmer, sent, tick } = bench();
    trimmer.choose(steel, { trim_us: 9_000 });
    tick();
    // The page still holds what the server told before.
    trimmer.choose(steel, { gain_db: -6 });
    tick();
    expect(sent.at(-1)).toEqual(['steel', { trim_us: 9_000, gain_db: -6 }]);
  });

  it('believes the server once it has told: somebody else may have chosen since', () => {
    const { trimmer, sent, tick } = bench();
    trimmer.choose(steel, { trim_us: 9_000 });
    tick();
    trimmer.told();
    trimmer.choose({ ...steel, trim_us: -20_000 }, { gain_db: 1 });
    expect(sent.at(-1)).toEqual(['steel', { trim_us: -20_000, gain_db: 1 }]);
  });
});

it('keeps what it was told, each kind by itself', () => {
  const cues = { fight: 'The Quay', revision: '0', percent: 50, phrases: [], left_out: 0 };
  const told = [
    { what: 'sounds', sounds: [steel], troubles: ['A file is empty.'] },
    { what: 'cues', ...cues },
    { what: 'scores' },
    { what: 'devices', devices: ['pulse'], chosen: null },
  ] as const;
  const known = told.reduce(
    (before, each) => soundTold(before, structuredClone(each) as Parameters<typeof soundTold>[1]),
    NO_SOUND,
  );
  expect(known).toMatchObject({ sounds: [steel], troubles: ['A file is empty.'], scores: 1 });
  expect(known.cues?.fight).toBe('The Quay');
  expect(known.devices).toEqual({ names: ['pulse'], chosen: null });
});

it('lets the meter rise at once and fall slowly', () => {
  const now = (peak_db: number) =>
    ({ what: 'now', speakers: { peak_db, rms_db: peak_db - 3 } }) as Parameters<typeof soundTold>[1];
  const peaks = [-20, -120, -120, -6, -120].reduce<ReturnType<typeof soundTold>[]>(
    (all, db) => [...all, soundTold(all.at(-1) ?? NO_SOUND, now(db))],
    [],
  );
  // A fifth of a second apart, 12 dB a second.
  expect(peaks.map(({ meter }) => Math.round(meter.peak_db * 10) / 10)).toEqual([-20, -22.4, -24.8, -6, -8.4]);
});

it('writes figures as people read them', () => {
  expect([signedMs(-12_500), signedMs(3_000), signedMs(0)]).toEqual(['−12.5 ms', '+3 ms', '+0 ms']);
  expect([signedDb(-3.5), signedDb(0)]).toEqual(['−3.5 dB', '+0 dB']);
  expect([level(-120), level(-6.02)]).toEqual(['silence', '−6.0 dB']);
  expect([lateness(10), lateness(12_000), lateness(-400)]).toEqual(['on time', '12 ms late', '0.4 ms early']);
  expect([clock(4_250_000), clock(62_000_000), clock(-20_000)]).toEqual(['0:04.250', '1:02.000', '−0:00.020']);
});
