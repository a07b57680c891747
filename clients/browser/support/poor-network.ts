// A poor network between a page and the server: a relay on this machine that holds back what goes through it. TCP gives
// a page no lost bytes but late ones: a lost packet is sent again after a time-out, and all that came after it waits. So
// a loss is a wait here, of at least 200 ms (the shortest retransmission time-out of common systems; RFC 6298 asks for a
// second and allows less).
import { connect, createServer, type AddressInfo, type Server, type Socket } from 'node:net';
import type { Role } from '../../core/wire';
import type { House } from './server';

/** How poor it is, for each way. */
export interface Poor {
  delayMs: number;
  jitterMs: number;
  /** The share of writes that wait for a retransmission. */
  loss: number;
  seed: number;
}

const RETRANSMIT_MS = 200;

/** The relay. Pages come in by its links. */
export class PoorNetwork {
  #server: Server;
  #sockets = new Set<Socket>();

  private constructor(
    private readonly house: House,
    private readonly poor: Poor,
  ) {
    const random = seeded(poor.seed);
    this.#server = createServer((page) => {
      const { hostname, port } = new URL(`http://${house.place}`);
      const server = connect(Number(port), hostname);
      this.#relay(page, server, random);
      this.#relay(server, page, random);
    });
  }

  static async open(house: House, poor: Poor): Promise<PoorNetwork> {
    const network = new PoorNetwork(house, poor);
    await new Promise<void>((resolve) => network.#server.listen(0, '127.0.0.1', resolve));
    return network;
  }

  /** The link of a role's invitation, by way of here. */
  link(role: Role): string {
    const { port } = this.#server.address() as AddressInfo;
    return this.house.link(role).replace(this.house.place, `127.0.0.1:${port}`);
  }

  async close(): Promise<void> {
    for (const socket of this.#sockets) socket.destroy();
    await new Promise((resolve) => this.#server.close(resolve));
  }

  #relay(from: Socket, to: Socket, random: () => number): void {
    this.#sockets.add(from);
    from.setNoDelay(true);
    // What comes later goes out later: TCP keeps the order, and two timers of one moment need not.
    const waiting: { due: number; bytes: Buffer }[] = [];
    let last = 0;
    const flush = (): void => {
      for (let next = waiting[0]; next !== undefined && next.due <= performance.now(); next = waiting[0]) {
        waiting.shift();
        if (to.writable) to.write(next.bytes);
      }
      const next = waiting[0];
      if (next !== undefined) setTimeout(flush, Math.ceil(next.due - performance.now()));
    };
    from.on('data', (bytes) => {
      const lost = random() < this.poor.loss ? RETRANSMIT_MS * (1 + random()) : 0;
      last = Math.max(last, performance.now() + this.poor.delayMs + random() * this.poor.jitterMs + lost);
      waiting.push({ due: last, bytes });
      if (waiting.length === 1) flush();
    });
    const end = (): void => {
      this.#sockets.delete(from);
      to.destroy();
    };
    from.on('error', end);
    from.on('close', end);
  }
}

/** Marsaglia's xorshift32 (Journal of Statistical Software 8(14), 2003): the same numbers for the same seed. */
function seeded(seed: number): () => number {
  let state = seed | 0 || 1;
  return () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>> 0) / 2 ** 32;
  };
}
