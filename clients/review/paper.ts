// The review's markup on the page. It comes from the server as a whole and is never drawn here: this file puts it in its
// place, fills folds when they are opened, and makes marks and links tell their hold. What is open stays open, and what
// has the focus keeps it, when a newer review takes the place of an older one.
import { words } from '../core/words/review';
import { eventOf } from './filter';

/** What the markup can ask for. */
export interface Acts {
  /** Tells one of these events, the newest first; `from` gets the focus back. */
  tell(events: number[], from: Element): void;
  /** The body of a fold. */
  part(name: string): Promise<string | null>;
}

/** Markup in a place. */
export class Paper {
  #shown = '';

  constructor(
    private readonly place: HTMLElement,
    private readonly acts: Acts,
  ) {
    place.addEventListener('click', (event) => this.#click(event));
    place.addEventListener('keydown', (event) => walkMarks(event));
    place.addEventListener('toggle', (event) => void this.#opened(event.target), { capture: true });
    new ResizeObserver(() => readyScrolls(place)).observe(place);
  }

  /** Shows a review. */
  show(markup: string): void {
    if (markup === this.#shown) return;
    this.#shown = markup;
    const open = new Map(folds(this.place).map((fold) => [fold.dataset['part'], bodyOf(fold)]));
    const focus = pathOf(this.place);
    const fresh = document.createElement('template');
    fresh.innerHTML = markup;
    wrap(fresh.content);
    readyMarks(fresh.content);
    for (const fold of fresh.content.querySelectorAll<HTMLDetailsElement>('details[data-part]')) {
      const before = open.get(fold.dataset['part']);
      if (before === undefined) continue;
      fold.append(...before);
      fold.open = true;
    }
    this.place.replaceChildren(fresh.content);
    readyScrolls(this.place);
    if (focus !== null) this.place.querySelector<HTMLElement>(focus)?.focus({ preventScroll: true });
  }

  // A fold that was open keeps its old body until the new one has come.
  async #opened(target: EventTarget | null): Promise<void> {
    if (!(target instanceof HTMLDetailsElement) || !target.open) return;
    const name = target.dataset['part'];
    if (name === undefined) return;
    if (bodyOf(target).length === 0) target.append(waiting());
    const markup = await this.acts.part(name);
    const body = document.createElement('template');
    if (markup !== null) body.innerHTML = markup;
    wrap(body.content);
    for (const old of bodyOf(target)) old.remove();
    target.append(body.content);
    readyScrolls(this.place);
  }

  #click(event: MouseEvent): void {
    const link = event.target instanceof Element ? event.target.closest('a') : null;
    const to = link?.getAttribute('href') ?? '';
    if (link === null || !to.startsWith('#')) return;
    const events = eventsAt(this.place, to);
    if (events.length === 0) return;
    event.preventDefault();
    this.acts.tell(events, link);
  }
}

/** The events that a link leads to: one, or those of the move of a mark, newest first. */
function eventsAt(place: Element, to: string): number[] {
  const one = eventOf(to);
  if (one !== null) return [one];
  if (!/^#f\d+p\d+m\d+$/.test(to)) return [];
  const links = place.querySelectorAll(`${to} a[href^="#e"]`);
  const events = [...links].flatMap((link) => eventOf(link.getAttribute('href') ?? '') ?? []);
  return events.sort((a, b) => b - a);
}

/** Strips that are wider than the glass move by themselves, in a box of their own; tables come in theirs. */
function wrap(content: DocumentFragment): void {
  for (const wide of content.querySelectorAll('figure.phrase > svg')) {
    if (wide.closest('.scroll') !== null) continue;
    const box = document.createElement('div');
    box.className = 'scroll';
    wide.replaceWith(box);
    box.append(wide);
  }
}

/** A box that moves can be moved with the keys as well; one that does not is no stop of the Tab key. */
function readyScrolls(place: HTMLElement): void {
  for (const box of place.querySelectorAll<HTMLElement>('.scroll')) {
    const moves = box.scrollWidth > box.clientWidth && box.querySelector('svg a') === null;
    if (!moves) {
      for (const name of ['tabindex', 'role', 'aria-label']) box.removeAttribute(name);
      continue;
    }
    box.tabIndex = 0;
    box.setAttribute('role', 'region');
    box.setAttribute('aria-label', nameOf(box));
  }
}

/** What a box is called, so that no two are called the same: its section, the fold or heading above it, its caption. */
function nameOf(box: Element): string {
  let above: Element | null = box;
  while (above !== null && !/^(h[2-4]|summary)$/.test(above.localName)) above = above.previousElementSibling;
  const names = [box.closest('section')?.querySelector('h2'), above, box.querySelector('h2, h3, h4, caption')];
  return [...new Set(names.flatMap((name) => name?.textContent ?? []))].join(': ');
}

/** The marks of a strip are one stop of the Tab key; the arrows go from one to the next. */
function readyMarks(content: DocumentFragment): void {
  for (const strip of content.querySelectorAll('figure.phrase')) {
    const picture = strip.querySelector('svg');
    const [first] = marksOf(strip);
    if (picture === null || first === undefined) continue;
    picture.removeAttribute('aria-hidden');
    picture.setAttribute('role', 'group');
    picture.setAttribute('aria-label', words.review.marks(strip.querySelector('h4')?.firstChild?.textContent ?? ''));
    for (const text of picture.querySelectorAll('text')) text.setAttribute('aria-hidden', 'true');
    first.setAttribute('tabindex', '0');
  }
}

function marksOf(strip: Element): SVGAElement[] {
  return [...strip.querySelectorAll<SVGAElement>('svg a')];
}

function walkMarks(event: KeyboardEvent): void {
  const mark = event.target instanceof SVGElement ? event.target.closest<SVGAElement>('svg a') : null;
  const strip = mark?.closest('figure.phrase');
  if (mark === null || strip == null) return;
  const marks = marksOf(strip);
  const at = marks.indexOf(mark);
  const to = { ArrowLeft: at - 1, ArrowRight: at + 1, Home: 0, End: marks.length - 1 }[event.key];
  const next = to === undefined ? undefined : marks[to];
  if (next === undefined) return;
  event.preventDefault();
  for (const each of marks) each.setAttribute('tabindex', each === next ? '0' : '-1');
  next.focus();
}

function folds(place: Element): HTMLDetailsElement[] {
  return [...place.querySelectorAll<HTMLDetailsElement>('details[data-part][open]')];
}

function bodyOf(fold: Element): Element[] {
  return [...fold.children].filter((child) => child.localName !== 'summary');
}

function waiting(): Element {
  const text = document.createElement('p');
  text.textContent = words.review.opening;
  return text;
}

/** Where the focus is, so that it can be found again in newer markup. */
function pathOf(place: Element): string | null {
  const focused = document.activeElement;
  if (focused === null || focused === place || !place.contains(focused)) return null;
  const href = focused.getAttribute('href');
  if (href !== null) return `${focused instanceof SVGElement ? 'svg ' : ''}a[href="${CSS.escape(href)}"]`;
  const part = focused.closest<HTMLElement>('details[data-part]')?.dataset['part'];
  return part === undefined ? null : `details[data-part="${CSS.escape(part)}"] > summary`;
}
