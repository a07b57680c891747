// The draft on the plan of the stage: everybody's ways as the checks have them, and the marks of the phrase that one is in, to
// be dragged, or moved by the arrow keys. The text is the score: only the two numbers of a line change, and the checks follow.
import { useEffect, useMemo, useState } from 'preact/hooks';
import type { Place } from '../core/floor';
import { titled } from '../core/names';
import type { View } from '../core/model';
import { stageOf } from '../core/reading';
import type { Choices } from '../core/settings';
import type { DraftFloor, DraftMark, FindingView, FloorSheet } from '../core/wire';
import { words } from '../core/words/plan';
import { placeIn } from '../ui/plan-drawn';
import type { Seen } from '../ui/plan-figure';
import { Grip } from '../ui/plan-grip';
import { useSeen } from '../ui/plan-seen';
import { ScrubPlan } from '../ui/plan-scrub';
import type { Api } from './api';
import { Help, Mark } from './findings';
import { isReal } from './hearing';
import { withMark, withPlace } from './marks';
import type { Studio } from './studio';

/** The draft is asked about after a pause in what changes it, milliseconds; and again when no answer came. */
const PAUSE_MS = 300;
const AGAIN_MS = 3_000;
/** Where a new mark is set: in the middle, a step upstage of the setting line. */
const FIRST: Place = [0, 2];

/** What is known of a text. */
interface Told extends DraftFloor {
  of: string;
}

interface Props {
  studio: Studio;
  api: Api;
  choices: Choices;
  view: View;
  /** The caret's line, counted from 1. */
  line: number;
}

/** The plan of the draft. */
export function Planned({ studio, api, choices, view, line }: Props) {
  const text = studio.draft.value?.text ?? '';
  const [told, setTold] = useTold(studio, api, text);
  const seen = useSeen(choices);
  const floor = told?.floor ?? null;
  const phrase =
    told === null
      ? 0
      : Math.max(
          0,
          told.phrases.findLastIndex((head) => head <= line),
        );
  const at = floor?.phrases[phrase]?.at_ticks ?? 0;
  const goTo = useMemo(() => ({ ticks: at }), [at, studio.file.value]);
  if (told === null) return <p class="hint">{words.plan.coming}</p>;
  if (floor === null) return <p>{told.why}</p>;
  const stale = told.of !== text;
  const free = studio.mayWrite && !stale;
  const put = (number: number, place: Place): void => {
    const moved = withPlace({ text: told.of, marks: told.marks }, number, place);
    setTold({ ...told, of: moved.text, marks: [...moved.marks] });
    studio.type(moved.text);
  };
  const marks = told.marks.map((mark, number) => ({ mark, number })).filter(({ mark }) => mark.phrase === phrase);
  const findings = studio.report.value?.report.findings ?? [];
  const head = told.phrases[phrase];
  return (
    <>
      <p class="hint">{studio.mayWrite ? words.plan.howToMove : words.plan.readsOnly}</p>
      <ScrubPlan
        {...{ floor, choices, goTo }}
        fight={floor.phrases[phrase]?.name ?? ''}
        part={null}
        moves={NONE}
        busy={isReal(stageOf(view))}
      >
        {(_, perPixel) =>
          marks.map(({ mark, number }) => (
            <Handle
              key={`${mark.line}`}
              {...{ mark, seen, perPixel, free }}
              feet={floor.feet}
              findings={findings.filter((finding) => finding.line === mark.line)}
              put={(place) => put(number, place)}
            />
          ))
        }
      </ScrubPlan>
      {head !== undefined && (
        <Missing
          floor={floor}
          marks={marks.map(({ mark }) => mark)}
          set={
            free
              ? (who) =>
                  studio.type(
                    withMark(
                      told.of,
                      head,
                      marks.map(({ mark }) => mark),
                      who,
                      ...FIRST,
                    ),
                  )
              : null
          }
        />
      )}
      <Said marks={marks.map(({ mark }) => mark)} findings={findings} />
    </>
  );
}

