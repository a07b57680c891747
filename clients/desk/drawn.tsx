// What the desk draws: the stage manager's whole call on one screen.
import { render } from 'preact';
import type { Page } from '../core/page';
import { stageOf } from '../core/reading';
import { fetchHome } from '../part/fetch-home';
import { TakeHome } from '../part/take-home';
import { Boundary } from '../ui/boundary';
import { Later } from '../ui/later';
import { Newcomers } from '../ui/newcomers';
import { Refusals } from '../ui/parts';
import { noStartBySpace } from '../ui/powers';
import { follow } from '../ui/store';
import { Amiss } from './amiss';
import { Call } from './call';
import { Checks, FoldedChecks } from './checks';
import { Holds } from './holds';
import { House } from './house';
import { Invitations } from './invitations';
import { listenToKeys } from './keys';
import { KeysPanel } from './keys-panel';
import { ReadyPegs } from './pegs';
import { People } from './roster';
import { Run } from './run';
import { Top } from './top';

/** Draws the page, and draws it anew whenever what it knows changes. */
export function draw(page: Page): void {
  noStartBySpace();
  listenToKeys();
  const view = follow(page.session);
  const Desk = () => <Body page={page} view={view.value} />;
  render(
    <Boundary>
      <Desk />
    </Boundary>,
    page.place,
  );
  const head = document.getElementById('desk-top');
  const Head = () => <Top view={view.value} session={page.session} />;
  if (head !== null) {
    render(
      <Boundary>
        <Head />
      </Boundary>,
      head,
    );
  }
}

function Body({ page: { session, key }, view }: { page: Page; view: Page['session']['view'] }) {
  if (view.state === null) return null;
  const stage = stageOf(view);
  const goes = stage === 'count-in' || stage === 'running' || stage === 'held';
  return (
    <>
      <Refusals view={view} session={session} />
      <Newcomers view={view} session={session} />
      <div class="desk-columns" data-stage={stage ?? 'unknown'}>
        {stage === 'places' && <ReadyPegs view={view} />}
        <Call view={view} session={session} personalKey={key} />
        <Run view={view} session={session} />
        <div class="desk-column side">
          <Amiss view={view} />
          {/* In a count-in there is nothing else to look at. */}
          {stage !== 'count-in' && <People view={view} session={session} />}
          {!goes && <Checks view={view} session={session} />}
          {(stage === 'running' || stage === 'held') && <FoldedChecks view={view} session={session} />}
          {!goes && <House state={view.state} />}
        </div>
      </div>
      {(stage === 'idle' || stage === 'complete') && <TakeHome takeHome={(part) => fetchHome(key, part)} part={null} />}
      <Holds view={view} session={session} />
      <Later load={() => import('./near-misses')}>
        {({ NearMisses }) => <NearMisses view={view} session={session} />}
      </Later>
      <Invitations view={view} session={session} />
      <KeysPanel />
    </>
  );
}
