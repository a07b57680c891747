// What a hold caught, for whoever finds out what happened: the moves that were under way, the caller's own first and with
// its picture, room for a note, who called and where their screens were, and what was noted.
import type { View } from '../core/model';
import { recordOf, stageOf } from '../core/reading';
import type { Session } from '../core/session';
import type { HoldView, MoveView } from '../core/wire';
import { words } from '../core/words';
import { Callers } from '../ui/callers';
import { Figure } from '../ui/figure';
import { Later } from '../ui/later';
import { Note } from '../ui/note';
import { InWords } from './now';
import { underWayAt } from './under-way';

/** More moves than these stand below the note: it is to be reached without looking for it. */
const FEW = 3;

/** The hold that stands, or after its release the one that ended the run. */
export function Held({ view, hold, session }: { view: View; hold: HoldView; session: Session }) {
  const [first, ...others] = underWayAt(hold, view.run, view.roster ?? []);
  const record = recordOf(view, hold);
  return (
    <article class="caught" aria-label={words.desk.underWay}>
      {first !== undefined && <Figure sheet={view.run} move={first} />}
      <div class="caught-words">
        <h3 class="lead">
          {first === undefined ? (hold.spot?.words ?? words.desk.nothingUnderWay) : <InWords move={first} />}
        </h3>
        {others.length <= FEW && <Also moves={others} />}
        <Later load={() => import('../ui/why')}>{({ Why }) => <Why view={view} hold={hold} session={session} />}</Later>
        <Note hold={hold} session={session} />
        <Callers hold={hold} screens />
        {record !== undefined && record.earlier_notes > 0 && <p>{words.earlierNotes(record.earlier_notes)}</p>}
        {(record?.notes ?? []).map((note, n) => (
          <p key={n} class="note">
            {note}
          </p>
        ))}
        {others.length > FEW && <Also moves={others} />}
        {stageOf(view) === 'held' && <p class="quiet">{words.stageNextDesk.held}</p>}
      </div>
    </article>
  );
}

function Also({ moves }: { moves: MoveView[] }) {
  if (moves.length === 0) return null;
  return (
    <div>
      <p class="quiet">{words.desk.alsoUnderWay}</p>
      <ul class="also">
        {moves.map((move, n) => (
          <li key={n}>
            <InWords move={move} />
          </li>
        ))}
      </ul>
    </div>
  );
}
