// The seconds before a hold or stop, heard again as the phones had them: a short note for each cue when each phone showed
// it, a pitch for each phone, and a low one where the call came. It is silent in the very task in which it is told to be.
import { CLICKS } from '../core/clicks';

/** A note: when, seconds from the first, and of which phone, counted from 0. */
export interface Note {
  atS: number;
  phone: number;
}

/** What is heard. */
export interface Piece {
  notes: Note[];
  /** When the hold or stop came, seconds from the first note. */
  callS: number;
}

/** From a touch until the first note, seconds. */
const LEAD_S = 0.1;
/** The pitch of the call, and how long it is heard. */
const CALL = { hertz: 220, seconds: 0.5 } as const;
/** A third for each phone, so that those that come together make a chord. */
const STEP = 2 ** (4 / 12);
const LEVEL = 0.16;

/** Lays out what the phones showed: for each of them, milliseconds before the call. Nothing where they showed nothing. */
export function pieceOf(phones: readonly (readonly number[])[]): Piece | null {
  const first = Math.max(...phones.flat());
  if (!Number.isFinite(first)) return null;
  const notes = phones.flatMap((marks, phone) => marks.map((ms) => ({ atS: (first - ms) / 1_000, phone })));
  return { notes: notes.sort((a, b) => a.atS - b.atS), callS: first / 1_000 };
}

/** The same of a picture on the page. */
export function pieceIn(place: ParentNode): Piece | null {
  const lines = [...place.querySelectorAll<SVGGElement>('[data-shown]')];
  return pieceOf(lines.map((line) => (line.dataset['shown'] ?? '').split(' ').filter(Boolean).map(Number)));
}

/** Makes a piece heard. */
export class Listening {
  #audio: AudioContext | null = null;
  readonly #nodes = new Set<OscillatorNode>();
  #over: ReturnType<typeof setTimeout> | null = null;

  /** Plays; called inside a touch, for a browser lets only that make a sound. `ended` is called when it is over by itself. */
  play(piece: Piece, ended: () => void): void {
    this.stop();
    const audio = (this.#audio ??= new AudioContext({ latencyHint: 'interactive' }));
    void audio.resume();
    const from = audio.currentTime + LEAD_S;
    for (const { atS, phone } of piece.notes) {
      this.#note(audio, from + atS, CLICKS.beat.hertz * STEP ** (phone % 6) * 0.5, CLICKS.beat.seconds);
    }
    this.#note(audio, from + piece.callS, CALL.hertz, CALL.seconds);
    this.#over = setTimeout(
      () => {
        this.stop();
        ended();
      },
      (LEAD_S + piece.callS + CALL.seconds) * 1_000,
    );
  }

  /** Nothing is heard any more. */
  stop(): void {
    if (this.#over !== null) clearTimeout(this.#over);
    this.#over = null;
    for (const node of this.#nodes) {
      node.stop();
      node.disconnect();
    }
    this.#nodes.clear();
  }

  #note(audio: AudioContext, at: number, frequency: number, seconds: number): void {
    const gain = new GainNode(audio, { gain: 0 });
    gain.gain.setValueAtTime(LEVEL, at);
    gain.gain.exponentialRampToValueAtTime(0.001, at + seconds);
    const node = new OscillatorNode(audio, { frequency });
    node.connect(gain).connect(audio.destination);
    node.start(at);
    node.stop(at + seconds);
    this.#nodes.add(node);
    node.onended = () => {
      node.disconnect();
      gain.disconnect();
      this.#nodes.delete(node);
    };
  }
}
