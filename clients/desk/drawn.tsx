// What the desk draws: the stage manager's whole call on one screen.
import type { Page } from '../core/page';
import { stageOf } from '../core/reading';
import { words } from '../core/words';
import { Fold, Later } from '../ui/later';
import { Newcomers } from '../ui/newcomers';
import { Refusals } from '../ui/parts';
import { noStartBySpace } from '../ui/powers';
import { drawInto, follow } from '../ui/draw';
import { Amiss } from './amiss';
import { Call } from './call';
import { Checks, FoldedChecks } from './checks';
import { Holds } from './holds';
import { House } from './house';
import { listenToKeys } from './keys';
import { ReadyPegs } from './pegs';
import { People } from './roster';
import { Run } from './run';
import { Opened } from './opened';
import { Top } from './top';

/** Draws the page, and draws it anew whenever what it knows changes. */
export function draw(page: Page): void {
  noStartBySpace();
  listenToKeys();
  const view = follow(page.session);
  drawInto(page.place, () => <Body page={page} view={view.value} />);
  const head = document.getElementById('desk-top');
  if (head !== null) drawInto(head, () => <Top view={view.value} session={page.session} />);
}

// How far the evening is; nothing without an order.
function howFar(view: Page['session']['view']): string | null {
  const items = view.tonight?.items ?? [];
  const now = items.findIndex(({ stands }) => stands === 'now');
  return items.length === 0 ? null : now < 0 ? words.wholeOrder : words.tonight.here(now + 1, items.length);
}

// How many parts nobody plays, over all fights.
function openParts(view: Page['session']['view']): number {
  const parts = (view.casts ?? []).flatMap((cast) => cast.parts);
  return new Set(parts.filter(({ member }) => member === null).map(({ part }) => part)).size;
}

function Body({ page: { session, key, choices }, view }: { page: Page; view: Page['session']['view'] }) {
  if (view.state === null) return null;
  const stage = stageOf(view);
  const beside = howFar(view);
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
          {stage !== 'idle' && view.run?.floor != null && (
            <Later load={() => import('./plan')}>
              {({ FoldedPlan }) => (
                <FoldedPlan {...{ view, session, choices }} personalKey={key} part={null} usual={goes} />
              )}
            </Later>
          )}
          {beside !== null && (goes || stage === 'places') && stage !== 'count-in' && (
            <Fold class="whole-order" summary={beside} load={() => import('./tonight')}>
              {({ TonightBeside }) => <TonightBeside view={view} />}
            </Fold>
          )}
          {!goes && view.casts !== null && view.casts.length > 0 && (
            <Fold class="who-plays" summary={words.castsOpen(openParts(view))} load={() => import('./casts')}>
              {({ Casts }) => <Casts view={view} session={session} />}
            </Fold>
          )}
          {/* In a count-in there is nothing else to look at. */}
          {stage !== 'count-in' && <People view={view} session={session} />}
          {!goes && <Checks view={view} session={session} />}
          {(stage === 'running' || stage === 'held') && <FoldedChecks view={view} session={session} />}
          {!goes && <House state={view.state} />}
        </div>
      </div>
      {(stage === 'idle' || stage === 'complete') && (
        <Fold class="take-home-fold" summary={words.myPart.takeHomeTitle} load={() => import('./take-home')}>
          {({ TakeHomeAll }) => <TakeHomeAll personalKey={key} />}
        </Fold>
      )}
      <Holds view={view} session={session} />
      <Fold
        class="near-misses"
        summary={words.nearMissesOf(view.nearMisses?.count ?? 0)}
        load={() => import('./near-misses')}
      >
        {({ NearMisses }) => <NearMisses view={view} session={session} />}
      </Fold>
      <Opened
        title={words.invitationsTitle}
        show={words.invitationsShow}
        hide={words.invitationsHide}
        opened={() => session.ask({ kind: 'invitations' })}
        load={() => import('./invitations')}
      >
        {({ Codes }) => <Codes view={view} session={session} />}
      </Opened>
      <Opened title={words.keysTitle} show={words.keysShow} hide={words.keysHide} load={() => import('./keys-panel')}>
        {({ List }) => <List />}
      </Opened>
    </>
  );
}
