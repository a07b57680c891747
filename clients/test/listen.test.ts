import { expect, it } from 'vitest';
import { pieceOf } from '../review/listen';

it('lays out what the phones showed from the first cue to the call', () => {
  const piece = pieceOf([[4_000, 2_000.5, 0], [3_950]]);
  expect(piece?.callS).toBe(4);
  expect(piece?.notes).toEqual([
    { atS: 0, phone: 0 },
    { atS: 0.05, phone: 1 },
    { atS: 1.9995, phone: 0 },
    { atS: 4, phone: 0 },
  ]);
});

it('makes nothing of nothing', () => {
  expect(pieceOf([])).toBeNull();
  expect(pieceOf([[], []])).toBeNull();
});

it('keeps every cue, in order, between the first and the call', () => {
  for (let seed = 1; seed <= 200; seed += 1) {
    let state = seed;
    const chance = (): number => (state = (state * 48_271) % 2_147_483_647) / 2_147_483_647;
    const phones = Array.from({ length: 1 + Math.floor(chance() * 5) }, () =>
      Array.from({ length: Math.floor(chance() * 20) }, () => Math.round(chance() * 8_000)),
    );
    const piece = pieceOf(phones);
    expect(piece?.notes.length ?? 0).toBe(phones.flat().length);
    const times = piece?.notes.map(({ atS }) => atS) ?? [];
    expect(times).toEqual([...times].sort((a, b) => a - b));
    expect(times.every((at) => at >= 0 && at <= (piece?.callS ?? 0))).toBe(true);
  }
});
