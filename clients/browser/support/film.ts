// Frames of a page as they come out, and the flashes in them as WCAG 2.2 defines them (2.3.1, "general flash and red flash
// thresholds"): of light, and of saturated red, which may be too dark to count as light.
import type { Page } from 'playwright-core';

/** A frame: when, and the colour of every point in sRGB, red, green and blue by turns. */
export interface Frame {
  ms: number;
  rgb: Uint8Array;
}

/** Frames, all of one size; a point of them stands for `scale` pixels each way. */
export interface Film {
  frames: Frame[];
  width: number;
  height: number;
  scale: number;
}

/** Pixels of the page for one point of a frame. */
const SCALE = 4;

// A film has a frame only where something changes. So one point of the page always does, too small for any flash: whatever
// else happens is caught, and a page that stands still is seen to stand still. Runs in the page.
function tick(): void {
  if (document.getElementById('tick') !== null) return;
  const point = document.body.appendChild(document.createElement('i'));
  point.id = 'tick';
  for (const [name, value] of Object.entries({ position: 'fixed', top: '0', left: '0', width: '2px', height: '2px' })) {
    point.style.setProperty(name, value);
  }
  let light = false;
  const next = (): void => {
    light = !light;
    point.style.background = light ? '#fff' : '#000';
    requestAnimationFrame(next);
  };
  next();
}

/** Films a page for so long, and filmed again where a busy machine gave no more than `least` frames. */
export async function record(page: Page, ms: number, least = 0): Promise<Film> {
  let film = await recordOnce(page, ms);
  for (let again = 0; film.frames.length <= least && again < 8; again += 1) film = await recordOnce(page, ms);
  return film;
}

async function recordOnce(page: Page, ms: number): Promise<Film> {
  const size = page.viewportSize() ?? { width: 390, height: 844 };
  const [width, height] = [Math.floor(size.width / SCALE), Math.floor(size.height / SCALE)];
  const devtools = await page.context().newCDPSession(page);
  const shots: { ms: number; data: string }[] = [];
  devtools.on('Page.screencastFrame', ({ data, metadata, sessionId }) => {
    shots.push({ ms: (metadata.timestamp ?? 0) * 1_000, data });
    void devtools.send('Page.screencastFrameAck', { sessionId }).catch(() => undefined);
  });
  await page.evaluate(tick);
  await devtools.send('Page.startScreencast', { format: 'png', maxWidth: width, maxHeight: height, everyNthFrame: 1 });
  await page.waitForTimeout(ms);
  await devtools.send('Page.stopScreencast');
  // The pictures are opened by a page of their own, for the browser knows how.
  const dark = await page.context().newPage();
  const bytes = await dark.evaluate(develop, { pictures: shots.map(({ data }) => data), width, height });
  const frames = shots.map(({ ms }, n) => ({
    ms,
    rgb: Uint8Array.from(Buffer.from(bytes[n] ?? '', 'base64')),
  }));
  await dark.close();
  await devtools.detach();
  return { frames, width, height, scale: SCALE };
}

// In the page: each picture becomes three bytes a point.
async function develop(film: { pictures: string[]; width: number; height: number }): Promise<string[]> {
  const { pictures, width, height } = film;
  const paper = new OffscreenCanvas(width, height).getContext('2d', { willReadFrequently: true });
  if (paper === null) throw new Error('no canvas');
  const developed: string[] = [];
  for (const data of pictures) {
    const bytes = Uint8Array.from(atob(data), (letter) => letter.charCodeAt(0));
    const picture = await createImageBitmap(new Blob([bytes], { type: 'image/png' }));
    paper.drawImage(picture, 0, 0, width, height);
    const pixels = paper.getImageData(0, 0, width, height).data;
    let text = '';
    for (let at = 0; at < pixels.length; at += 4) {
      text += String.fromCharCode(pixels[at] ?? 0, pixels[at + 1] ?? 0, pixels[at + 2] ?? 0);
    }
    developed.push(btoa(text));
  }
  return developed;
}

type Rgb = [number, number, number];
const LINEAR = Float64Array.from({ length: 256 }, (_, part) => {
  const c = part / 255;
  return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
});
const pointOf = ({ rgb }: Frame, point: number): Rgb => [
  LINEAR[rgb[3 * point] ?? 0] ?? 0,
  LINEAR[rgb[3 * point + 1] ?? 0] ?? 0,
  LINEAR[rgb[3 * point + 2] ?? 0] ?? 0,
];

/** Relative luminance (WCAG 2.2), 0 to 1. */
const lightOf = ([r, g, b]: Rgb): number => 0.2126 * r + 0.7152 * g + 0.0722 * b;

/** Saturated red: four fifths of all the light or more. */
const isRed = ([r, g, b]: Rgb): boolean => r + g + b > 0 && r / (r + g + b) >= 0.8;

