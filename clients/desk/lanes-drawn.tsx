// The lanes as they are drawn: an attack is a pennant with its point at the right, a reply a bow that is open there, a lone
// action a plain bar. Only the stretch that is in sight is there, so that a long fight costs no more than a short one.
import type { ComponentChildren } from 'preact';
import { titled } from '../core/names';
import { usAt } from '../core/tempo';
import { TICKS_PER_BEAT, type RunSheet } from '../core/wire';
import { words } from '../core/words';
import { bars } from './bars';
import { partnerOf, type Lane } from './lanes';
import { HEAD_PX, topOfPair, type Layout } from './layout';
import { keyOf } from './lanes';

/** The strip is drawn in stretches of so many pixels: the one at the line, one before it and the next three. */
export const CHUNK_PX = 600;
const CHUNKS_AHEAD = 4;
/** A block is as wide as its beat, where there is room at least so wide; and what stands between two. */
const LEAST_PX = 130;
const BETWEEN_PX = 4;
/** The width of a letter in a lane, at the most as the usual ones are: an answer that does not fit is left to the cards. */
const LETTER_PX = 8.4;

interface Drawn {
  run: RunSheet;
  layout: Layout;
  scale: number;
  /** The stretch at the line. */
  chunk: number;
  /** The moves that are under way. */
  marked: ReadonlySet<string>;
}

/** Everything that moves. */
export function Blocks({ run, layout, scale, chunk, marked }: Drawn) {
  const x = (ticks: number): number => (usAt(run, ticks) / 1e6) * scale;
  const [first, last] = [(chunk - 1) * CHUNK_PX, (chunk + CHUNKS_AHEAD) * CHUNK_PX];
  const placed: Placed = { x, first, last, marked, row: layout.row };
  const isDrawn = (ticks: number): boolean => x(ticks) >= first && x(ticks) < last;
  return (
    <>
      {beatsIn(run)
        .filter(isDrawn)
        .map((ticks) => (
          <i key={`t${ticks}`} style={{ left: `${x(ticks)}px` }} />
        ))}
      {bars(run)
        .filter(isDrawn)
        .map((ticks) => (
          <i key={`b${ticks}`} class="bar" style={{ left: `${x(ticks)}px` }} />
        ))}
      {run.phrases
        .filter(({ at_ticks }) => isDrawn(at_ticks))
        .map((phrase) => (
          <b key={phrase.phrase} class="strip-phrase" dir="auto" style={{ left: `${x(phrase.at_ticks)}px` }}>
            {phrase.name}
          </b>
        ))}
      {isDrawn(run.length_ticks) && <i class="strip-end" style={{ left: `${x(run.length_ticks)}px` }} />}
      {acts(layout, placed)}
    </>
  );
}

interface Placed {
  x(ticks: number): number;
  /** The stretch that is drawn, pixels. */
  first: number;
  last: number;
  marked: ReadonlySet<string>;
  row: number;
}

function acts(layout: Layout, placed: Placed): ComponentChildren {
  switch (layout.kind) {
    case 'pairs':
      return layout.lanes.map((lane, n) => (
        <PairLane key={n} lane={lane} top={topOfPair(layout.lanes, n)} {...placed} />
      ));
    case 'lanes':
      return layout.lanes.map((lane, n) => <OneRow key={n} lane={lane} top={HEAD_PX + n * layout.row} {...placed} />);
    case 'groups':
      return layout.rows.map(({ blocks }, n) => (
        <GroupLane key={n} blocks={blocks} top={HEAD_PX + n * layout.row} {...placed} />
      ));
  }
}

// Each person has a row: who acts, and beside it whoever answers.
function PairLane({ lane, top, ...placed }: Placed & { lane: Lane; top: number }) {
  const rowOf = (name: string): number => top + (name === lane.people[1] ? placed.row : 0);
  return (
    <>
      {inSight(lane.moves, placed).map(({ of: move, left, width }) => {
        const partner = partnerOf(move);
        const box = { left, width, height: placed.row - 4, now: placed.marked.has(keyOf(move)) };
        return (
          <Block key={keyOf(move)} shape={partner === null ? 'plain' : 'pennant'} {...box} top={rowOf(move.who)}>
            {move.action}
          </Block>
        );
      })}
      {inSight(lane.moves, placed).map(({ of: move, left, width }) => {
        const partner = partnerOf(move);
        const box = { left, width, height: placed.row - 4, now: placed.marked.has(keyOf(move)) };
        return move.reply === null || partner === null ? null : (
          <Block key={`r${keyOf(move)}`} shape="bow" {...box} top={rowOf(partner)}>
            {move.reply}
          </Block>
        );
      })}
    </>
  );
}

