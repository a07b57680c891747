// Bytes ⇄ messages. What comes from the server is trusted in its fields (the types are generated from the server's
// own), but not in its kind: a newer server may say things that this page does not know, and they are left alone.
import { decode, encode } from '@msgpack/msgpack';
import type { ToMember, ToServer } from './wire';

// Every kind there is, or this does not compile.
const KINDS = {
  invited: true,
  welcome: true,
  clock: true,
  pulse: true,
  state: true,
  run: true,
  cue: true,
  stop: true,
  held: true,
  piece: true,
  trial: true,
  'tap-answer': true,
  refused: true,
  invitations: true,
  goodbye: true,
  sound: true,
  you: true,
  subject: true,
} satisfies Record<ToMember['kind'], true>;

/** The bytes of a message. */
export function toBytes(message: ToServer): Uint8Array {
  return encode(message);
}

/** The message in these bytes, or nothing when it is none that this page knows. */
export function fromBytes(bytes: Uint8Array): ToMember | null {
  try {
    const value: unknown = decode(bytes);
    if (typeof value !== 'object' || value === null || !('kind' in value)) return null;
    return typeof value.kind === 'string' && Object.hasOwn(KINDS, value.kind) ? (value as ToMember) : null;
  } catch {
    return null;
  }
}
