// Two texts that change the same lines, side by side. Nothing is decided by the page: for each place a person takes one
// side or both, and what comes of it is a draft again, to be looked at and saved.
import { useEffect, useRef, useState } from 'preact/hooks';
import type { MergePiece, SaveConflict } from '../core/wire';
import { words } from '../core/words/score';
import type { Studio } from './studio';

/** So many agreed lines are shown beside a disputed place. */
const BESIDE = 2;

/** What is taken of a place that both changed. */
export type Side = 'mine' | 'theirs' | 'both';

/** The whole text, with a side taken at each place; nothing while one is not decided. */
export function settled(pieces: readonly MergePiece[], sides: readonly (Side | undefined)[]): string | null {
  let text = '';
  let place = 0;
  for (const piece of pieces) {
    if (piece.piece === 'agreed') {
      text += piece.text;
      continue;
    }
    const side = sides[place];
    place += 1;
    if (side === undefined) return null;
    text += side === 'both' ? piece.mine + piece.theirs : piece[side];
  }
  return text;
}

/** The places, and what can be done about them. */
export function Conflict({ studio, conflict }: { studio: Studio; conflict: SaveConflict }) {
  const [sides, setSides] = useState<(Side | undefined)[]>([]);
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus(), [conflict]);
  const text = settled(conflict.pieces, sides);
  const theirs = words.score.theirs(conflict.by?.who ?? words.score.somebody);
  let place = -1;
  return (
    <section class="conflict" aria-label={words.score.conflictTitle}>
      <h2 tabIndex={-1} ref={heading}>
        {words.score.conflictTitle}
      </h2>
      <p>
        {words.score.conflictText(conflict.by?.who ?? words.score.somebody)}
        {conflict.by?.why != null && ` ${words.score.theirWhy(conflict.by.why)}`}
      </p>
      {conflict.pieces.map((piece, n) => {
        if (piece.piece === 'agreed') {
          return <Agreed key={n} text={piece.text} first={n === 0} last={n === conflict.pieces.length - 1} />;
        }
        place += 1;
        const at = place;
        const choose = (side: Side) => setSides(Object.assign([...sides], { [at]: side }));
        return (
          <fieldset key={n} class="place">
            <legend>{words.score.place(at + 1)}</legend>
            <Version title={words.score.mine} text={piece.mine} taken={sides[at] === 'mine' || sides[at] === 'both'} />
            <Version title={theirs} text={piece.theirs} taken={sides[at] === 'theirs' || sides[at] === 'both'} />
            <div class="choices">
              {(['mine', 'theirs', 'both'] as const).map((side) => (
                <button type="button" key={side} aria-pressed={sides[at] === side} onClick={() => choose(side)}>
                  {words.score.takeSide[side]}
                </button>
              ))}
            </div>
          </fieldset>
        );
      })}
      <div class="choices">
        <button
          type="button"
          class="main"
          disabled={text === null}
          onClick={() => text !== null && studio.settle(text.replaceAll('\r\n', '\n'))}
        >
          {words.score.settle}
        </button>
        <button type="button" onClick={() => (studio.conflict.value = null)}>
          {words.score.settleLater}
        </button>
      </div>
    </section>
  );
}

// Of long stretches that nobody disputes, only what is next to a disputed place is shown.
function Agreed({ text, first, last }: { text: string; first: boolean; last: boolean }) {
  const lines = text.split('\n').slice(0, -1);
  const before = first ? [] : lines.slice(0, BESIDE);
  const after = last ? [] : lines.slice(Math.max(before.length, lines.length - BESIDE));
  const left = lines.length - before.length - after.length;
  const shown = [...before, ...(left > 0 ? [words.score.linesLeftOut(left)] : []), ...after];
  return <pre class="agreed">{shown.join('\n')}</pre>;
}

function Version({ title, text, taken }: { title: string; text: string; taken: boolean }) {
  return (
    <div class="version" data-taken={taken}>
      <h3>{title}</h3>
      <pre>{text === '' ? words.score.nothingThere : text}</pre>
    </div>
  );
}
