// A run that begins in the middle of a phrase: how everybody stands before its first move, one's own first.
import type { View } from '../core/model';
import { titled } from '../core/names';
import { runOf } from '../core/reading';
import type { StandView } from '../core/wire';
import { words } from '../core/words';

/** Where everybody is when it begins; nothing for a run that begins with its phrase. */
export function BeginAt({ view }: { view: View }) {
  const run = runOf(view);
  const begins = run?.begins ?? null;
  if (run === null || begins === null) return null;
  const part = view.me?.part ?? null;
  const own = begins.stands.find((stand) => stand.fighter === part);
  const others = begins.stands.filter((stand) => stand !== own);
  return (
    <section class="card begin-at">
      <h2 dir="auto">{words.beginsAt(run.phrases[0]?.name ?? '', begins.number, begins.beat)}</h2>
      {own !== undefined && <p class="lead">{words.youStand(says(own))}</p>}
      <ul>
        {others.map((stand) => (
          <li key={stand.fighter}>
            <b dir="auto">{titled(stand.fighter)}</b>: {says(stand)}
          </li>
        ))}
      </ul>
    </section>
  );
}

function says({ on_mark, x, y, posture, hands }: StandView): string {
  const where = on_mark ? words.onMark : x === null || y === null ? words.whereUnknown : words.feet.at(x, y);
  const held = hands.map(({ weapon, hand }) => words.inHand(weapon, hand));
  return [where, words.posture[posture], ...(held.length === 0 ? [words.emptyHands] : held)].join(', ');
}
