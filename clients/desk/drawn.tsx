// What the desk draws: the stage manager's whole call on one screen.
import { render } from 'preact';
import type { Page } from '../core/page';
import { counting } from '../core/reading';
import { Boundary } from '../ui/boundary';
import { Newcomers } from '../ui/newcomers';
import { Refusals } from '../ui/parts';
import { noStartBySpace } from '../ui/powers';
import { follow } from '../ui/store';
import { Call } from './call';
import { Checks } from './checks';
import { Holds } from './holds';
import { House } from './house';
import { Invitations } from './invitations';
import { listenToKeys } from './keys';
import { KeysPanel } from './keys-panel';
import { Roster } from './roster';
import { Run } from './run';
import { Strip } from './strip';

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
}

function Body({ page: { session, key }, view }: { page: Page; view: Page['session']['view'] }) {
  if (view.state === null) return null;
  return (
    <>
      <Refusals view={view} session={session} />
      <Newcomers view={view} session={session} />
      <Strip view={view} session={session} />
      <div class="desk-columns" data-still={!counting(view)}>
        <Call view={view} session={session} personalKey={key} />
        <Run view={view} session={session} />
        <div class="desk-column">
          <Roster view={view} session={session} />
          <Checks view={view} session={session} />
          <House view={view} state={view.state} />
        </div>
      </div>
      <Holds view={view} session={session} />
      <Invitations view={view} session={session} />
      <KeysPanel />
    </>
  );
}
