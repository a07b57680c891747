// Words as big as the glass allows: finds the largest size at which everything in a box still fits into it, whatever the
// words are. The size is put into the custom property `--fit`, in pixels; the style sheet makes what it will of it.
import { useLayoutEffect, useRef } from 'preact/hooks';

/** The smallest and the largest size, pixels. Below the smallest a box scrolls. */
const SIZES = { least: 15, most: 88 } as const;

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

function fit(box: HTMLElement): void {
  let { least, most } = SIZES as { least: number; most: number };
  // Words are kept whole while a size is looked for; only where even the smallest is too wide may one be broken.
  box.dataset['whole'] = 'true';
  while (most - least > 1) {
    const size = Math.round((least + most) / 2);
    if (fits(box, size)) least = size;
    else most = size;
  }
  const whole = fits(box, least);
  box.dataset['whole'] = String(whole);
  // What must be scrolled can be scrolled with the keyboard.
  if (whole) box.removeAttribute('tabindex');
  else box.tabIndex = 0;
}

function fits(box: HTMLElement, size: number): boolean {
  box.style.setProperty('--fit', `${size}px`);
  const parts = [box, ...box.querySelectorAll<HTMLElement>('.half')];
  return parts.every((part) => part.scrollWidth <= part.clientWidth) && box.scrollHeight <= box.clientHeight;
}
