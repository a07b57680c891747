// Words as big as the glass allows: finds the largest size at which everything in a box still fits into it, whatever the
// words are. The size is put into the custom property `--fit`, in pixels. It is done between a cue and the frame that
// shows it, so it asks the browser to lay out as seldom as it can, and what was found once is not looked for again.
import { useLayoutEffect, useRef } from 'preact/hooks';

/** The sizes that are tried, pixels. */
const SIZES = [10, 11, 13, 15, 17, 20, 23, 26, 30, 34, 40, 46, 52, 59, 66, 71, 76, 86] as const;
/** So many results are kept: more than a fight has moves. */
const MOST_KEPT = 1_000;
/** The size of letters in which `most` and `least` are meant, pixels: that of the page as usual. */
const USUAL_PX = 17;
/** Nothing is read at arm's length that is smaller: below it a box scrolls. */
const LEAST_PX = 15;

/** How a box is fitted. */
export interface Fitting {
  /** The largest letters, pixels where the text is as usual. */
  most: number;
  /** True where the smallest letters too are larger in a large text; what does not fit then is left for a touch. */
  grows?: boolean;
  /** Told whenever the box has been fitted, with it. */
  fitted?(box: HTMLElement): void;
}

/** A size by its place in `SIZES`, and whether everything fits. */
interface Setting {
  size: number;
  whole: boolean;
}

const found = new Map<string, Setting>();

/** Keeps the words of the box it is given to as large as they can be; looked at again whenever `words` changes. */
export function useFit(words: string, { most, grows = false, fitted }: Fitting) {
  const box = useRef<HTMLElement>(null);
  useLayoutEffect(() => {
    const element = box.current;
    if (element === null) return undefined;
    let last = '';
    const look = (): void => {
      // An observer speaks up once at the beginning, about a box that has been looked at already.
      const root = parseFloat(getComputedStyle(document.documentElement).fontSize) || USUAL_PX;
      const name = `${element.clientWidth}×${element.clientHeight} ${root} ${most} ${words}`;
      if (name === last) return;
      last = name;
      const scale = root / USUAL_PX;
      fit(element, name, { least: LEAST_PX * (grows ? scale : Math.min(1, scale)), most: most * scale });
      fitted?.(element);
    };
    look();
    const watch = new ResizeObserver(look);
    watch.observe(element);
    return () => watch.disconnect();
  }, [words, most, grows]);
  return box;
}

/** The smallest and the largest letters, pixels. */
interface Between {
  least: number;
  most: number;
}

function fit(box: HTMLElement, name: string, between: Between): void {
  const known = found.get(name);
  if (known === undefined) {
    if (found.size >= MOST_KEPT) found.clear();
    found.set(name, search(box, between));
  }
  const { size, whole } = found.get(name) ?? { size: 0, whole: false };
  set(box, size);
  box.dataset['whole'] = String(whole);
  // What must be scrolled can be scrolled with the keyboard.
  if (whole) box.removeAttribute('tabindex');
  else box.tabIndex = 0;
}

// Words are kept whole while a size is looked for; only where even the smallest is too wide may one be broken.
function search(box: HTMLElement, between: Between): Setting {
  box.dataset['whole'] = 'true';
  // Half a pixel less cannot be told from it.
  const first = SIZES.findIndex((size) => size >= between.least - 0.5);
  let [least, above] = [first - 1, SIZES.findLastIndex((size) => size <= between.most) + 1];
  while (above - least > 1) {
    const size = (least + above) >> 1;
    set(box, size);
    if (box.scrollHeight <= box.clientHeight && box.scrollWidth <= box.clientWidth) least = size;
    else above = size;
  }
  return { size: Math.max(first, least), whole: least >= first };
}

function set(box: HTMLElement, size: number): void {
  box.style.setProperty('--fit', `${SIZES[size] ?? SIZES[0]}px`);
}
