// The personal keys that this browser holds: one for each invitation that was traded here. A key belongs to a tab first,
// so that two people can share a laptop in two tabs, and to the browser after that, so that a closed tab can come back.
import type { Store } from './platform';
import type { Role } from './wire';

/** A membership. */
export interface Entry {
  /** The key that proves it. */
  key: string;
  /** A mark of the invitation it was traded for; not the invitation itself. */
  invitation: string;
  role: Role;
  name: string;
  part: string | null;
  production: string;
}

const ALL = 'holdfast.keys';
const MINE = 'holdfast.key';
/** So many are kept; the oldest go first. */
const MOST = 12;

/** The keys of this browser (`lasting`) and of this tab (`tab`). */
export class Keys {
  constructor(
    private readonly lasting: Store,
    private readonly tab: Store,
  ) {}

  /** Every membership of this browser, newest first. */
  all(): Entry[] {
    return readEntries(this.lasting.get(ALL));
  }

  /** The membership of this page: this tab's own, else the newest of the browser that `fits`. */
  mine(fits: (role: Role) => boolean): Entry | null {
    const [own] = readEntries(this.tab.get(MINE));
    if (own !== undefined && fits(own.role)) return own;
    return this.all().find((entry) => fits(entry.role)) ?? null;
  }

  /** The membership that was made here with that invitation. */
  from(invitation: string): Entry | null {
    const mark = markOf(invitation);
    return this.all().find((entry) => entry.invitation === mark) ?? null;
  }

  /** Keeps a membership for this tab and this browser. False when the browser will have forgotten it once it is closed. */
  keep(entry: Entry): boolean {
    this.useHere(entry);
    const others = this.all().filter((kept) => kept.key !== entry.key);
    return this.lasting.set(ALL, JSON.stringify([entry, ...others].slice(0, MOST)));
  }

  /** Makes a membership this tab's own. */
  useHere(entry: Entry): void {
    this.tab.set(MINE, JSON.stringify([entry]));
  }

  /** Forgets a key that is worth nothing any more. */
  forget(key: string): void {
    const left = this.all().filter((kept) => kept.key !== key);
    this.lasting.set(ALL, JSON.stringify(left));
    const [own] = readEntries(this.tab.get(MINE));
    if (own?.key === key) this.tab.remove(MINE);
  }
}

/** A mark by which a secret is known again and from which it cannot be had back: FNV-1a, 32 bits. */
export function markOf(secret: string): string {
  let hash = 0x811c9dc5;
  for (const byte of new TextEncoder().encode(secret)) hash = Math.imul(hash ^ byte, 0x01000193) >>> 0;
  return hash.toString(16).padStart(8, '0');
}

function readEntries(text: string | null): Entry[] {
  if (text === null) return [];
  try {
    const value: unknown = JSON.parse(text);
    return Array.isArray(value) ? value.filter(isEntry) : [];
  } catch {
    return [];
  }
}

function isEntry(value: unknown): value is Entry {
  if (typeof value !== 'object' || value === null) return false;
  const entry = value as Partial<Record<keyof Entry, unknown>>;
  return [entry.key, entry.role, entry.name, entry.production].every((word) => typeof word === 'string');
}
