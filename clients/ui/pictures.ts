// Pictures of moves, by the name of their set: asked for once, when the first of them is drawn, and kept while the page is
// open. Where they do not come, the words stand alone as they did.
import { signal } from './signal';
import type { PictureSet, PictureView } from '../core/wire';

/** When it is asked again after no answer came, and how much longer each time, milliseconds. */
const AGAIN_MS = 2_000;
const LATEST_MS = 60_000;
/** More fights than somebody looks at in a row; the oldest are asked for again. */
const MOST = 8;

const known = signal<ReadonlyMap<string, PictureView[]>>(new Map());
const asked = new Set<string>();

/** The picture of that number in the set of that name; nothing until the set is here. */
export function pictureOf(set: string | null, number: number | null): PictureView | null {
  return set === null || number === null ? null : (known.value.get(set)?.[number] ?? null);
}

/** Sees to it that the set of that name comes. */
export function wantPictures(set: string | null): void {
  if (set === null || asked.has(set)) return;
  asked.add(set);
  void ask(set, AGAIN_MS);
}

/** Keeps the pictures of a set that is here already. */
export function keepPictures(set: string | null, pictures: PictureView[]): void {
  if (set === null) return;
  asked.add(set);
  known.value = new Map(known.value).set(set, pictures);
}

async function ask(set: string, again: number): Promise<void> {
  const found = await fetched(set);
  if (found === 'gone') return;
  if (found !== null) keep(set, found.pictures);
  else setTimeout(() => void ask(set, Math.min(again * 2, LATEST_MS)), again);
}

function keep(set: string, pictures: PictureView[]): void {
  const sets = new Map(known.value).set(set, pictures);
  for (const old of [...sets.keys()].slice(0, Math.max(0, sets.size - MOST))) {
    sets.delete(old);
    asked.delete(old);
  }
  known.value = sets;
}

// What the server does not have, it will not have; what did not come over a bad network may come yet.
async function fetched(set: string): Promise<PictureSet | 'gone' | null> {
  try {
    const answer = await fetch(`/pictures/${set}`);
    if (answer.status === 404) return 'gone';
    return answer.ok ? ((await answer.json()) as PictureSet) : null;
  } catch {
    return null;
  }
}
