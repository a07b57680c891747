// The pictures of a run's moves: asked for once, when the first of them is drawn, and kept while the page is open. Where
// they do not come, the words stand alone as they did.
import { signal } from '@preact/signals';
import type { PictureSet, PictureView } from '../core/wire';

/** When it is asked again after no answer came, and how much longer each time, milliseconds. */
const AGAIN_MS = 2_000;
const LATEST_MS = 60_000;

const known = signal<{ name: string; pictures: PictureView[] } | null>(null);
let wanted: string | null = null;

/** The picture of that number in the set of that name; nothing until the set is here. */
export function pictureOf(name: string | null, number: number | null): PictureView | null {
  const set = known.value;
  return name === null || number === null || set?.name !== name ? null : (set.pictures[number] ?? null);
}

/** Sees to it that the set of that name comes. */
export function wantPictures(name: string | null): void {
  if (name === null || name === wanted) return;
  wanted = name;
  void ask(name, AGAIN_MS);
}

async function ask(name: string, again: number): Promise<void> {
  const set = await fetched(name);
  if (name !== wanted) return;
  if (set === 'gone') return;
  if (set !== null) known.value = { name, pictures: set.pictures };
  else setTimeout(() => void ask(name, Math.min(again * 2, LATEST_MS)), again);
}

// What the server does not have, it will not have; what did not come over a bad network may come yet.
async function fetched(name: string): Promise<PictureSet | 'gone' | null> {
  try {
    const answer = await fetch(`/pictures/${name}`);
    if (answer.status === 404) return 'gone';
    return answer.ok ? ((await answer.json()) as PictureSet) : null;
  } catch {
    return null;
  }
}
