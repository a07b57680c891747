// The palette, judged from the style sheet itself: contrasts by WCAG 2.2 (relative luminance and contrast ratio, sections
// "relative luminance" and 1.4.3/1.4.6), and how far the four colours that mean something stay apart for the colour-blind
// (Machado, Oliveira and Fernandes 2009, "A Physiologically-based Model for Simulation of Color Vision Deficiency",
// severity 1.0; its matrices from memory, checked by what they must keep: white; distances as CIE 1976 L*a*b*, D65).
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';

const clients = join(import.meta.dirname, '..');
const css = readFileSync(join(clients, 'ui/look.css'), 'utf8');

type Palette = Record<string, string>;
const COLOUR = /--([\w-]+): (?:light-dark\((#[0-9a-f]{6}), (#[0-9a-f]{6})\)|(#[0-9a-f]{6}));/g;
const blockOf = (selector: string): { light: Palette; dark: Palette } => {
  const at = css.indexOf(`${selector} {`);
  if (at < 0) throw new Error(`look.css has no ${selector}`);
  const found = [...css.slice(at, css.indexOf('}', at)).matchAll(COLOUR)];
  const given = (n: 2 | 3): Palette => Object.fromEntries(found.map((all) => [all[1], all[4] ?? all[n] ?? '']));
  return { light: given(2), dark: given(3) };
};
const schemes: [string, Palette][] = Object.entries(blockOf(':root'));

it('fourteen colours are named', () => {
  for (const [name, palette] of schemes) expect(Object.keys(palette), name).toHaveLength(14);
});

type Rgb = [number, number, number];
const rgb = (hex: string): Rgb => [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16) / 255) as Rgb;
const linear = (c: number): number => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
const luminance = (hex: string): number => {
  const [r, g, b] = rgb(hex).map(linear) as Rgb;
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const contrast = (one: string, other: string): number => {
  const [low = 0, high = 0] = [luminance(one), luminance(other)].sort((a, b) => a - b);
  return (high + 0.05) / (low + 0.05);
};

it('black on white is 21:1, as WCAG has it', () => expect(contrast('#000000', '#ffffff')).toBeCloseTo(21, 5));

describe.each(schemes)('in the %s', (_, palette) => {
  const of = (token: string): string => palette[token] ?? `no --${token}`;
  it.each([
    ['ink', 'ground', 7],
    ['ink', 'raised', 7],
    ['quiet', 'ground', 7],
    ['quiet', 'raised', 7],
    ['you', 'ground', 7],
    ['you', 'raised', 7],
    ['on-you', 'you', 7],
    ['you', 'you-dim', 7],
    ['ground', 'ink', 7],
    ['on-ember', 'ember', 7],
    ['on-flood', 'flood', 7],
    ['warn', 'ground', 7],
    ['warn', 'raised', 7],
    // Edges: WCAG 2.2, 1.4.11.
    ['line', 'ground', 3],
    ['line', 'raised', 3],
    ['hold', 'ground', 3],
  ])('%s on %s is %d:1 or more', (one, other, least) => {
    expect(contrast(of(one), of(other)), `${of(one)} on ${of(other)}`).toBeGreaterThanOrEqual(least);
  });

  it('a solid HOLD can be read as well', () => {
    const solid = blockOf(":root[data-hold='solid']").dark;
    expect(contrast(solid['on-ember'] ?? '', solid['ember'] ?? '')).toBeGreaterThanOrEqual(7);
  });

  // What HOLD is known by: its edge, in the dark its word and in the light its field.
  it.each(['hold', 'flood'])('ink, you, %s and warn stay 23 apart for everybody', (held) => {
    const means = ['ink', 'you', held, 'warn'];
    for (const [sight, matrix] of Object.entries({ usual: USUAL, ...MACHADO })) {
      for (const [n, one] of means.entries()) {
        for (const other of means.slice(n + 1)) {
          const apart = distance(seen(of(one), matrix), seen(of(other), matrix));
          expect(apart, `${one} and ${other}, ${sight}`).toBeGreaterThanOrEqual(23);
        }
      }
    }
  });
});

type Matrix = [Rgb, Rgb, Rgb];
const USUAL: Matrix = [
  [1, 0, 0],
  [0, 1, 0],
  [0, 0, 1],
];
const MACHADO: Record<string, Matrix> = {
  protan: [
    [0.152286, 1.052583, -0.204868],
    [0.114503, 0.786281, 0.099216],
    [-0.003882, -0.048116, 1.051998],
  ],
  deutan: [
    [0.367322, 0.860646, -0.227968],
    [0.280085, 0.672501, 0.047413],
    [-0.01182, 0.04294, 0.968881],
  ],
  tritan: [
    [1.255528, -0.076749, -0.178779],
    [-0.078411, 0.930809, 0.147602],
    [0.004733, 0.691367, 0.3039],
  ],
};
it.each(Object.entries(MACHADO))('white stays white for %s', (_, matrix) => {
  for (const row of matrix) expect(row[0] + row[1] + row[2]).toBeCloseTo(1, 4);
});

// As light: linear, cut to what a screen has.
function seen(hex: string, matrix: Matrix): Rgb {
  const light = rgb(hex).map(linear) as Rgb;
  return matrix.map((row) =>
    Math.min(1, Math.max(0, row[0] * light[0] + row[1] * light[1] + row[2] * light[2])),
  ) as Rgb;
}

function lab([r, g, b]: Rgb): Rgb {
  const [x, y, z] = [
    (0.4124564 * r + 0.3575761 * g + 0.1804375 * b) / 0.95047,
    0.2126729 * r + 0.7151522 * g + 0.072175 * b,
    (0.0193339 * r + 0.119192 * g + 0.9503041 * b) / 1.08883,
  ].map((t) => (t > (6 / 29) ** 3 ? Math.cbrt(t) : t / (3 * (6 / 29) ** 2) + 4 / 29)) as Rgb;
  return [116 * y - 16, 500 * (x - y), 200 * (y - z)];
}
const distance = (one: Rgb, other: Rgb): number => {
  const [a, b] = [lab(one), lab(other)];
  return Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]);
};

it('every colour and size that a style sheet asks for by name is given somewhere', () => {
  const sheets = readdirSync(clients, { recursive: true, encoding: 'utf8' })
    .filter((file) => /\.(css|tsx?)$/.test(file) && !/node_modules|dist/.test(file))
    .map((file) => readFileSync(join(clients, file), 'utf8'));
  const given = new Set(
    sheets.flatMap((text) => [...text.matchAll(/(--[\w-]+)['"]?\s*[:,]/g)].map(([, name]) => name)),
  );
  const asked = sheets.flatMap((text) => [...text.matchAll(/var\((--[\w-]+)/g)].map(([, name]) => name));
  expect(asked.filter((name) => !given.has(name))).toEqual([]);
});
