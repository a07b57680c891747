// What happens on this beat, all of it: a card a move with its picture, or, where many do the same, a card a group with
// its number and everybody's names; and the next three beats on which something comes, a line each.
import type { View } from '../core/model';
import { titled } from '../core/names';
import { partIn } from '../core/reading';
import type { Cue, MoveView, RunSheet } from '../core/wire';
import { words } from '../core/words';
import { Figure } from '../ui/figure';
import { Move } from '../ui/parts';
import { comingBeats, groupsOf, type ComingBeat, type Group } from './groups';

/** From so many moves on equal ones are said once. */
const MOST_CARDS = 2;

/** The moves of a cue. */
export function Now({ cue, run }: { cue: Cue; run: RunSheet | null }) {
  const moves = cue.moves.map(({ move }) => move);
  const many = moves.length > MOST_CARDS;
  return (
    <div class="now" data-many={many} aria-label={words.now} role="group">
      {many
        ? groupsOf(moves).map((group) => <GroupCard key={group.action + group.reply} group={group} run={run} />)
        : moves.map((move, n) => (
            <div class="card pictured" key={n}>
              <Figure sheet={run} move={move} />
              <Move move={move} part={partIn(move, null)} />
            </div>
          ))}
    </div>
  );
}

function GroupCard({ group, run }: { group: Group; run: RunSheet | null }) {
  const [first] = group.moves;
  return (
    <div class="card">
      {first !== undefined && <Figure sheet={run} move={first} near />}
      <div class="alike">
        <p>
          {group.moves.length > 1 && <strong>{words.desk.times(group.moves.length)}</strong>}{' '}
          <b dir="auto">{group.action}</b>
        </p>
        {group.reply !== null && <p dir="auto">{group.reply}</p>}
      </div>
      <p class="names">
        {group.moves.map((move, n) => (
          <span key={n}>
            <bdi>{titled(move.who)}</bdi>
            {move.to !== null && (
              <>
                {' '}
                <span aria-hidden="true">▷</span> <bdi>{titled(move.to)}</bdi>
              </>
            )}
          </span>
        ))}
      </p>
    </div>
  );
}

/** The beats that come next; before the run begins, its first ones. */
export function Coming({ view, most }: { view: View; most: number }) {
  if (view.run === null) return null;
  const cue = view.shown?.cue ?? null;
  const beats = comingBeats(view.run.moves, cue, most);
  return (
    <div class="next">
      <h3 class={cue === null ? undefined : 'unseen'}>{cue === null ? words.firstMoves : words.desk.coming}</h3>
      {beats.length === 0 && <p>{words.lastMove}</p>}
      <ol>
        {beats.map((beat, n) => (
          <li key={n}>
            <small>{beat.beats === null ? words.beat(beat.beat) : words.desk.in(beat.beats)}</small>
            <Line beat={beat} run={view.run} />
          </li>
        ))}
      </ol>
    </div>
  );
}

function Line({ beat: { moves }, run }: { beat: ComingBeat; run: RunSheet | null }) {
  const many = moves.length > MOST_CARDS;
  return (
    <div class="line" data-many={many}>
      {many
        ? groupsOf(moves).map((group) => (
            <span class="pictured" key={group.action + group.reply}>
              {group.moves[0] !== undefined && <Figure sheet={run} move={group.moves[0]} near />}
              <span>
                <b>{words.desk.times(group.moves.length)}</b> <span dir="auto">{group.action}</span>
                {group.reply !== null && <span dir="auto"> / {group.reply}</span>}
              </span>
            </span>
          ))
        : moves.map((move, n) => (
            <span class="pictured" key={n}>
              <Figure sheet={run} move={move} near />
              <InWords move={move} />
            </span>
          ))}
    </div>
  );
}

/** A move in one line: who does what, and how it is answered. */
export function InWords({ move }: { move: MoveView }) {
  const { who, to, action, reply } = move;
  return (
    <span class="in-words">
      <b>
        <bdi>{titled(who)}</bdi>
      </b>{' '}
      <span dir="auto">{action}</span>
      {reply === null ? (
        to !== null && <> {words.to(titled(to))}</>
      ) : (
        <>
          {' / '}
          <b>
            <bdi>{titled(to ?? '')}</bdi>
          </b>{' '}
          <span dir="auto">{reply}</span>
        </>
      )}
    </span>
  );
}
