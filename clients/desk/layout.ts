// How a run's lanes stand on the strip: two rows a pair while there are few, so that each person has their own; then a row
// a pair; and where even that is more than fits, a row for each of a moment's different acts.
import { partnerOf, groupRows, lanesOf, type GroupRow, type Lane } from './lanes';
import type { RunSheet } from '../core/wire';

/** What stands where. Places are pixels from the top of the strip. */
export type Layout =
  | { kind: 'pairs'; lanes: Lane[]; row: number }
  | { kind: 'lanes'; lanes: Lane[]; row: number }
  | { kind: 'groups'; rows: GroupRow[]; row: number; pairs: number };

/** So many pairs have two rows each. */
const MOST_PAIRS = 3;
/** Rows are so high: one of two, one of a few, one of many; and the names of phrases above them. */
const PAIR_PX = 34;
export const ROOMY_PX = 32;
const CLOSE_PX = 24;
const ROOMY = 8;
export const HEAD_PX = 20;
/** Between two pairs. */
const GAP_PX = 8;

/** The layout of a run where so many rows fit. */
export function layoutOf(run: RunSheet, most: number): Layout {
  const lanes = lanesOf(run.moves, run.fighters);
  const row = (rows: number): number => (rows <= ROOMY ? ROOMY_PX : CLOSE_PX);
  if (lanes.length <= MOST_PAIRS) return { kind: 'pairs', lanes, row: PAIR_PX };
  if (lanes.length <= most) return { kind: 'lanes', lanes, row: row(lanes.length) };
  const rows = groupRows(run.moves, most);
  const pairs = new Set(run.moves.map((move) => [move.who, partnerOf(move) ?? ''].sort().join('\n'))).size;
  return { kind: 'groups', rows, row: row(rows.length), pairs };
}

/** How high the strip is. */
export function heightOf(layout: Layout): number {
  return (
    HEAD_PX +
    6 +
    (layout.kind === 'pairs' ? topOfPair(layout.lanes, layout.lanes.length) - HEAD_PX : rowsOf(layout) * layout.row)
  );
}

/** Where a pair's first row begins: whoever is alone in their lane has one row. */
export function topOfPair(lanes: readonly Lane[], lane: number): number {
  const rows = lanes.slice(0, lane).reduce((sum, { people }) => sum + people.length, 0);
  return HEAD_PX + rows * PAIR_PX + lane * GAP_PX;
}

function rowsOf(layout: Exclude<Layout, { kind: 'pairs' }>): number {
  return layout.kind === 'lanes' ? layout.lanes.length : layout.rows.length;
}
