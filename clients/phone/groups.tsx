// Every pair that acts, for whoever looks on: equal acts said once with a number and who; a touch shows all of a group
// and lets one choose whom to follow.
import { Fragment } from 'preact';
import { useState } from 'preact/hooks';
import { alikeOf, type Alike } from '../core/alike';
import type { View } from '../core/model';
import { titled } from '../core/names';
import { seatOf, type Coming } from '../core/seat';
import type { MoveView, RunSheet } from '../core/wire';
import { words } from '../core/words';
import { Figure } from '../ui/figure';
import { pictureOf } from '../ui/pictures';
import { Walks } from '../ui/walks';
import { follow } from './following';
import { Fit } from './slab';
import { When } from './when';

/** So many pairs are named in a line; the others are a touch away. */
const NAMED = 3;
/** The largest letters of a group, pixels. */
const GROUP = 30;
/** So many groups have a picture; more would leave their words no room. */
const PICTURED = 4;

/** What everybody does now, or next where nobody acts now, and what comes after it. */
export function Groups({ view, follows = null }: { view: View; follows?: string | null }) {
  const seat = seatOf(view, null);
  const cue = view.me?.part == null ? (view.shown?.cue ?? null) : null;
  const [open, setOpen] = useState<Alike[] | null>(null);
  const groups = alikeOf(seat.in?.moves.map(({ move }) => move) ?? []);
  const when = seat.due ? words.now : seat.beats === null ? words.next : words.nextIn(seat.beats);
  const pictured = follows === null && groups.length <= PICTURED;
  // Pictures that come later take room from the words.
  const drawn = pictured && pictureOf(view.run?.pictures ?? null, groups[0]?.moves[0].picture ?? null) !== null;
  const key = `${view.run?.run} ${seat.in?.at} ${follows} ${drawn}`;
  const [room, look] = useRoom(key, (list) => list.children);
  const left = groups.slice(room);
  return (
    <>
      <section class="groups" data-due={seat.due} aria-label={when}>
        {follows !== null && (
          <button type="button" class="all" onClick={() => follow(null)}>
            {words.followsNow(titled(follows))}
          </button>
        )}
        {!seat.due && groups.length > 0 && <When beats={seat.beats} />}
        {groups.length === 0 && <p class="nothing">{words.nothingNext}</p>}
        <Fit class="list" most={GROUP} words={`${key} ${room}`} grows fitted={look}>
          {groups.slice(0, room).map((group) => (
            <Group key={group.key} group={group} sheet={view.run} pictured={pictured} open={setOpen} />
          ))}
          {left.length > 0 && (
            <button type="button" class="group" onClick={() => setOpen(left)}>
              {words.pairsLeft(pairsIn(left))}
            </button>
          )}
        </Fit>
        {cue !== null && <Walks cue={cue} />}
      </section>
      {follows === null && (
        <div class="after">
          {seat.next !== null && <After coming={seat.next} sheet={view.run} />}
          {seat.then !== null && <After coming={seat.then} sheet={view.run} />}
        </div>
      )}
      {open !== null && <Pairs groups={open} close={() => setOpen(null)} />}
    </>
  );
}

// How many groups are shown of what has this key: all of them, unless the smallest letters leave no room for the last; then
// as many as stand whole beside what says how many more there are. `groupsIn` finds them in their box.
function useRoom(
  key: string,
  groupsIn: (box: HTMLElement) => HTMLCollection,
): [room: number, look: (box: HTMLElement) => void] {
  const [found, setFound] = useState({ key: '', room: Infinity });
  const room = found.key === key ? found.room : Infinity;
  const look = (box: HTMLElement): void => {
    if (box.dataset['whole'] === 'true') return;
    const all = [...groupsIn(box)];
    const whole = all.filter((each) => bottomIn(box, each) <= box.clientHeight).length;
    const fewer = Math.max(1, Math.min(whole, room) - 1);
    if (fewer < room && fewer < all.length) setFound({ key, room: fewer });
  };
  return [room, look];
}

const bottomIn = (box: Element, child: Element): number =>
  child.getBoundingClientRect().bottom - box.getBoundingClientRect().top;

const pairsIn = (groups: readonly Alike[]): number => groups.reduce((sum, { moves }) => sum + moves.length, 0);

function Group(props: { group: Alike; sheet: RunSheet | null; pictured: boolean; open(groups: Alike[]): void }) {
  const { group, sheet, pictured, open } = props;
  const [first] = group.moves;
  const more = group.moves.length - NAMED;
  return (
    <button type="button" class="group" onClick={() => open([group])}>
      {pictured && <Figure sheet={sheet} move={first} near />}
      <span class="what" dir="auto">
        <Said move={first} />
        <small>
          {group.moves.slice(0, NAMED).map(pairOf).join(', ')}
          {more > 0 && ` ${words.pairsLeft(more)}`}
        </small>
      </span>
      {group.moves.length > 1 && <b class="times">×{group.moves.length}</b>}
    </button>
  );
}

function Said({ move }: { move: MoveView }) {
  return (
    <span>
      <b>{move.action}</b>
      {move.reply !== null && <> / {move.reply}</>}
    </span>
  );
}

function After({ coming, sheet }: { coming: Coming; sheet: RunSheet | null }) {
  const groups = alikeOf(coming.moves.map(({ move }) => move));
  const [first] = groups;
  const key = groups.map(({ key, moves }) => `${moves.length}${key}`).join();
  const [room, look] = useRoom(key, (box) => box.firstElementChild?.children ?? box.children);
  const left = groups.slice(room);
  return (
    <div class="later">
      <When beats={coming.beats} />
      {first !== undefined && groups.length === 1 && <Figure sheet={sheet} move={first.moves[0]} near />}
      <Fit class="line" most={20} words={`${key} ${room}`} fitted={look}>
        <p dir="auto">
          {groups.slice(0, room).map(({ key, moves }, n) => (
            <span key={key}>
              {n > 0 && ' · '}
              {moves.length > 1 && <b>×{moves.length} </b>}
              <Said move={moves[0]} />
            </span>
          ))}
          {left.length > 0 && ` ${words.pairsLeft(pairsIn(left))}`}
        </p>
      </Fit>
    </div>
  );
}

// All pairs of the groups, as they were when they were touched: one touch more follows somebody.
function Pairs({ groups, close }: { groups: Alike[]; close(): void }) {
  const choose = (fighter: string): void => {
    follow(fighter);
    close();
  };
  return (
    <section class="asked pairs" aria-label={words.followWhom}>
      <button type="button" onClick={close}>
        {words.cancel}
      </button>
      <h2>{words.followWhom}</h2>
      {groups.map(({ key, moves }) => (
        <Fragment key={key}>
          <p class="lead" dir="auto">
            <Said move={moves[0]} />
          </p>
          {moves.map((move, n) => (
            <div class="choices" key={n}>
              {[move.who, move.to].map(
                (fighter) =>
                  fighter !== null && (
                    <button type="button" key={fighter} dir="auto" onClick={() => choose(fighter)}>
                      {titled(fighter)}
                    </button>
                  ),
              )}
            </div>
          ))}
        </Fragment>
      ))}
    </section>
  );
}

const pairOf = ({ who, to }: MoveView): string => (to === null ? titled(who) : words.pairOn(titled(who), titled(to)));
