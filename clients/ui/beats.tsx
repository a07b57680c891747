// The beat: its number, and a cell for every beat of two bars, with the reader's own acts above them. A cell is small and
// is lit once in two bars, so that nothing flashes however fast the fight is.
import { partIn } from '../core/reading';
import { cellsOf } from '../core/seat';
import { TICKS_PER_BEAT, type Cue, type Part, type RunSheet } from '../core/wire';
import { words } from '../core/words';

interface Props {
  run: RunSheet;
  cue: Cue;
  /** Whose acts are marked; those of anybody for whoever looks on. */
  part: string | null;
  late_us: number | null;
}

/** The beat of a cue. */
export function Beats({ run, cue, part, late_us }: Props) {
  return (
    <div class="tally">
      <strong data-testid="count">{cue.count_in ?? cue.count}</strong>
      <p class="unseen">
        {cue.count_in === null ? `${words.bar(cue.bar)} · ${words.beat(cue.beat)}` : words.countIn(cue.count_in)}
      </p>
      <Cells run={run} cue={cue} part={part} />
      {late_us !== null && <em class="bad">{words.late(Math.ceil(late_us / 1_000))}</em>}
    </div>
  );
}

/** A cell for every beat of two bars; none in the count-in. */
export function Cells({ run, cue, part }: Pick<Props, 'run' | 'cue' | 'part'>) {
  const cells = cue.count_in === null ? cellsOf(run, cue) : [];
  if (cells.length === 0) return null;
  const marked = run.moves.filter((move) => part === null || partIn(move, part) !== 'watch');
  return (
    <div class="cells" aria-hidden="true" data-many={cells.length > 8}>
      {cells.map(({ at, first, state }) => (
        <i key={at} data-state={state} data-first={first}>
          {marked
            .filter((move) => move.at_ticks >= at && move.at_ticks < at + TICKS_PER_BEAT)
            .map((move) => ({ kind: partIn(move, part), into: (move.at_ticks - at) / TICKS_PER_BEAT }))
            .filter((mark, n, all) => all.findIndex((each) => each.into === mark.into && each.kind === mark.kind) === n)
            .map(({ kind, into }) => (
              <Mark key={`${kind}${into}`} kind={kind} into={into} />
            ))}
        </i>
      ))}
    </div>
  );
}

/** An attack is a wedge, a reply a cup, anybody's act a dot. */
function Mark({ kind, into }: { kind: Part; into: number }) {
  return (
    <svg viewBox="0 0 20 20" data-kind={kind} style={{ left: `${50 + into * 100}%` }}>
      {kind === 'act' && <path d="M2 1H18L10 19Z" />}
      {kind === 'answer' && <path d="M3 2V8A7 7 0 0 0 17 8V2" fill="none" stroke="currentColor" stroke-width="4" />}
      {kind === 'watch' && <circle cx="10" cy="14" r="5" />}
    </svg>
  );
}
