// The tempo map read backwards, against numeric integration of 60/tempo and against the closed form's published values.
import { describe, expect, it } from 'vitest';
import { beatsAt, tempoAt, usAt } from '../core/tempo';
import type { RunSheet, TempoView } from '../core/wire';

const START_US = 9_000_000;

function sheet(tempo: TempoView[]): RunSheet {
  const empty = { phrases: [], moves: [], feet: [], near: [], fighters: [], bystanders: [] };
  const numbers = { run: 1, generation: 1, beats_per_bar: 4, count_in: 4, start_us: START_US, length_ticks: 0 };
  return {
    ...numbers,
    ...empty,
    tempo,
    revision: '',
    fight: '',
    weapons: null,
    begins: null,
    pictures: null,
    floor: null,
    drive: 'clock',
  };
}

function ramp(from_bpm: number, to_bpm: number, beats: number): RunSheet {
  return sheet([{ at_ticks: 0, length_ticks: beats * 960, at_us: 0, from_bpm, to_bpm }]);
}

/** Seconds to a beat by Simpson's rule on 60/tempo. */
function secondsTo(beat: number, from: number, to: number, beats: number): number {
  const steps = 2_000;
  const width = beat / steps;
  let sum = 0;
  for (let n = 0; n <= steps; n += 1) {
    const weight = n === 0 || n === steps ? 1 : n % 2 === 1 ? 4 : 2;
    sum += (weight * 60) / (from + ((to - from) * n * width) / beats);
  }
  return (sum * width) / 3;
}

describe('the place at a time', () => {
  // 60 → 120 over 8 beats: 8 ln 2 s in all; 1.785148, 3.243721 and 4.476926 s at beats 2, 4 and 6 (closed form of the
  // integral, recomputed by quadrature: the project's table of checks, 13.1; 60 → 70 and 120 → 60: 13.2 and 13.3).
  it.each([
    [60, 120, 8, 2, 1.785148],
    [60, 120, 8, 4, 3.243721],
    [60, 120, 8, 6, 4.476926],
    [60, 120, 8, 8, 5.545177444],
    [60, 70, 8, 8, 7.399232632],
    [120, 60, 16, 16, 11.090354889],
    [100, 200, 10, 10, 4.158883083],
  ])('%i → %i over %i beats: beat %i after %f s', (from, to, beats, beat, seconds) => {
    expect(beatsAt(ramp(from, to, beats), START_US + seconds * 1e6)).toBeCloseTo(beat, 5);
  });

  it('agrees with numeric integration everywhere on a ramp', () => {
    for (let beat = 0.25; beat <= 12; beat += 0.25) {
      const seconds = secondsTo(beat, 84, 108, 12);
      expect(beatsAt(ramp(84, 108, 12), START_US + seconds * 1e6)).toBeCloseTo(beat, 7);
    }
  });

  it('goes on from stretch to stretch, and back into the count-in at the first tempo', () => {
    const run = sheet([
      { at_ticks: 0, length_ticks: 3_840, at_us: 0, from_bpm: 60, to_bpm: 60 },
      { at_ticks: 3_840, length_ticks: 960, at_us: 4_000_000, from_bpm: 120, to_bpm: 120 },
    ]);
    const places = [-2_000_000, 0, 1_500_000, 4_000_000, 5_000_000].map((us) => beatsAt(run, START_US + us));
    expect(places).toEqual([-2, 0, 1.5, 4, 6]);
    expect([tempoAt(run, -1), tempoAt(run, 3.9), tempoAt(run, 4)]).toEqual([60, 60, 120]);
  });

  it('and the time at a place are each other’s way back, on ramps, on level ground and at their joints', () => {
    const run = sheet([
      { at_ticks: 0, length_ticks: 7_680, at_us: 0, from_bpm: 60, to_bpm: 120 },
      { at_ticks: 7_680, length_ticks: 3_840, at_us: 5_545_177, from_bpm: 120, to_bpm: 120 },
    ]);
    for (let ticks = 0; ticks <= 11_520; ticks += 120) {
      expect(beatsAt(run, START_US + usAt(run, ticks))).toBeCloseTo(ticks / 960, 4);
    }
    expect(usAt(run, 7_680) / 1e6).toBeCloseTo(5.545177, 5);
  });

  it('is nowhere before the start is known', () => {
    expect(beatsAt({ ...ramp(60, 60, 1), start_us: null }, 0)).toBe(null);
  });
});
