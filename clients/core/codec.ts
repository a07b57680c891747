// Bytes ⇄ messages. What comes from the server is trusted in its fields (the types are generated from the server's
// own), but not in its kind: a newer server may say things that this page does not know.
import { decode, encode } from '@msgpack/msgpack';
import { TO_MEMBER_KINDS, type ToMember, type ToServer } from './wire';

/** What bytes were: a message, or the name of what this page does not know. */
export type Read = { message: ToMember; unknown: null } | { message: null; unknown: string };

const KINDS: ReadonlySet<unknown> = new Set(TO_MEMBER_KINDS);

/** The bytes of a message. */
export function toBytes(message: ToServer): Uint8Array {
  return encode(message);
}

/** Reads bytes. Never throws, whatever they are. */
export function fromBytes(bytes: Uint8Array): Read {
  try {
    const value: unknown = decode(bytes);
    const kind = typeof value === 'object' && value !== null && 'kind' in value ? value.kind : undefined;
    if (KINDS.has(kind)) return { message: value as ToMember, unknown: null };
    return unknown(typeof kind === 'string' ? `the message “${kind}”` : 'something without a kind');
  } catch {
    return unknown('bytes that are no message');
  }
}

function unknown(what: string): Read {
  return { message: null, unknown: what };
}
