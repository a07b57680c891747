// What a page knows besides the view: values that are drawn anew when they change. Whatever changes, everything that was drawn
// is drawn again, as it is with every message of the server; what needs more care than that memoises it.
import { useLayoutEffect, useState } from 'preact/hooks';

const roots = new Set<() => void>();

/** Draws the caller, and with it what stands in it, again whenever any signal has changed. */
export function useSignals(): void {
  const [, again] = useState({});
  useLayoutEffect(() => {
    const draw = (): void => again({});
    roots.add(draw);
    return () => void roots.delete(draw);
  }, []);
}

/** A value that is drawn. */
export class Signal<T> {
  #value: T;
  readonly #listeners: ((value: T) => void)[] = [];

  constructor(value: T) {
    this.#value = value;
  }

  /** The value now. */
  get value(): T {
    return this.#value;
  }

  set value(value: T) {
    if (Object.is(value, this.#value)) return;
    this.#value = value;
    for (const listener of this.#listeners) listener(value);
    for (const draw of roots) draw();
  }

  /** Calls `listener` with the value now and at every change. */
  subscribe(listener: (value: T) => void): void {
    this.#listeners.push(listener);
    listener(this.#value);
  }
}

/** A value that is drawn, and may change. */
export function signal<T>(value: T): Signal<T> {
  return new Signal(value);
}
