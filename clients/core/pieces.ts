// The pieces of a message that was too long for one frame, put together again, as `src/wire/pieces.rs` does it.
import { LONGEST_MESSAGE } from './wire';

/** A piece of a message. */
export interface Piece {
  of: number;
  part: number;
  last: boolean;
  bytes: Uint8Array;
}

/** Puts pieces together. At any time one message is under way at the most. */
export class Pieces {
  #of = 0;
  #length = 0;
  #parts: Uint8Array[] | null = null;

  /**
   * Takes a piece; gives the bytes of the whole message with its last one. A piece out of its place, or of another
   * message than the one under way, means that the rest of that one does not come: it is dropped.
   */
  take(piece: Piece): Uint8Array | null {
    if (piece.part === 0) {
      this.#of = piece.of;
      this.#length = 0;
      this.#parts = [];
    }
    const parts = this.#parts;
    this.#length += piece.bytes.length;
    const tooLong = this.#length > LONGEST_MESSAGE;
    if (parts === null || piece.of !== this.#of || piece.part !== parts.length || tooLong) {
      this.#parts = null;
      return null;
    }
    parts.push(piece.bytes);
    if (!piece.last) return null;
    this.#parts = null;
    return joined(parts);
  }
}

function joined(parts: Uint8Array[]): Uint8Array {
  const whole = new Uint8Array(parts.reduce((length, part) => length + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}
