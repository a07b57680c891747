// The phone page: a performer's, a captain's, or anybody's who follows.
import { render } from 'preact';
import { bringUp, type Page } from '../core/page';
import { counting, stageOf } from '../core/reading';
import { words } from '../core/words';
import { Boundary } from '../ui/boundary';
import { Refusals } from '../ui/parts';
import { noStartBySpace, Release, Step, Stop } from '../ui/powers';
import { follow } from '../ui/store';
import { Counting } from './counting';
import { Places } from './places';
import { Standing } from './standing';

const page = bringUp((role) => role !== 'desk', null);
noStartBySpace();

if (page !== null) {
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
      {captain && (
        <div class="powers">
          <Release view={view} session={session} />
          <Step view={view} session={session} />
          <Stop view={view} session={session} />
        </div>
      )}
      {counting(view) && <Counting view={view} session={session} />}
      {stage === 'places' && <Places view={view} page={page} />}
      {stage !== null && !counting(view) && stage !== 'places' && <Standing view={view} page={page} />}
      {stage === null && <p class="lead">{words.stageUnknown}</p>}
    </>
  );
}
