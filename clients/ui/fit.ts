// Words as big as the glass allows: finds the largest size at which everything in a box still fits into it, whatever the
// words are. The size is put into the custom property `--fit`, in pixels; the style sheet makes what it will of it.
import { useLayoutEffect, useRef } from 'preact/hooks';

/** The smallest and the largest size, pixels. Below the smallest a box scrolls. */
const SIZES = { least: 13, most: 88 } as const;

/** Keeps the words of the box it is given to as large as they can be; looked at anew whenever `words` changes. */
export function useFit(words: string) {
  const box = useRef<HTMLElement>(null);
  useLayoutEffect(() => {
    const element = box.current;
    if (element === null) return undefined;
    fit(element);
    const watch = new ResizeObserver(() => fit(element));
    watch.observe(element);
    return () => watch.disconnect();
  }, [words]);
  return box;
}

/** Two ways to set a label and its words: one above the other, or side by side. The one with the larger words is taken. */
const FLOWS = ['stack', 'row'] as const;

function fit(box: HTMLElement): void {
  // Words are kept whole while a size is looked for; only where even the smallest is too wide may one be broken.
  box.dataset['whole'] = 'true';
  const sizes = FLOWS.map((flow) => ({ flow, size: largest(box, flow) }));
  const best = sizes.reduce((one, other) => (other.size > one.size ? other : one));
  const whole = fits(box, best.flow, best.size);
  box.dataset['whole'] = String(whole);
  // What must be scrolled can be scrolled with the keyboard.
  if (whole) box.removeAttribute('tabindex');
  else box.tabIndex = 0;
}

function largest(box: HTMLElement, flow: string): number {
  let { least, most } = SIZES as { least: number; most: number };
  while (most - least > 1) {
    const size = Math.round((least + most) / 2);
    if (fits(box, flow, size)) least = size;
    else most = size;
  }
  return least;
}

function fits(box: HTMLElement, flow: string, size: number): boolean {
  box.dataset['flow'] = flow;
  box.style.setProperty('--fit', `${size}px`);
  const parts = [box, ...box.querySelectorAll<HTMLElement>('.half')];
  return parts.every((part) => part.scrollWidth <= part.clientWidth) && box.scrollHeight <= box.clientHeight;
}
