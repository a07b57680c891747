// What the phone draws, by where the call stands.
import { counting, stageOf } from '../core/reading';
import { words } from '../core/words';
import { Newcomers } from '../ui/newcomers';
import { Refusals } from '../ui/parts';
import { noStartBySpace, Release, Step, Stop } from '../ui/powers';
import { drawInto, follow } from '../ui/draw';
import type { PhonePage } from './carried';
import { Counting } from './counting';
import { Places } from './places';
import { Standing } from './standing';

/** Draws the page, and draws it anew whenever what it knows changes. */
export function draw(page: PhonePage): void {
  noStartBySpace();
  const view = follow(page.session);
  drawInto(page.place, () => <Body page={page} view={view.value} />);
}

function Body({ page, view }: { page: PhonePage; view: PhonePage['session']['view'] }) {
  const { session } = page;
  const stage = stageOf(view);
  const captain = view.me?.role === 'captain';
  return (
    <>
      <Refusals view={view} session={session} />
      {!counting(view) && <Newcomers view={view} session={session} />}
      {captain && (
        <div class="powers">
          <Release view={view} session={session} />
          <Step view={view} session={session} />
          {!counting(view) && <Stop view={view} session={session} />}
        </div>
      )}
      {counting(view) && <Counting view={view} page={page} />}
      {stage === 'places' && <Places view={view} page={page} />}
      {stage !== null && !counting(view) && stage !== 'places' && <Standing view={view} page={page} />}
      {stage === null && <p class="lead">{words.stageUnknown}</p>}
    </>
  );
}
