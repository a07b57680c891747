// What the core needs of the machine it runs on: a clock, timers, chance, a socket and a place to keep words. The core
// reads none of them by itself, so that tests drive it with a time of their own.

/** Stops what was asked for. Stopping twice, or too late, does nothing. */
export type Cancel = () => void;

/** Time and chance. */
export interface Platform {
  /** The local monotonic clock, whole microseconds. Never set back, but it may stall while the machine sleeps. */
  nowUs(): number;
  /** The wall clock, microseconds. It may be set, but it goes on while the machine sleeps. */
  wallUs(): number;
  /** Calls `then` once, at least `ms` milliseconds from now. */
  after(ms: number, then: () => void): Cancel;
  /** Calls `then` once, when what the page shows now has been drawn. Never while the page is out of sight. */
  drawn(then: () => void): void;
  /** A number from 0 up to 1, for the jitter of a back-off. */
  random(): number;
  /** 128 bits of chance as hexadecimal digits. */
  token(): string;
}

/** An open line to the server. */
export interface Socket {
  /** False when the line does not take it, because it is not open any more. */
  send(bytes: Uint8Array): boolean;
  close(): void;
}

/** What a line tells its owner. Nothing is told after `closed`. */
export interface SocketEvents {
  opened(): void;
  message(bytes: Uint8Array): void;
  closed(): void;
}

/** Opens a line. */
export type Dial = (events: SocketEvents) => Socket;

/** A place that keeps words under names. */
export interface Store {
  get(name: string): string | null;
  /** False when the place refused to keep it. */
  set(name: string, value: string): boolean;
  remove(name: string): void;
}

/** A place that keeps words for as long as the page lives: for browsers that refuse to keep anything longer. */
export function memoryStore(): Store {
  const kept = new Map<string, string>();
  return {
    get: (name) => kept.get(name) ?? null,
    set: (name, value) => (kept.set(name, value), true),
    remove: (name) => void kept.delete(name),
  };
}
