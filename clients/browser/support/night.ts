// A night of rehearsal inside a page: a server of the page's own, on the page's own timers, so that a faked clock makes
// eight hours pass in seconds. Every half hour a run of three minutes at 120 beats a minute, held and released.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { Page } from 'playwright-core';
import type { MemberView, ToMember, ToServer } from '../../core/wire';
import { cue, hold, run, setUp, state } from './pretend';

const msgpack = readFileSync(
  createRequire(import.meta.url)
    .resolve('@msgpack/msgpack')
    .replace(/dist[^/]*\/.*$/, 'dist.umd/msgpack.min.js'),
  'utf8',
);

/** What the page's server has lived through. */
export interface Lived {
  /** Cues that it said. */
  said: number;
  /** Cues that the page reported as shown at their time. */
  fired: number;
}

/** Puts a member's page, not yet opened, in front of a night. Time stands until the page's clock is run. */
export async function intoTheNight(page: Page, member: MemberView): Promise<void> {
  await page.clock.install({ time: new Date('2026-03-01T18:00:00Z') });
  const entry = { key: 'pretended', invitation: '00000000', production: state.production, ...member };
  await page.addInitScript((text) => sessionStorage.setItem('holdfast.key', text), JSON.stringify([entry]));
  await page.addInitScript({ content: msgpack });
  await page.addInitScript(night, { state, setUp, run, hold, cue: cue(member.part), member });
}

/** What the page has lived through so far. */
export const lived = (page: Page): Promise<Lived> => page.evaluate(() => (window as unknown as { lived: Lived }).lived);

interface Material {
  state: typeof state;
  setUp: typeof setUp;
  run: typeof run;
  hold: typeof hold;
  cue: ReturnType<typeof cue>;
  member: MemberView;
}

/** Runs in the page. */
function night({ state, setUp, run, hold, cue, member }: Material): void {
  const BEAT_US = 500_000;
  const BEATS = 360;
  const HALF_HOUR_MS = 30 * 60 * 1_000;
  const packed = (
    window as unknown as { MessagePack: { encode(of: unknown): Uint8Array; decode(of: Uint8Array): unknown } }
  ).MessagePack;
  const lived: Lived = { said: 0, fired: 0 };
  (window as unknown as { lived: Lived }).lived = lived;
  const now = (): number => Math.round(performance.now() * 1_000);
  let generation = state.generation;

  class Line extends EventTarget {
    binaryType = 'arraybuffer';
    readyState = 1;
    bufferedAmount = 0;
    constructor() {
      super();
      setTimeout(() => this.dispatchEvent(new Event('open')), 1);
      setInterval(() => this.hear({ kind: 'pulse', now_us: now(), generation, stood_us: 0 }), 300);
      setInterval(() => this.aRun(), HALF_HOUR_MS);
    }
    hear(message: ToMember): void {
      const bytes = packed.encode(message);
      this.dispatchEvent(new MessageEvent('message', { data: bytes.slice().buffer }));
    }
    close(): void {}
    send(bytes: Uint8Array): void {
      const message = packed.decode(new Uint8Array(bytes)) as ToServer;
      if (message.kind === 'clock') {
        this.hear({ kind: 'clock', sent_us: message.sent_us, received_us: now(), answered_us: now() });
      } else if (message.kind === 'return') {
        const { role, name, part, ready } = member;
        const who = {
          member: member.member,
          key: null,
          you: { role, name, part, ready, newcomers: [], waits: null },
          horizon_us: 1_500_000,
        };
        this.hear({ kind: 'welcome', ...who, state: { ...state, now_us: now() }, run: null });
      } else if (message.kind === 'report') {
        lived.fired += message.fired_us === null ? 0 : 1;
      }
    }
    tell(more: Partial<typeof state>): void {
      this.hear({ kind: 'state', ...state, ...setUp, now_us: now(), generation, ...more });
    }
    aRun(): void {
      generation += 1;
      const start = now() + 2_000_000;
      this.tell({ stage: 'running' });
      this.hear({ kind: 'run', ...run, generation, start_us: start });
      for (let beat = 0; beat < BEATS; beat += 1) {
        const due = start + beat * BEAT_US;
        const bar = 1 + Math.floor(beat / 4);
        const said = { ...cue, generation, cue: beat, due_us: due, beat: String(beat + 1), bar, count: 1 + (beat % 4) };
        setTimeout(
          () => {
            lived.said += 1;
            this.hear({ kind: 'cue', ...said });
          },
          (due - 1_500_000 - now()) / 1_000,
        );
      }
      setTimeout(() => this.hold(), 2_000 + (BEATS * BEAT_US) / 1_000);
    }
    hold(): void {
      generation += 1;
      const now_held = { ...hold, hold: generation, generation, at_us: now() };
      this.hear({ kind: 'held', ...now_held });
      this.tell({ stage: 'held', hold: now_held });
      setTimeout(() => {
        generation += 1;
        this.tell({ stage: 'stopped', because: 'Released.' });
      }, 60_000);
    }
  }
  (window as unknown as { WebSocket: unknown }).WebSocket = Object.assign(Line, { CONNECTING: 0, OPEN: 1, CLOSED: 3 });
}
