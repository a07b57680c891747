// Small drawn parts that the phone and the desk share.
import { useRef, useState } from 'preact/hooks';
import type { ComponentChildren } from 'preact';
import { timeOfDay } from '../core/day';
import { titled } from '../core/names';
import type { View } from '../core/model';
import type { Session } from '../core/session';
import type { MoveView, Part } from '../core/wire';
import { words } from '../core/words';

/** What was asked and not done, and since when it stands there. Each stays until it is read, or has been done after all. */
export function Refusals({ view, session }: { view: View; session: Session }) {
  const since = useRef(new Map<number, string>());
  for (const { id } of view.refusals) if (!since.current.has(id)) since.current.set(id, timeOfDay(new Date()));
  return (
    <div class="refusals" role="alert">
      {view.refusals.map(({ id, reason }) => (
        <p key={id}>
          <span>
            <span lang={reason === words.notSent ? undefined : 'en'}>{reason}</span>{' '}
            <small>{since.current.get(id)}</small>
          </span>
          <button type="button" onClick={() => session.read(id)}>
            {words.dismiss}
          </button>
        </p>
      ))}
    </div>
  );
}

/** At places: what the loudspeakers do when a hold is called, where that is nothing. */
export function NoHoldCall({ view }: { view: View }) {
  return view.state?.hold_call === false ? <p class="bad">{words.noHoldCall}</p> : null;
}

/**
 * A move as a sheet has it: who does what, and who answers how. Attack and reply are told apart by place (the attack
 * from the left edge, the reply set in below it), by shape (a point, a bow) and by word; what the reader does is marked.
 */
export function Move({ move, part }: { move: MoveView; part?: Part }) {
  const given = move.to !== null || move.reply !== null;
  const to = move.reply === null ? move.to : null;
  return (
    <div class="move" data-part={part ?? 'watch'}>
      <Half kind={given ? 'attack' : 'action'} who={move.who} mine={part === 'act'} what={move.action}>
        {to !== null && <span class="to">{words.to(part === 'answer' ? words.you : titled(to))}</span>}
      </Half>
      {move.reply !== null && <Half kind="reply" who={move.to ?? ''} mine={part === 'answer'} what={move.reply} />}
      {move.text !== null && (
        <p class="text" dir="auto">
          “{move.text}”
        </p>
      )}
    </div>
  );
}

function Half(props: {
  kind: 'attack' | 'reply' | 'action';
  who: string;
  mine: boolean;
  what: string;
  children?: ComponentChildren;
}) {
  return (
    <p class={`half ${props.kind}`} data-mine={props.mine}>
      <span class="who">
        <svg viewBox="0 0 12 12" aria-hidden="true">
          <path d={props.kind === 'reply' ? BOW : POINT} />
        </svg>
        <span>{words[props.kind]}</span> <bdi>{props.mine ? words.you : titled(props.who)}</bdi>
      </span>{' '}
      <b dir="auto">{props.what}</b> {props.children}
    </p>
  );
}

/** The shapes: an attack comes to a point, a reply is a bow that stands against it. */
const POINT = 'M0 1 L12 6 L0 11 Z';
const BOW = 'M9 0 A6 6 0 0 0 9 12 L9 9.4 A3.4 3.4 0 0 1 9 2.6 Z';

// Whoever opened it with a key goes on in it with the keyboard.
function takeFocus(box: HTMLElement | null): void {
  if (box !== null && !box.contains(document.activeElement)) box.focus({ preventScroll: true });
}

/** A button that opens a question; what it asks is done only by a second press, on another button. */
export function Asked(props: {
  label: string;
  starts?: boolean;
  disabled?: boolean;
  /** What the button is called where its label alone would not tell what it is about. */
  name?: string;
  /** Anything whose change closes the question: what it was asked about is no longer so. */
  about?: string;
  /** What a key that opens it is called, and how it is drawn: for pages that have keys. */
  keyed?: { shortcut: string | undefined; drawn: ComponentChildren; use(open: () => void): void };
  children: (close: () => void) => ComponentChildren;
}) {
  const [open, setOpen] = useState<string | null>(null);
  const about = props.about ?? '';
  props.keyed?.use(() => setOpen(about));
  if (open === about) {
    return (
      <div class="asked" role="group" aria-label={props.name ?? props.label} tabIndex={-1} ref={takeFocus}>
        {props.children(() => setOpen(null))}
        <button type="button" onClick={() => setOpen(null)}>
          {words.cancel}
        </button>
      </div>
    );
  }
  return (
    <button
      type="button"
      aria-label={props.name}
      disabled={props.disabled ?? false}
      aria-keyshortcuts={props.keyed?.shortcut}
      onClick={() => setOpen(about)}
    >
      {props.label}
      {props.keyed?.drawn}
    </button>
  );
}