// A row for both: the point of the pennant says who acts.
function OneRow({ lane, top, ...placed }: Placed & { lane: Lane; top: number }) {
  return (
    <>
      {inSight(lane.moves, placed).map(({ of: move, left, width }) => {
        const box = { left, width, height: placed.row - 2, now: placed.marked.has(keyOf(move)) };
        const alone = partnerOf(move) === null;
        const way = move.who === lane.people[1] ? 'left' : 'right';
        return (
          <Block key={keyOf(move)} shape={alone ? 'plain' : 'pennant'} way={way} {...box} top={top}>
            {alone && lane.people.length > 1 ? `${titled(move.who)} ${move.action}` : move.action}
            <Answer act={move.action} reply={move.reply} width={width} />
          </Block>
        );
      })}
    </>
  );
}

function GroupLane({ blocks, top, ...placed }: Placed & { blocks: GroupBlock[]; top: number }) {
  return (
    <>
      {inSight(blocks, placed).map(({ of: { at_ticks, groups }, left, width }) => {
        const moves = groups.flatMap((group) => group.moves);
        const now = moves.some((move) => placed.marked.has(keyOf(move)));
        const [only] = groups.length === 1 ? groups : [];
        return (
          <Block key={at_ticks} shape="plain" left={left} width={width} height={placed.row - 2} top={top} now={now}>
            {only === undefined
              ? words.desk.timesMore(moves.length)
              : `${words.desk.times(moves.length)} ${only.action}`}
            {only !== undefined && <Answer act={`×00 ${only.action}`} reply={only.reply} width={width} />}
          </Block>
        );
      })}
    </>
  );
}

type GroupBlock = Extract<Layout, { kind: 'groups' }>['rows'][number]['blocks'][number];

// What of a row is drawn, in the order of time. Of a long fight that is little: the rest is not even looked at.
function inSight<Of extends Timed>(row: readonly Of[], placed: Placed): { of: Of; left: number; width: number }[] {
  let [low, high] = [0, row.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (placed.x(row[middle]?.at_ticks ?? Infinity) < placed.first) low = middle + 1;
    else high = middle;
  }
  const found: { of: Of; left: number; width: number }[] = [];
  for (let n = low; n < row.length; n += 1) {
    const of = row[n];
    if (of === undefined || placed.x(of.at_ticks) >= placed.last) break;
    found.push({ of, left: placed.x(of.at_ticks), width: widthOf(of, row[n + 1], placed) });
  }
  return found;
}

// As wide as its beat, or as there is room before the next.
function widthOf({ at_ticks }: Timed, next: Timed | undefined, { x }: Placed): number {
  const [left, beat] = [x(at_ticks), x(at_ticks + TICKS_PER_BEAT) - x(at_ticks)];
  const room = Math.min(next === undefined ? Infinity : x(next.at_ticks) - left, Math.max(beat, LEAST_PX));
  return Math.max(room / 2, room - BETWEEN_PX);
}

interface Timed {
  at_ticks: number;
}

// What is answered, where there is room for it beside the act.
function Answer({ act, reply, width }: { act: string; reply: string | null; width: number }) {
  const letters = act.length + (reply?.length ?? 0) + 5;
  return reply === null || letters * LETTER_PX > width ? null : <small> / {reply}</small>;
}

interface Box {
  left: number;
  width: number;
  top: number;
  height: number;
  now: boolean;
}

function Block(props: Box & { shape: string; way?: string; children: ComponentChildren }) {
  const { left, width, top, height, now, shape, way = 'right', children } = props;
  return (
    <p
      class="act"
      data-shape={shape}
      data-way={way}
      data-now={now}
      dir="auto"
      style={{
        left: `${left}px`,
        width: `${width}px`,
        top: `${top}px`,
        height: `${height}px`,
        lineHeight: `${height}px`,
      }}
    >
      <span>{children}</span>
    </p>
  );
}

function beatsIn(run: RunSheet): number[] {
  return Array.from({ length: Math.ceil(run.length_ticks / TICKS_PER_BEAT) }, (_, beat) => beat * TICKS_PER_BEAT);
}

/** The names at the left, which stand still. Whoever cannot be cued has a mark. */
export function Names({ layout, lacking }: { layout: Layout; lacking: string[] }) {
  const name = (who: string) => (
    <bdi key={who} data-amiss={lacking.includes(who)}>
      {titled(who)}
    </bdi>
  );
  if (layout.kind === 'groups') {
    return (
      <div class="strip-names">
        <p style={{ top: `${HEAD_PX}px`, height: `${layout.row}px` }}>{words.desk.pairs(layout.pairs)}</p>
      </div>
    );
  }
  const { kind, lanes, row } = layout;
  return (
    <div class="strip-names">
      {lanes.map(({ people }, n) =>
        kind === 'lanes' ? (
          <p key={n} style={{ top: `${HEAD_PX + n * row}px`, height: `${row}px` }}>
            {people.map(name)}
          </p>
        ) : (
          people.map((who, at) => (
            <p key={`${n}.${at}`} style={{ top: `${topOfPair(lanes, n) + at * row}px`, height: `${row - 4}px` }}>
              {name(who)}
            </p>
          ))
        ),
      )}
    </div>
  );
}
