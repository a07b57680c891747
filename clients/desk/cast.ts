// Whether everybody who fights in a run is there, and what is not as it should be. What works is not said: only what is
// wrong gets a line.
import { missing, stageOf, unsigned } from '../core/reading';
import type { View } from '../core/model';
import { titled } from '../core/names';
import type { Lack } from '../core/wire';
import { words } from '../core/words';

/** A part of what is set up, who plays it, and what they lack; nothing when they lack nothing. */
export interface Peg {
  part: string;
  name: string | null;
  lack: Lack | null;
}

/**
 * Every part of the run, in the order of the score. At places whoever has not said ready lacks that; later a part lacks
 * only what its page would need to be cued. Nothing while that is not known.
 */
export function castOf(view: View): Peg[] | null {
  const fighters = view.run?.fighters ?? null;
  if (fighters === null || view.roster === null) return null;
  if (stageOf(view) !== 'places') return fighters.map((part) => pegNow(view, part));
  const absent = missing(view);
  if (absent === null) return null;
  return fighters.map((part) => {
    const found = absent.find((each) => each.part === part);
    return { part, name: found?.name ?? playerOf(view, part)?.name ?? null, lack: found?.lack ?? null };
  });
}

/** Something that is not as it should be. */
export interface Amiss {
  text: string;
  /** True for a sentence of the server's, which is English. */
  told: boolean;
}

/** What is not as it should be, a sentence each: parts that cannot be cued, who has no part, loudspeakers, log, troubles. */
export function amiss(view: View): Amiss[] {
  const { state } = view;
  if (state === null) return [];
  const stage = stageOf(view);
  // Once it is over, and before anything is set, nobody need be there; at places the start says who and what is missing.
  const started = stage !== 'idle' && stage !== 'complete' && stage !== 'places';
  const cast = started ? castOf(view) : null;
  const people = (cast ?? []).flatMap(({ part, name, lack }) =>
    lack === null || lack === 'not-ready' ? [] : [words.desk.lacks(titled(part), name, lack)],
  );
  const idle = (view.roster ?? []).filter(
    ({ role, part, link }) => role === 'performer' && part === null && link === 'linked',
  );
  const parts = [
    [words.soundHealth, state.sound],
    [words.logHealth, state.log],
  ] as const;
  const own = [...people, ...idle.map(({ name }) => words.desk.noPart(name))];
  const told = parts.flatMap(([name, { well, says }]) => (well ? [] : [`${name}: ${says}`]));
  return [
    ...own.map((text) => ({ text, told: false })),
    ...told.map((text) => ({ text, told: true })),
    ...(started ? unsigned(view) : []).map((text) => ({ text, told: false })),
    ...(view.troubles ?? []).map((text) => ({ text, told: true })),
  ];
}

function pegNow(view: View, part: string): Peg {
  const player = playerOf(view, part);
  if (player === undefined) return { part, name: null, lack: 'nobody' };
  const inSight = view.devices?.find(({ member }) => member === player.member)?.visible ?? true;
  return { part, name: player.name, lack: player.link === 'lost' ? 'lost' : inSight ? null : 'hidden' };
}

function playerOf(view: View, part: string) {
  return view.roster?.find((row) => row.role === 'performer' && row.part === part);
}
