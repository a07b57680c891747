// Words as big as the glass allows: finds the largest size at which everything in a box still fits into it, whatever the
// words are. The size is put into the custom property `--fit`, in pixels; the style sheet makes what it will of it. It
// is done between a cue and the frame that shows it, so it asks the browser to lay out as seldom as it can, and what
// was found once is not looked for again.
import { useLayoutEffect, useRef } from 'preact/hooks';

/** The sizes that are tried, pixels, each an eighth larger than the one before. Below the smallest a box scrolls. */
const SIZES = [13, 15, 17, 19, 22, 25, 28, 32, 36, 41, 46, 52, 59, 67, 76, 88] as const;
/**
 * Ways to set a label and its words: one above the other, or side by side; the one with the larger words is taken. Only
 * where neither fits, side by side without the words "attack" and "reply": shape and place still say which is which.
 */
const FLOWS = ['stack', 'row', 'tight'] as const;
/** So many results are kept: more than a fight has moves. */
const MOST_KEPT = 1_000;

/** How a box is set: the size by its place in `SIZES`, and whether everything fits. */
interface Setting {
  flow: (typeof FLOWS)[number];
  size: number;
  whole: boolean;
}

const found = new Map<string, Setting>();

/** Keeps the words of the box it is given to as large as they can be; looked at anew whenever `words` changes. */
export function useFit(words: string) {
  const box = useRef<HTMLElement>(null);
  useLayoutEffect(() => {
    const element = box.current;
    if (element === null) return undefined;
    let last = '';
    const look = (): void => {
      // An observer speaks up once at the beginning, about a box that has been looked at already.
      const size = `${element.clientWidth}×${element.clientHeight}`;
      if (size === last) return;
      last = size;
      fit(element, `${size} ${document.documentElement.dataset['text'] ?? ''} ${words}`);
    };
    look();
    const watch = new ResizeObserver(look);
    watch.observe(element);
    return () => watch.disconnect();
  }, [words]);
  return box;
}

function fit(box: HTMLElement, name: string): void {
  const known = found.get(name);
  if (known === undefined) {
    if (found.size >= MOST_KEPT) found.clear();
    found.set(name, search(box));
  }
  const { flow, size, whole } = found.get(name) ?? { flow: 'stack', size: 0, whole: false };
  set(box, flow, size);
  box.dataset['whole'] = String(whole);
  // What must be scrolled can be scrolled with the keyboard.
  if (whole) box.removeAttribute('tabindex');
  else box.tabIndex = 0;
}

// Words are kept whole while a size is looked for; only where even the smallest is too wide may one be broken.
function search(box: HTMLElement): Setting {
  box.dataset['whole'] = 'true';
  let best: { flow: Setting['flow']; size: number } = { flow: 'tight', size: -1 };
  for (const flow of FLOWS) {
    if (flow === 'tight' && best.size >= 0) break;
    const size = largest(box, flow);
    if (size > best.size) best = { flow, size };
  }
  return best.size < 0 ? { flow: 'tight', size: 0, whole: false } : { ...best, whole: true };
}

// The place of the largest size that fits; −1 when none does.
function largest(box: HTMLElement, flow: string): number {
  const halves = [...box.querySelectorAll<HTMLElement>('.half')];
  let [least, most]: [number, number] = [-1, SIZES.length];
  while (most - least > 1) {
    const size = (least + most) >> 1;
    set(box, flow, size);
    const parts = [box, ...halves];
    const fits = box.scrollHeight <= box.clientHeight && parts.every((part) => part.scrollWidth <= part.clientWidth);
    if (fits) least = size;
    else most = size;
  }
  return least;
}

function set(box: HTMLElement, flow: string, size: number): void {
  box.dataset['flow'] = flow;
  box.style.setProperty('--fit', `${SIZES[size] ?? SIZES[0]}px`);
}