const NONE: readonly never[] = [];

// What the server says of the draft; what it said before stays until it says more.
function useTold(studio: Studio, api: Api, text: string) {
  const file = studio.file.value;
  const by = studio.judgedBy.value;
  const [told, setTold] = useState<Told | null>(null);
  const [again, setAgain] = useState(0);
  useEffect(() => setTold(null), [file]);
  useEffect(() => {
    if (file === null) return undefined;
    let wanted = true;
    let timer: ReturnType<typeof setTimeout>;
    const ask = async (): Promise<void> => {
      const answer = await api.floor({ file, text }).catch(() => null);
      if (!wanted) return;
      if (answer === null) timer = setTimeout(() => setAgain(again + 1), AGAIN_MS);
      // While the text cannot be read the last picture stays.
      else setTold((before) => ({ ...answer, floor: answer.floor ?? before?.floor ?? null, of: text }));
    };
    timer = setTimeout(() => void ask(), told === null ? 0 : PAUSE_MS);
    return () => {
      wanted = false;
      clearTimeout(timer);
    };
    // What is told of it changes nothing of what is asked.
  }, [file, text, api, again, by]);
  return [told, setTold] as const;
}

interface HandleProps {
  mark: DraftMark;
  seen: Seen;
  perPixel: number;
  free: boolean;
  feet: boolean;
  findings: FindingView[];
  put(place: Place): void;
}

/** A mark, or where a walk leads. */
function Handle({ mark, seen, perPixel, free, feet, findings, put }: HandleProps) {
  const severity = findings[0]?.severity;
  const where = placeIn(feet, [mark.x, mark.y]);
  const name = titled(mark.who);
  const is = mark.beat === null ? words.plan.markOf(name, where) : words.plan.walkOf(name, mark.beat, where);
  return (
    <Grip
      at={[mark.x, mark.y]}
      {...{ seen, perPixel, free, put }}
      label={[is, ...findings.map(({ message }) => message)].join('. ')}
      marks={{ 'data-severity': severity }}
    >
      {(held) => (
        <>
          {mark.beat === null ? (
            <rect class="at" x={-0.3} y={-0.3} width={0.6} height={0.6} transform="rotate(45)" />
          ) : (
            <path class="at" d="M-.25 -.25L.25 .25M-.25 .25L.25 -.25" />
          )}
          {severity !== undefined && (
            <text class="said" x={0.35} y={-0.3} aria-hidden="true">
              !
            </text>
          )}
          {held !== null && (
            <text class="where" text-anchor="middle" y={-0.55} aria-hidden="true">
              {placeIn(feet, held)}
            </text>
          )}
        </>
      )}
    </Grip>
  );
}

// Who has nowhere to stand when the phrase begins.
function Missing({
  floor,
  marks,
  set,
}: {
  floor: FloorSheet;
  marks: DraftMark[];
  set: ((who: string) => void) | null;
}) {
  const marked = new Set(marks.filter(({ beat }) => beat === null).map(({ who }) => who));
  const without = floor.people.filter(({ who }) => !marked.has(who));
  if (without.length === 0) return null;
  return (
    <ul class="missing-marks">
      {without.map(({ who }) => (
        <li key={who}>
          <span dir="auto">{words.plan.noMarkIn(titled(who))}</span>{' '}
          {set !== null && (
            <button type="button" onClick={() => set(who)}>
              {words.plan.setMark(titled(who))}
            </button>
          )}
        </li>
      ))}
    </ul>
  );
}

// What the checks say of the lines of these marks, once more where one looks.
function Said({ marks, findings }: { marks: DraftMark[]; findings: FindingView[] }) {
  const said = findings.filter(({ line }) => marks.some((mark) => mark.line === line));
  return (
    <section class="said-of-marks" aria-label={words.plan.saidHere}>
      {said.map((finding, n) => (
        <p key={n}>
          <Mark severity={finding.severity} /> <span lang="en">{finding.message}.</span> <Help finding={finding} />
        </p>
      ))}
    </section>
  );
}
