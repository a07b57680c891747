// Bytes ⇄ messages. What comes from the server is trusted in its fields (the types are generated from the server's
// own), but not in its kind: a newer server may say things that this page does not know, and they are left alone.
import { decode, encode } from '@msgpack/msgpack';
import type { ToMember, ToServer } from './wire';

const KINDS: ReadonlySet<string> = new Set<ToMember['kind']>([
  'invited',
  'welcome',
  'clock',
  'pulse',
  'state',
  'run',
  'cue',
  'held',
  'tap-answer',
  'refused',
  'invitations',
  'goodbye',
  'sound',
  'you',
  'subject',
]);

/** The bytes of a message. */
export function toBytes(message: ToServer): Uint8Array {
  return encode(message);
}

/** The message in these bytes, or nothing when it is none that this page knows. */
export function fromBytes(bytes: Uint8Array): ToMember | null {
  try {
    const value: unknown = decode(bytes);
    if (typeof value !== 'object' || value === null || !('kind' in value)) return null;
    return typeof value.kind === 'string' && KINDS.has(value.kind) ? (value as ToMember) : null;
  } catch {
    return null;
  }
}
