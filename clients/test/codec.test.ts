// Bytes and messages.
import { encode } from '@msgpack/msgpack';
import { describe, expect, it } from 'vitest';
import { fromBytes, toBytes } from '../core/codec';
import { chance } from './support/chance';

const hex = (bytes: Uint8Array): string => Buffer.from(bytes).toString('hex');

describe('the codec', () => {
  // The MessagePack specification: fixmap 0x8n, fixstr 0xa0 + length, true 0xc3, uint 64 0xcf, int 64 0xd3.
  it('writes maps with named fields, and times as integers however far they are', () => {
    expect(hex(toBytes({ kind: 'invitations' }))).toBe('81a46b696e64ab696e7669746174696f6e73');
    expect(hex(toBytes({ kind: 'clock', sent_us: 2 ** 40 }))).toContain('cf0000010000000000');
    expect(hex(toBytes({ kind: 'clock', sent_us: -(2 ** 40) }))).toContain('d3ffffff0000000000');
    expect(hex(toBytes({ kind: 'ready', ready: true, generation: 5 }))).toContain('c3');
  });

  it('reads what it knows and names the rest', () => {
    const pulse = { kind: 'pulse', now_us: 2 ** 45, generation: 3, stood_us: 0 };
    expect(fromBytes(encode(pulse))).toEqual({ message: pulse, unknown: null });
    expect(fromBytes(encode({ kind: 'of tomorrow' }))).toEqual({ message: null, unknown: 'the message “of tomorrow”' });
    for (const other of [{ kind: 7 }, { kind: 'toString' }, {}, [], 'pulse', null, 3]) {
      expect(fromBytes(encode(other)).message).toBe(null);
    }
  });

  it('reads any bytes without failing', () => {
    const random = chance(1);
    for (let n = 0; n < 5_000; n += 1) {
      const bytes = Uint8Array.from({ length: Math.floor(random() * 24) }, () => Math.floor(random() * 256));
      const { message, unknown } = fromBytes(bytes);
      expect((message === null) !== (unknown === null)).toBe(true);
    }
  });
});
