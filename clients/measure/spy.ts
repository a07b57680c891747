// What watches a page from inside, put in before the page's own scripts: every clock exchange and every cue on the wire,
// every frame that shows a new beat, every tone's start on the audio clock, every call to vibrate.

/** How late things were, milliseconds. */
export interface Seen {
  seen: number[];
  heard: number[];
  felt: number[];
}

/** Runs in the page. `MessagePack` is the library's own bundle, put in before it. */
export function spy(): void {
  const { decode } = (window as unknown as { MessagePack: { decode(bytes: Uint8Array): any } }).MessagePack;
  const exchanges: { offset: number; trip: number }[] = [];
  const due = new Map<string, number>();
  const shownAt: { key: string; ms: number }[] = [];
  const feltAt: number[] = [];
  const tones: { start: number; context: AudioContext }[] = [];
  const pairs: { context: AudioContext; audio: number; ms: number }[] = [];

  const Real = window.WebSocket;
  window.WebSocket = class extends Real {
    constructor(address: string | URL) {
      super(address);
      this.addEventListener('message', ({ data }: MessageEvent<ArrayBuffer>) => {
        const ms = performance.now();
        const said = decode(new Uint8Array(data));
        if (said.kind === 'clock') {
          const sent = said.sent_us / 1_000;
          exchanges.push({ trip: ms - sent, offset: said.received_us / 1_000 - (sent + ms) / 2 });
        }
        if (said.kind === 'cue' && said.due_us !== null) due.set(said.beat, said.due_us / 1_000);
      });
    }
  };
  const shake = navigator.vibrate?.bind(navigator);
  navigator.vibrate = (pattern) => {
    if (Array.isArray(pattern)) feltAt.push(performance.now());
    return shake?.(pattern as number[]) ?? true;
  };
  const start = OscillatorNode.prototype.start;
  OscillatorNode.prototype.start = function (when = 0) {
    tones.push({ start: when, context: this.context as AudioContext });
    start.call(this, when);
  };
  let last = '';
  const look = (): void => {
    // A frame's own time is when it began; what is drawn in it reaches the glass with the next one.
    const beat = /beat (\S+)/.exec(document.querySelector('.tally p')?.textContent ?? '')?.[1] ?? '';
    if (beat !== '' && beat !== last) shownAt.push({ key: beat, ms: performance.now() });
    last = beat;
    for (const context of new Set(tones.map((tone) => tone.context))) {
      const { contextTime = 0, performanceTime = 0 } = context.getOutputTimestamp();
      if (performanceTime > 0) pairs.push({ context, audio: contextTime, ms: performanceTime });
    }
    if (pairs.length > 4_000) pairs.splice(0, 1_000);
    requestAnimationFrame(look);
  };
  requestAnimationFrame(look);

  (window as unknown as { spied(): Seen }).spied = () => {
    const best = [...exchanges].sort((one, other) => one.trip - other.trip)[0];
    const offset = best?.offset ?? Number.NaN;
    const times = [...due.values()].map((ms) => ms - offset).sort((one, other) => one - other);
    const late = (ms: number): number => {
      const near = times.reduce((one, other) => (Math.abs(other - ms) < Math.abs(one - ms) ? other : one), Infinity);
      return ms - near;
    };
    const heard = tones.flatMap(({ start: when, context }) => {
      const near = pairs
        .filter((pair) => pair.context === context)
        .sort((one, other) => Math.abs(one.audio - when) - Math.abs(other.audio - when))[0];
      return near === undefined ? [] : [late(near.ms + (when - near.audio) * 1_000)];
    });
    return { seen: shownAt.map(({ ms }) => late(ms)), heard, felt: feltAt.map(late) };
  };
}
