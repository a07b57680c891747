// The real machine behind the core: the browser's clock, timers, sockets and stores. The only file that touches them.
import type { Dial, Platform, Store } from './platform';
import { memoryStore } from './platform';

/** The browser's time and chance. */
export const browser: Platform = {
  nowUs: () => Math.round(performance.now() * 1_000),
  wallUs: () => Date.now() * 1_000,
  after: (ms, then) => {
    const timer = setTimeout(then, Math.max(0, ms));
    return () => clearTimeout(timer);
  },
  drawn: (then) => void requestAnimationFrame(() => setTimeout(then)),
  random: () => Math.random(),
  token: () => {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    return [...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  },
};

/** Opens a WebSocket to the server that the page came from. */
export const dialHome: Dial = (events) => {
  const scheme = location.protocol === 'https:' ? 'wss' : 'ws';
  const socket = new WebSocket(`${scheme}://${location.host}/ws`);
  socket.binaryType = 'arraybuffer';
  socket.addEventListener('open', () => events.opened());
  socket.addEventListener('message', (event: MessageEvent<unknown>) => {
    if (event.data instanceof ArrayBuffer) events.message(new Uint8Array(event.data));
  });
  socket.addEventListener('close', () => events.closed());
  return {
    send: (bytes) => {
      // A socket that is closing takes what it is given and drops it.
      if (socket.readyState !== WebSocket.OPEN) return false;
      socket.send(bytes as Uint8Array<ArrayBuffer>);
      return true;
    },
    close: () => socket.close(),
  };
};

/** Calls `wake` whenever a page that slept, was hidden or had no network may have them back, and when it is hidden. */
export function onWake(wake: () => void): void {
  document.addEventListener('visibilitychange', wake);
  window.addEventListener('pageshow', wake);
  window.addEventListener('online', wake);
}

/** True while the page can be seen. */
export const isVisible = (): boolean => document.visibilityState === 'visible';

/** The browser's lasting store, or the page's memory with `lasts` false where the browser refuses to keep anything. */
export function lastingStore(): { store: Store; lasts: boolean } {
  const real = realStore(() => window.localStorage);
  return real === null ? { store: memoryStore(), lasts: false } : { store: real, lasts: true };
}

/** A store that belongs to this tab and outlives a reload. A browser that refuses one still lets a tab have a name. */
export function tabStore(): Store {
  return realStore(() => window.sessionStorage) ?? nameStore();
}

function realStore(open: () => Storage): Store | null {
  try {
    const storage = open();
    storage.setItem('holdfast.probe', '1');
    storage.removeItem('holdfast.probe');
    return {
      get: (name) => storage.getItem(name),
      set: (name, value) => tried(() => storage.setItem(name, value)),
      remove: (name) => void tried(() => storage.removeItem(name)),
    };
  } catch {
    return null;
  }
}

function tried(keep: () => void): boolean {
  try {
    keep();
    return true;
  } catch {
    return false;
  }
}

function nameStore(): Store {
  const read = (): Record<string, string> => {
    try {
      const value: unknown = JSON.parse(window.name);
      return typeof value === 'object' && value !== null ? (value as Record<string, string>) : {};
    } catch {
      return {};
    }
  };
  const write = (names: Record<string, string>): void => {
    window.name = JSON.stringify(names);
  };
  return {
    get: (name) => read()[name] ?? null,
    set: (name, value) => (write({ ...read(), [name]: value }), true),
    remove: (name) => {
      const { [name]: _gone, ...rest } = read();
      write(rest);
    },
  };
}
