// The desk page: the stage manager's whole call on one screen.
import { render } from 'preact';
import { bringUp, type Page } from '../core/page';
import { Boundary } from '../ui/boundary';
import { Refusals } from '../ui/parts';
import { noStartBySpace } from '../ui/powers';
import { follow } from '../ui/store';
import { Call } from './call';
import { Holds } from './holds';
import { House } from './house';
import { Invitations } from './invitations';
import { Roster } from './roster';
import { Run } from './run';

/** The key that holds, from anywhere on the page: in the corner of every keyboard, and no letter of any word. */
const HOLD_KEY = 'Escape';

const page = bringUp((role) => role === 'desk', HOLD_KEY);
noStartBySpace();

if (page !== null) {
  const view = follow(page.session);
  const Desk = () => <Body page={page} view={view.value} />;
  render(
    <Boundary>
      <Desk />
    </Boundary>,
    page.place,
  );
}

function Body({ page: { session }, view }: { page: Page; view: Page['session']['view'] }) {
  if (view.state === null) return null;
  return (
    <>
      <Refusals view={view} session={session} />
      <div class="desk-columns">
        <Call view={view} session={session} />
        <Run view={view} session={session} />
        <div class="desk-column">
          <Roster view={view} session={session} />
          <House state={view.state} />
        </div>
      </div>
      <Holds view={view} session={session} />
      <Invitations view={view} session={session} />
    </>
  );
}
