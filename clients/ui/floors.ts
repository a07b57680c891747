// Fights on their stage, by name: asked for once, when the first picture of one is drawn, and kept while the page is open.
import { useEffect } from 'preact/hooks';
import type { FloorSheet } from '../core/wire';
import { signal } from './signal';

/** When it is asked again after no answer came, and how much longer each time, milliseconds. */
const AGAIN_MS = 2_000;
const LATEST_MS = 60_000;
/** More fights than somebody looks at in a row; the oldest are asked for again. */
const MOST = 4;

const known = signal<ReadonlyMap<string, FloorSheet | 'gone'>>(new Map());
const asked = new Set<string>();

/** The fight of that name on its stage, asked for with a personal key: nothing until it is here, `gone` where the server has it no more. */
export function useFloor(id: string | null, key: string): FloorSheet | 'gone' | null {
  useEffect(() => {
    if (id === null || asked.has(id)) return;
    asked.add(id);
    void ask(id, key, AGAIN_MS);
  }, [id, key]);
  return id === null ? 'gone' : (known.value.get(id) ?? null);
}

async function ask(id: string, key: string, again: number): Promise<void> {
  const found = await fetched(id, key);
  if (found === null) setTimeout(() => void ask(id, key, Math.min(again * 2, LATEST_MS)), again);
  else keep(id, found);
}

function keep(id: string, floor: FloorSheet | 'gone'): void {
  const floors = new Map(known.value).set(id, floor);
  for (const old of [...floors.keys()].slice(0, Math.max(0, floors.size - MOST))) {
    floors.delete(old);
    asked.delete(old);
  }
  known.value = floors;
}

// What the server does not have, it will not have; what did not come over a bad network may come yet.
async function fetched(id: string, key: string): Promise<FloorSheet | 'gone' | null> {
  try {
    const answer = await fetch(`/floors/${id}`, { headers: { authorization: `Bearer ${key}` } });
    if (answer.status === 404) return 'gone';
    return answer.ok ? ((await answer.json()) as FloorSheet) : null;
  } catch {
    return null;
  }
}
