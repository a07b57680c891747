// What HOLD does is written on it until its person has been through two calls; from then on the word alone stands there,
// as large as it can be. The device remembers it.
import type { Store } from './platform';

const NAME = 'holdfast.calls';
/** After so many calls somebody knows. */
const ENOUGH = 2;

/** Whether a person still has to be told what HOLD does. Calls are told apart by their day. */
export class Caption {
  constructor(
    private readonly store: Store,
    private readonly today: () => string,
  ) {}

  /** True until two calls of earlier days had a run on this device. */
  get needed(): boolean {
    return this.#days().filter((day) => day !== this.today()).length < ENOUGH;
  }

  /** A run goes on this page. */
  ran(): void {
    const days = this.#days();
    if (days.includes(this.today()) || days.length > ENOUGH) return;
    this.store.set(NAME, [...days, this.today()].join());
  }

  #days(): string[] {
    return (this.store.get(NAME) ?? '').split(',').filter((day) => day !== '');
  }
}
