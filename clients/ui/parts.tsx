// Small drawn parts that the phone and the desk share.
import { useState } from 'preact/hooks';
import type { ComponentChildren } from 'preact';
import type { View } from '../core/model';
import type { Session } from '../core/session';
import type { MoveView, Part } from '../core/wire';
import { words } from '../core/words';

/** What was asked and not done. Each stays until it is read. */
export function Refusals({ view, session }: { view: View; session: Session }) {
  return (
    <div class="refusals" role="alert">
      {view.refusals.map(({ id, reason }) => (
        <p key={id}>
          <span>{reason}</span>
          <button type="button" onClick={() => session.read(id)}>
            {words.dismiss}
          </button>
        </p>
      ))}
    </div>
  );
}

/** A move as a sheet has it: who does what, and who answers how. What the reader does is marked. */
export function Move({ move, part }: { move: MoveView; part?: Part }) {
  return (
    <div class="move" data-part={part ?? 'watch'}>
      <p class={part === 'act' ? 'mine' : undefined}>
        <span class="who">{part === 'act' ? words.you : move.who}</span> <b>{move.action}</b>{' '}
        {move.to !== null && move.reply === null && (
          <span class="to">{words.to(part === 'answer' ? words.you : move.to)}</span>
        )}
      </p>
      {move.reply !== null && (
        <p class={part === 'answer' ? 'mine' : undefined}>
          <span class="who">{part === 'answer' ? words.you : (move.to ?? '')}</span> <b>{move.reply}</b>
        </p>
      )}
      {move.text !== null && <p class="text">“{move.text}”</p>}
    </div>
  );
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
  children: (close: () => void) => ComponentChildren;
}) {
  const [open, setOpen] = useState<string | null>(null);
  const about = props.about ?? '';
  if (open === about) {
    return (
      <div class="asked" role="group" aria-label={props.name ?? props.label}>
        {props.children(() => setOpen(null))}
        <button type="button" onClick={() => setOpen(null)}>
          {words.cancel}
        </button>
      </div>
    );
  }
  return (
    <button type="button" aria-label={props.name} disabled={props.disabled ?? false} onClick={() => setOpen(about)}>
      {props.label}
    </button>
  );
}