/** Where a colour stands in the CIE 1976 UCS diagram (u′, v′), from linear sRGB (IEC 61966-2-1); black stands with white. */
export function chromaticity([r, g, b]: Rgb): [number, number] {
  const x = 0.4124 * r + 0.3576 * g + 0.1805 * b;
  const y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
  const z = 0.0193 * r + 0.1192 * g + 0.9505 * b;
  const sum = x + 15 * y + 3 * z;
  return sum === 0 ? chromaticity([1, 1, 1]) : [(4 * x) / sum, (9 * y) / sum];
}

/** The most flashes of light in any second over more than a quarter of any block of 341 × 256 pixels. */
export function countFlashes(film: Film): number {
  return mostAtOnce(film, changesOf(film));
}

/** The same of saturated red. */
export function countRedFlashes(film: Film): number {
  return mostAtOnce(film, redChangesOf(film));
}

/** At which frames each point changed; of points that never did nothing. */
type Changes = Map<number, number[]>;

function mostAtOnce({ frames, width, height, scale }: Film, changes: Changes): number {
  const block = { width: Math.min(width, Math.round(341 / scale)), height: Math.min(height, Math.round(256 / scale)) };
  const enough = (Math.round(341 / scale) * Math.round(256 / scale)) / 4;
  let most = 0;
  for (let first = 0; first < frames.length; first += 1) {
    const until = (frames[first]?.ms ?? 0) + 1_000;
    const counts = new Uint16Array(width * height);
    for (const [point, times] of changes) {
      const within = times.filter((frame) => frame >= first && (frames[frame]?.ms ?? Infinity) < until).length;
      counts[point] = Math.floor(within / 2);
    }
    for (let flashes = most + 1; covers(counts, flashes, width, height, block, enough); flashes += 1) most = flashes;
  }
  return most;
}

// Every point of every frame that has another colour than in the frame before: what stays as it is changes nothing.
function eachNew({ frames, width, height }: Film, look: (frame: number, point: number) => void): void {
  for (let frame = 1; frame < frames.length; frame += 1) {
    const [now, before] = [frames[frame]?.rgb, frames[frame - 1]?.rgb];
    if (now === undefined || before === undefined) continue;
    for (let point = 0, at = 0; point < width * height; point += 1, at += 3) {
      if (now[at] !== before[at] || now[at + 1] !== before[at + 1] || now[at + 2] !== before[at + 2])
        look(frame, point);
    }
  }
}

function note(changes: Changes, point: number, frame: number): void {
  const times = changes.get(point);
  if (times === undefined) changes.set(point, [frame]);
  else times.push(frame);
}

// For every point, at which frames it changed by a tenth or more against the last change.
function changesOf(film: Film): Changes {
  const changes: Changes = new Map();
  const [first] = film.frames;
  if (first === undefined) return changes;
  const extremes = Float64Array.from({ length: film.width * film.height }, (_, point) =>
    lightOf(pointOf(first, point)),
  );
  const ways = new Int8Array(extremes.length);
  eachNew(film, (frame, point) => {
    const extreme = extremes[point] ?? 0;
    const now = lightOf(pointOf(film.frames[frame]!, point));
    const way = Math.sign(now - extreme);
    if (way === ways[point] && way !== 0) extremes[point] = now;
    else if (Math.abs(now - extreme) >= 0.1 && Math.min(now, extreme) < 0.8) {
      note(changes, point, frame);
      [extremes[point], ways[point]] = [now, way];
    }
  });
  return changes;
}

// For every point, at which frames it became saturated red, or ceased to be, and was by more than 0.2 another colour than at
// the last change.
function redChangesOf(film: Film): Changes {
  const changes: Changes = new Map();
  // The frame of each point's last change; before any, the first.
  const last = new Uint16Array(film.width * film.height);
  eachNew(film, (frame, point) => {
    const now = pointOf(film.frames[frame]!, point);
    const before = pointOf(film.frames[last[point] ?? 0]!, point);
    if (!isRed(now) && !isRed(before)) return;
    const [[u, v], [wasU, wasV]] = [chromaticity(now), chromaticity(before)];
    if (Math.hypot(u - wasU, v - wasV) <= 0.2) return;
    note(changes, point, frame);
    last[point] = frame;
  });
  return changes;
}

function covers(
  counts: Uint16Array,
  flashes: number,
  width: number,
  height: number,
  block: { width: number; height: number },
  enough: number,
): boolean {
  if (counts.reduce((points, count) => points + (count >= flashes ? 1 : 0), 0) <= enough) return false;
  // Sums over everything above and left of a point, so that a block is four look-ups.
  const sums = new Float64Array((width + 1) * (height + 1));
  const at = (x: number, y: number): number => sums[y * (width + 1) + x] ?? 0;
  for (let y = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1) {
      const here = (counts[y * width + x] ?? 0) >= flashes ? 1 : 0;
      sums[(y + 1) * (width + 1) + x + 1] = here + at(x, y + 1) + at(x + 1, y) - at(x, y);
    }
  }
  for (let y = 0; y + block.height <= height; y += 4) {
    for (let x = 0; x + block.width <= width; x += 4) {
      const [right, low] = [x + block.width, y + block.height];
      if (at(right, low) - at(x, low) - at(right, y) + at(x, y) > enough) return true;
    }
  }
  return false;
}
