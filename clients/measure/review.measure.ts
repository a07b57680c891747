// How long the review page takes to open under a season of 200 runs of each of 10 fights of 400 moves: from the address
// to the first drawn review, over HTTP, in a real browser. The season is the bench's own (benches/review.rs), or one that
// it left in HOLDFAST_SEASON before; a server built for use is given with HOLDFAST=target/release/holdfast. Figures, printed; machines differ, so nothing is asserted
// but that the page came.
import { execFile } from 'node:child_process';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { expect, it } from 'vitest';
import { startChromium } from '../browser/support/chromium';
import { LAPTOP, pressHold, release, Room, shows } from '../browser/support/seats';
import { House } from '../browser/support/server';

const ROUNDS = 7;

it('opens under a season', async () => {
  const folder = process.env['HOLDFAST_SEASON'] ?? (await season());
  const house = await House.open({ journal: join(folder, 'journal.sqlite') });
  const room = new Room(await startChromium({ whole: true }));
  try {
    const desk = await room.sit(house, 'desk', 'Ines');
    const { page } = await room.sit(house, 'captain', 'Bram', undefined, LAPTOP);
    await page.addInitScript(watch);
    const address = new URL('/review', house.link('captain')).href;
    const counted: number[] = [];
    const known: number[] = [];
    for (let round = 0; round < ROUNDS; round += 1) {
      // A hold more is another journal: nothing that was counted before is given again.
      await pressHold(desk);
      await shows(desk, 'HELD');
      await release(desk);
      for (const times of [counted, known]) {
        await page.goto('about:blank');
        await page.goto(address);
        times.push(await page.evaluate(() => (window as unknown as { drawn: Promise<number> }).drawn));
      }
      await page.goto('about:blank');
    }
    console.info(`the review, counted anew: ${told(counted)}; when somebody has just asked: ${told(known)}`);
    expect(known.length).toBe(ROUNDS);
  } finally {
    await room.close();
    await house.close();
    if (process.env['HOLDFAST_SEASON'] === undefined) await rm(folder, { recursive: true });
  }
});

/** Has the bench write its season into a folder. */
async function season(): Promise<string> {
  const folder = await mkdtemp(join(tmpdir(), 'holdfast-season-'));
  const cwd = join(import.meta.dirname, '../..');
  const env = { ...process.env, HOLDFAST_SEASON: folder };
  await promisify(execFile)('cargo', ['bench', '--bench', 'review', '--', '--test'], { cwd, env });
  return folder;
}

// In the page: milliseconds from the beginning of the navigation to the frame after the review was put into it.
function watch(): void {
  const drawn = new Promise<number>((resolve) => {
    const watcher = new MutationObserver(() => {
      if (document.querySelector('#drill') === null) return;
      watcher.disconnect();
      requestAnimationFrame(() => setTimeout(() => resolve(performance.now())));
    });
    watcher.observe(document, { childList: true, subtree: true });
  });
  Object.assign(window, { drawn });
}

function told(times: number[]): string {
  const sorted = times.toSorted((a, b) => a - b).map((ms) => Math.round(ms));
  return `${sorted[0]} to ${sorted.at(-1)} ms, the middle ${sorted[Math.floor(sorted.length / 2)]} ms`;
}
