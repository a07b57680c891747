// HOLD: the one control that is on every page, in every state. It is plain DOM outside whatever draws the rest, so that
// a fault in drawing cannot take it away. It acts when a finger touches it, not when it is lifted.
import type { Caption } from './caption';
import type { Guard } from './guard';
import type { View } from './model';
import { counting, stageOf } from './reading';
import { words } from './words';

/** What is written on HOLD. */
export interface HoldFace {
  look: 'plain' | 'sending' | 'untold' | 'held' | 'guarded';
  word: string;
  detail: string;
}

/**
 * What must stand on HOLD, from what the page knows. `rest` is what it says while nothing is the matter; empty for
 * somebody who knows it.
 */
export function holdFace(view: View, rest: string): HoldFace {
  const held = stageOf(view) === 'held';
  if (view.tap === 'untold') return { look: 'untold', word: words.untold, detail: words.holdUntold };
  if (view.tap === 'refused') return { look: 'untold', word: words.untold, detail: words.holdRefused };
  if (view.tap === 'sending') return { look: 'sending', word: words.hold, detail: words.holdSending };
  if (held) return { look: 'held', word: called(view) ? words.holdMine : words.holdToo, detail: heldDetail(view) };
  if (view.link === 'barred' || view.link === 'elsewhere')
    return { look: 'plain', word: words.hold, detail: words.holdBarred };
  if (view.link !== 'linked') return { look: 'plain', word: words.hold, detail: words.holdNoLink };
  if (view.tap === 'late') return { look: 'plain', word: words.hold, detail: words.holdLate };
  return { look: 'plain', word: words.hold, detail: rest };
}

function heldDetail(view: View): string {
  const hold = view.state?.hold ?? null;
  const callers = hold === null ? [] : [words.calledBy(hold)];
  const written = hold?.written === true ? words.holdWritten : unwritten(view);
  return [...callers, words.holdTold, written, ...(called(view) ? [] : [words.holdAgain])].join(' ');
}

// Of many callers only some are named: this page's own tap counts although its name is not among them.
function called(view: View): boolean {
  const named = view.state?.hold?.callers.some((caller) => caller.member === view.me?.member) ?? false;
  return named || view.tap === 'held' || view.tap === 'written' || view.tap === 'unkept';
}

// Where the server keeps no log, nobody is to wait for it.
function unwritten(view: View): string {
  return view.tap === 'unkept' ? words.holdUnkept : words.holdNotWritten;
}

/** What works HOLD besides a finger on it. */
export interface HoldHelp {
  /** The key that holds from anywhere on the page, if there is one. */
  key: string | null;
  /** While it is on, HOLD takes a slide. */
  guard: Guard | null;
  /** Whether this person still has to be told what HOLD does. */
  caption: Caption;
}

/** Puts HOLD into `place`. */
export function mountHold(place: HTMLElement, hold: () => void, help: HoldHelp): (view: View) => void {
  const { key, guard, caption } = help;
  const button = document.createElement('button');
  button.type = 'button';
  const word = button.appendChild(document.createElement('strong'));
  const detail = button.appendChild(document.createElement('span'));
  const aloud = document.createElement('p');
  aloud.className = 'unseen';
  aloud.setAttribute('role', 'alert');
  place.append(button, aloud);

  button.addEventListener('pointerdown', (event) => {
    if (event.button !== 0) return;
    event.preventDefault();
    if (guard?.on !== true) hold();
    else guard.down(event.clientX, event.timeStamp);
  });
  // A click without a pointer comes from a keyboard or a reader; one with a pointer was obeyed when it went down.
  button.addEventListener('click', (event) => {
    if (event.detail === 0 && (guard?.on !== true || guard.pressed(event.timeStamp))) hold();
  });
  if (guard !== null) slideable(button, guard, hold);
  // A key that is held down is one tap.
  button.addEventListener('keydown', (event) => event.repeat && event.preventDefault());
  button.addEventListener('contextmenu', (event) => event.preventDefault());
  if (key !== null) holdOnKey(key, hold);

  // Whoever works with a finger has no such key.
  const keyed = key !== null && !matchMedia('(pointer: coarse)').matches;
  let last: View | null = null;
  const draw = (view: View): void => {
    last = view;
    if (counting(view)) caption.ran();
    const rest = keyed ? keySays(caption.needed) : caption.needed ? words.holdStops : '';
    const bare = holdFace(view, rest);
    const face: HoldFace = guard?.on === true && bare.look === 'plain' ? guarded() : bare;
    button.dataset['look'] = face.look;
    // A foot is higher where it has more to say than what everybody knows.
    document.body.dataset['says'] = face.look === 'plain' && face.detail === rest ? 'rest' : 'more';
    document.body.dataset['tap'] = view.tap;
    setText(word, face.word);
    setText(detail, face.detail);
    setText(aloud, face.look === 'plain' ? '' : `${face.word}. ${face.detail}`);
  };
  const again = (): void => void (last !== null && draw(last));
  guard?.listen(again);
  if (keyed) onFirstToClose(again);
  return draw;
}

const guarded = (): HoldFace => ({ look: 'guarded', word: words.holdSlide, detail: words.holdSlideHow });

function slideable(button: HTMLButtonElement, guard: Guard, hold: () => void): void {
  // The capture keeps a slide that leaves the button; a browser that has none just ends it at the edge.
  button.addEventListener('pointerdown', (event) => guard.on && button.setPointerCapture(event.pointerId));
  button.addEventListener('pointermove', (event) => {
    if (guard.moved(event.clientX, button.clientWidth)) hold();
  });
  for (const end of ['pointerup', 'pointercancel'] as const)
    button.addEventListener(end, (event) => guard.up(event.timeStamp));
}

// What the key closes first while it is open: a list of words under the letters that somebody types. Nothing else may
// bear this mark, for whoever reaches for HOLD must not find a panel in the way.
export const CLOSES_FIRST = 'data-closes-before-hold';

/** Whether the key closes something now instead of holding. */
function closesFirst(): boolean {
  return document.querySelector(`[${CLOSES_FIRST}]`) !== null;
}

function keySays(all: boolean): string {
  if (closesFirst()) return words.holdKeyCloses;
  return all ? words.holdKey : words.holdKeyShort;
}

// What bears the mark comes and goes with what is drawn.
function onFirstToClose(listener: () => void): void {
  let before = closesFirst();
  const look = (): void => {
    const now = closesFirst();
    if (now === before) return;
    before = now;
    listener();
  };
  new MutationObserver(look).observe(document.body, { childList: true, subtree: true });
}

// In the capturing phase, so that no field and no panel can keep the key for itself.
function holdOnKey(key: string, hold: () => void): void {
  window.addEventListener(
    'keydown',
    (event) => {
      if (event.key !== key || event.repeat) return;
      event.preventDefault();
      if (!closesFirst()) hold();
    },
    { capture: true },
  );
}

/** Writes text only where it has changed, so that a reader does not say it twice. */
export function setText(element: HTMLElement, text: string): void {
  if (element.textContent !== text) element.textContent = text;
}
