// What a hold caught, for whoever finds out what happened: the moves that were under way, the caller's own first and with
// its picture, room for a note, who called and where their screens were, and what was noted.
import type { View } from '../core/model';
import { recordOf, stageOf } from '../core/reading';
import type { Session } from '../core/session';
import type { HoldView } from '../core/wire';
import { words } from '../core/words';
import { Figure } from '../ui/figure';
import { CalledAndNoted } from '../ui/hold-text';
import { Later } from '../ui/later';
import { Note } from '../ui/note';
import { moveOf } from './caught';
import { InWords } from './now';

/** More moves than these stand below the note: it is to be reached without looking for it. */
const FEW = 3;

/** The hold that stands, or after its release the one that ended the run. */
export function Held({ view, hold, session }: { view: View; hold: HoldView; session: Session }) {
  const move = moveOf(hold, view);
  const few = hold.also.length <= FEW;
  return (
    <article class="caught" aria-label={words.desk.underWay}>
      {move !== null && <Figure sheet={view.run} move={move} />}
      <div class="caught-words">
        <h3 class="lead">
          {move === null ? (hold.spot?.words ?? words.desk.nothingUnderWay) : <InWords move={move} />}
        </h3>
        {few && <Also moves={hold.also} />}
        <Later load={() => import('../ui/why')}>{({ Why }) => <Why view={view} hold={hold} session={session} />}</Later>
        <Note hold={hold} session={session} />
        <CalledAndNoted hold={hold} record={recordOf(view, hold)} />
        {!few && <Also moves={hold.also} />}
        {stageOf(view) === 'held' && <p class="quiet">{words.stageNextDesk.held}</p>}
      </div>
    </article>
  );
}

// In the words of the server, which knows what every pair had begun.
function Also({ moves }: { moves: string[] }) {
  if (moves.length === 0) return null;
  return (
    <div>
      <p class="quiet">{words.desk.alsoUnderWay}</p>
      <ul class="also">
        {moves.map((move, n) => (
          <li key={n} dir="auto">
            {move}
          </li>
        ))}
      </ul>
    </div>
  );
}
