// The report of a near miss: where, why and with a name or without, as the company and the person choose. HOLD comes first, and
// stands below it as ever.
import { useState } from 'preact/hooks';
import { titled } from '../core/names';
import type { View } from '../core/model';
import { reasonText } from '../core/reasons';
import type { Session } from '../core/session';
import type { MovePlace, MoveView, RunSheet } from '../core/wire';
import { words } from '../core/words/near-miss';
import { intoSight } from './into-sight';

/** The report: where, why, a note, and a name or none. */
export function NearMissReport({ view, session, close }: { view: View; session: Session; close: () => void }) {
  // Where it was when this was opened, whatever runs or is set up since.
  const [sheet] = useState(view.run);
  const [place, setPlace] = useState(placeNow(view));
  const [reason, setReason] = useState<string | null>(null);
  const [note, setNote] = useState('');
  const [named, setNamed] = useState(false);
  const policy = view.why?.near_misses ?? 'no';
  const name = policy === 'named' || (policy === 'either' && named);
  return (
    <form
      ref={intoSight}
      onSubmit={(event) => {
        event.preventDefault();
        const said = { reason, note: note.trim() === '' ? null : note.trim() };
        session.ask({ kind: 'near-miss', run: sheet?.run ?? null, place, named: name, ...said });
        close();
      }}
    >
      <p>
        <b>{words.nearMiss.title}</b> {words.nearMiss.holdFirst}
      </p>
      {sheet !== null && <Where sheet={sheet} part={view.me?.part ?? null} place={place} choose={setPlace} />}
      <div class="choices" role="group" aria-label={words.nearMiss.why}>
        {(view.why?.reasons ?? []).map((each) => (
          <button
            type="button"
            key={each}
            aria-pressed={reason === each}
            onClick={() => setReason(reason === each ? null : each)}
          >
            {reasonText(each)}
          </button>
        ))}
      </div>
      <label>
        {words.nearMiss.note}
        <input
          maxLength={2_000}
          autocomplete="off"
          dir="auto"
          placeholder={words.nearMiss.noteHint}
          value={note}
          onInput={(event) => setNote(event.currentTarget.value)}
        />
      </label>
      {policy === 'either' && (
        <label class="tick">
          <input type="checkbox" checked={named} onChange={(event) => setNamed(event.currentTarget.checked)} />
          {words.nearMiss.withName}
        </label>
      )}
      <p class="quiet">{name ? words.nearMiss.named : words.nearMiss.unnamed}</p>
      <button type="submit" class="main">
        {words.nearMiss.send}
      </button>
    </form>
  );
}

function Where(props: {
  sheet: RunSheet;
  part: string | null;
  place: MovePlace | null;
  choose(place: MovePlace | null): void;
}) {
  const { sheet, part, place, choose } = props;
  const ofPhrase = (phrase: number): MoveView[] => sheet.moves.filter((move) => move.phrase === phrase);
  const moves = place === null ? [] : mineFirst(ofPhrase(place.phrase), part);
  const first = (phrase: number): MovePlace | null => {
    const move = mineFirst(ofPhrase(phrase), part)[0];
    return move === undefined ? null : { phrase, move: move.number };
  };
  return (
    <div class="row">
      <label>
        {words.nearMiss.phrase}
        <select
          value={place === null ? '' : String(place.phrase)}
          onChange={({ currentTarget: { value } }) => choose(value === '' ? null : first(Number(value)))}
        >
          <option value="">{words.nearMiss.nowhere}</option>
          {sheet.phrases.map(({ phrase, name }) => (
            <option key={phrase} value={String(phrase)}>
              {name}
            </option>
          ))}
        </select>
      </label>
      {place !== null && (
        <label>
          {words.nearMiss.move}
          <select
            value={String(place.move)}
            onChange={({ currentTarget: { value } }) => choose({ phrase: place.phrase, move: Number(value) })}
          >
            {moves.map((move) => (
              <option key={move.number} value={String(move.number)}>
                {words.nearMiss.moveOf(move.beat, moveWords(move))}
              </option>
            ))}
          </select>
        </label>
      )}
    </div>
  );
}

/** Where the reader was last, as far as the page knows: at the hold, else where the run is. */
function placeNow({ state, shown }: View): MovePlace | null {
  const now = shown?.cue.moves.find(({ part }) => part !== 'watch') ?? shown?.cue.moves[0];
  if (now !== undefined) return { phrase: now.move.phrase, move: now.move.number };
  const spot = state?.hold?.spot ?? state?.released?.spot ?? state?.spot ?? null;
  return spot === null || spot.move === null ? null : { phrase: spot.phrase, move: spot.move };
}

// One's own moves are what one knows best.
function mineFirst(moves: MoveView[], part: string | null): MoveView[] {
  const mine = (move: MoveView): boolean => move.who === part || move.to === part;
  return [...moves.filter(mine), ...moves.filter((move) => !mine(move))];
}

function moveWords({ who, action, to, reply }: MoveView): string {
  const answer = reply === null ? '' : ` / ${titled(to ?? '')} ${reply}`;
  return `${titled(who)} ${action}${answer}`;
}
