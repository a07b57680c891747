// What the phone draws, by where the call stands.
import { render } from 'preact';
import type { Page } from '../core/page';
import { counting, stageOf } from '../core/reading';
import { words } from '../core/words';
import { Boundary } from '../ui/boundary';
import { Newcomers } from '../ui/newcomers';
import { Refusals } from '../ui/parts';
import { noStartBySpace, Release, Step, Stop } from '../ui/powers';
import { follow } from '../ui/store';
import { Counting } from './counting';
import { Places } from './places';
import { Standing } from './standing';

/** Draws the page, and draws it anew whenever what it knows changes. */
export function draw(page: Page): void {
  noStartBySpace();
  const view = follow(page.session);
  const Phone = () => <Body page={page} view={view.value} />;
  render(
    <Boundary>
      <Phone />
    </Boundary>,
    page.place,
  );
}

function Body({ page, view }: { page: Page; view: Page['session']['view'] }) {
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
      {counting(view) && <Counting view={view} session={session} />}
      {stage === 'places' && <Places view={view} page={page} />}
      {stage !== null && !counting(view) && stage !== 'places' && <Standing view={view} page={page} />}
      {stage === null && <p class="lead">{words.stageUnknown}</p>}
    </>
  );
}
