// The stage, drawn and measured: what stands where is taken by its corners, or written as numbers, and the server writes it into
// the text of stage.toml, which is what counts. It is saved, undone and merged as a score is.
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { Place } from '../core/floor';
import type { Choices } from '../core/settings';
import type { StageChange, StageSetView, StageTold, ThingChange, ThingKind, ThingView } from '../core/wire';
import { words } from '../core/words/plan';
import { around, placeIn, SeenFrom, Thing, thingIn, useSize } from '../ui/plan-drawn';
import { inPicture, point, type Seen } from '../ui/plan-figure';
import { Grip } from '../ui/plan-grip';
import { useSeen } from '../ui/plan-seen';
import type { Api } from './api';
import { Sets } from './sets';
import type { Studio } from './studio';

/** The text is read after a pause of the typing, milliseconds; what is drawn is written after one of the hand. */
const PAUSE_MS = 300;
const FOOT = 0.3048;
/** So much is shown around the playing area, metres: what lies farther off is measured in numbers. */
const AROUND = 4;
/** Letters on the glass, pixels. */
const LETTER_PX = 14;

const KINDS: readonly ThingKind[] = ['piece', 'level', 'steps', 'door', 'wing', 'edge', 'seats'];
/** How something that is new is: a metre square, as high as its kind mostly is, metres. */
const HEIGHTS: Partial<Record<ThingKind, number>> = { piece: 1, level: 0.5, edge: 1, seats: -1 };
const EYES = 1.17;

interface Chosen {
  kind: ThingKind;
  name: string;
}

/** The stage of a production. */
export function StageDrawn({ studio, api, choices }: { studio: Studio; api: Api; choices: Choices }) {
  const text = studio.draft.value?.text ?? '';
  const seen = useSeen(choices);
  const { told, change, act, refused } = useStage(studio, api, text);
  const [set, setSet] = useState<string | null>(null);
  const [chosen, setChosen] = useState<Chosen | null>(null);
  const [held, setHeld] = useState<ThingView | null>(null);
  const shown = told?.sets.find((each) => each.set === set) ?? told?.sets[0];
  if (told === null) return <p class="hint">{words.plan.coming}</p>;
  if (shown === undefined) return <p>{words.plan.noStage}</p>;
  const free = studio.mayWrite;
  const own = shown.own.find((each) => is(each, chosen)) ?? null;
  const thing = held !== null && is(held, chosen) ? held : own;
  const put = (now: ThingView): void => {
    setHeld(now);
    change({ set: shown.set, kind: now.kind, was: own?.name ?? null, now }, () => {
      setHeld(null);
      setChosen({ kind: now.kind, name: now.name });
    });
  };
  return (
    <section class="stage-drawn" aria-label={words.plan.stageTitle}>
      <Sets
        {...{ told, shown, free }}
        choose={(to) => (setSet(to), setChosen(null))}
        act={(wanted, done) => act({ set: wanted }, done ?? (() => undefined))}
      />
      <p class="hint">{free ? words.plan.howToDraw : words.plan.readsOnly}</p>
      <Floor {...{ shown, thing, seen, free, put }} feet={told.feet} drag={setHeld} choose={setChosen} />
      {refused !== null && (
        <p class="bad" role="alert" lang="en">
          {refused}
        </p>
      )}
      <SeenFrom seen={seen} choose={(to) => choices.choose({ seen: to })} />
      {thing !== null && free && (
        <Measures
          key={`${thing.kind} ${own?.name ?? ''}`}
          {...{ thing, put }}
          feet={told.feet}
          takeAway={() =>
            change(
              { set: shown.set, kind: thing.kind, was: thing.name, now: null },
              () => (setHeld(null), setChosen(null)),
            )
          }
        />
      )}
      <ul class="things">
        {shown.own.map((each) => (
          <li key={`${each.kind} ${each.name}`}>
            <button
              type="button"
              aria-pressed={is(each, chosen)}
              onClick={() => setChosen(is(each, chosen) ? null : each)}
            >
              {thingIn(told.feet, each)}
            </button>
          </li>
        ))}
      </ul>
      {free && (
        <Add
          shown={shown}
          add={(now) =>
            change({ set: shown.set, kind: now.kind, was: null, now }, () =>
              setChosen({ kind: now.kind, name: now.name }),
            )
          }
        />
      )}
    </section>
  );
}

const is = (thing: ThingView, chosen: Chosen | null): boolean =>
  thing.kind === chosen?.kind && thing.name === chosen.name;

// What the text says, and what writes into it: one change after the other, each into the text as it is then.
function useStage(studio: Studio, api: Api, text: string) {
  const [told, setTold] = useState<StageTold | null>(null);
  const [refused, setRefused] = useState<string | null>(null);
  const queue = useRef<Promise<void>>(Promise.resolve());
  const waits = useRef<{ timer: ReturnType<typeof setTimeout>; of: string; write(): void } | null>(null);
  const acting = useRef<string | null>(null);
  const by = studio.judgedBy.value;
  const last = useRef<{ text: string; by: string | null } | null>(null);
  useEffect(() => {
    if (last.current?.text === text && last.current.by === by) return undefined;
    const pause = setTimeout(
      () => {
        api.stage({ text, change: null }).then(
          (answer) => {
            last.current = { text, by };
            // While the text says no stage the last one stays.
            setTold((before) => (answer.sets.length > 0 || before === null ? answer : before));
          },
          (fault: unknown) => setRefused(reasonOf(fault)),
        );
      },
      told === null ? 0 : PAUSE_MS,
    );
    return () => clearTimeout(pause);
  }, [text, by, api]);
  // Written into the text as it is when the answer comes: whoever types meanwhile loses nothing.
  const write = async (wanted: StageChange, done: () => unknown): Promise<void> => {
    const sent = studio.draft.value?.text ?? '';
    const answer = await api.stage({ text: sent, change: wanted });
    if (studio.draft.value?.text !== sent) return write(wanted, done);
    last.current = { text: answer.text, by: studio.judgedBy.value };
    setTold(answer);
    setRefused(null);
    studio.type(answer.text);
    done();
  };
  const queued = (wanted: StageChange, done: () => unknown): Promise<void> => {
    queue.current = queue.current
      .then(() => write(wanted, done))
      .catch((fault: unknown) => setRefused(reasonOf(fault)));
    return queue.current;
  };
  // What was drawn before comes first; what is on its way is not done twice by a finger that bounced.
  const act = (wanted: StageChange, done: () => void): void => {
    const said = JSON.stringify(wanted);
    if (acting.current === said) return;
    acting.current = said;
    if (waits.current !== null) {
      clearTimeout(waits.current.timer);
      waits.current.write();
    }
    void queued(wanted, done).then(() => {
      if (acting.current === said) acting.current = null;
    });
  };
  // Whoever goes on dragging has not done yet: what stands for a moment is written, of each thing the last.
  const change = (thing: ThingChange, done: () => void): void => {
    const of = `${thing.set} ${thing.kind} ${thing.was}`;
    if (waits.current !== null) clearTimeout(waits.current.timer);
    if (waits.current !== null && waits.current.of !== of) waits.current.write();
    const now = (): void => {
      waits.current = null;
      // Whoever has gone on drawing is shown what they draw.
      void queued({ thing }, () => waits.current === null && done());
    };
    waits.current = { timer: setTimeout(now, PAUSE_MS), of, write: now };
  };
  // What was drawn last is written, whoever goes away.
  useEffect(
    () => () => {
      if (waits.current === null) return;
      clearTimeout(waits.current.timer);
      waits.current.write();
    },
    [],
  );
  return { told, change, act, refused };
}

const reasonOf = (fault: unknown): string => (fault instanceof Error ? fault.message : String(fault));

interface FloorProps {
  shown: StageSetView;
  thing: ThingView | null;
  seen: Seen;
  free: boolean;
  feet: boolean;
  put(thing: ThingView): void;
  drag(thing: ThingView | null): void;
  choose(chosen: Chosen): void;
}

/** The picture: everything that stands there, and the corners of what is chosen. */
function Floor({ shown, thing, seen, free, feet, put, drag, choose }: FloorProps) {
  const [frame, size] = useSize();
  const box = useMemo(() => {
    const corners = shown.things.filter(({ kind }) => kind === 'area').flatMap((each) => each.corners);
    return around(corners, seen, AROUND);
  }, [shown, seen]);
  const perPixel = Math.max(box.width / size.width, box.height / size.height);
  const middle = thing === null ? null : middleOf(thing.corners);
  // What is small has its corners near its middle.
  const room =
    Math.min(...(thing?.corners ?? []).map(([x, y]) => Math.hypot(x - (middle?.[0] ?? 0), y - (middle?.[1] ?? 0)))) / 2;
  return (
    <div class="plan-frame">
      <svg
        ref={frame}
        class="plan"
        viewBox={`${box.left} ${box.top} ${box.width} ${box.height}`}
        style={{ '--letter': `${LETTER_PX * perPixel}px`, '--hair': `${perPixel}px` }}
        role="group"
        aria-label={words.plan.stageTitle}
      >
        <g class="ground" aria-hidden="true">
          {shown.things.map((each, n) => (
            <g
              key={n}
              class="choosable"
              onClick={() => shown.own.some((own) => is(own, each)) && choose({ kind: each.kind, name: each.name })}
            >
              <Thing thing={each} seen={seen} />
            </g>
          ))}
        </g>
        {thing !== null && middle !== null && (
          <>
            <polygon class="chosen" points={thing.corners.map((each) => point(inPicture(seen, each))).join(' ')} />
            <Grip
              at={middle}
              {...{ seen, perPixel, free, room }}
              label={words.plan.wholeOf(thingIn(feet, thing))}
              marks={{}}
              put={(to) => put(shifted(thing, middle, to))}
              drags={(to) => drag(to === null ? null : shifted(thing, middle, to))}
            >
              {() => <path class="at" d="M-.3 0H.3M0 -.3V.3" />}
            </Grip>
            {thing.corners.map((corner, n) => (
              <Grip
                key={n}
                at={corner}
                {...{ seen, perPixel, free, room }}
                label={words.plan.cornerOf(n + 1, thing.name, placeIn(feet, corner))}
                marks={{}}
                put={(to) => put(withCorner(thing, n, to))}
                drags={(to) => drag(to === null ? null : withCorner(thing, n, to))}
              >
                {(held) => (
                  <>
                    <circle class="at" r={0.18} />
                    {held !== null && (
                      <text class="where" text-anchor="middle" y={-0.4} aria-hidden="true">
                        {placeIn(feet, held)}
                      </text>
                    )}
                  </>
                )}
              </Grip>
            ))}
          </>
        )}
      </svg>
    </div>
  );
}

const withCorner = (thing: ThingView, number: number, to: Place): ThingView => ({
  ...thing,
  corners: thing.corners.map((each, n) => (n === number ? [to[0], to[1]] : each)),
});

function shifted(thing: ThingView, from: Place, to: Place): ThingView {
  const [x, y] = [to[0] - from[0], to[1] - from[1]];
  const tidy = (value: number): number => Math.round(value * 1_000) / 1_000;
  return { ...thing, corners: thing.corners.map(([a, b]) => [tidy(a + x), tidy(b + y)]) };
}

function middleOf(corners: readonly Place[]): Place {
  const sum = corners.reduce<Place>(([x, y], [a, b]) => [x + a, y + b], [0, 0]);
  return [sum[0] / corners.length, sum[1] / corners.length];
}

/** What is chosen, in numbers. */
function Measures(props: { thing: ThingView; feet: boolean; put(thing: ThingView): void; takeAway(): void }) {
  const { thing, feet, put, takeAway } = props;
  const [name, setName] = useState(thing.name);
  const unit = feet ? FOOT : 1;
  const number = (label: string, metres: number, choose: (metres: number) => void) => (
    <Length key={label} {...{ label, metres, unit, choose }} />
  );
  const { kind, height, eyes, corners } = thing;
  return (
    <fieldset class="measures">
      <legend>{[words.plan.kind[thing.kind], thing.name].filter((each) => each !== '').join(' ')}</legend>
      {kind !== 'area' && (
        <label>
          {words.plan.thingName}
          <input
            maxLength={60}
            value={name}
            onInput={(event) => setName(event.currentTarget.value)}
            onChange={() => name.trim() !== '' && name !== thing.name && put({ ...thing, name: name.trim() })}
          />
        </label>
      )}
      {height !== null && number(words.plan.heightOf[kind] ?? '', height, (to) => put({ ...thing, height: to }))}
      {eyes !== null && number(words.plan.eyesOf, eyes, (to) => put({ ...thing, eyes: to }))}
      {corners.map(([x, y], n) => (
        <div class="row" key={n}>
          {number(words.plan.cornerX(n + 1, feet), x, (to) => put(withCorner(thing, n, [to, y])))}
          {number(words.plan.cornerY(n + 1, feet), y, (to) => put(withCorner(thing, n, [x, to])))}
          {corners.length > 3 && (
            <button
              type="button"
              aria-label={words.plan.noCorner(n + 1)}
              onClick={() => put({ ...thing, corners: corners.filter((_, at) => at !== n) })}
            >
              ✗
            </button>
          )}
        </div>
      ))}
      <div class="choices">
        {kind !== 'edge' && (
          <button type="button" onClick={() => put({ ...thing, corners: withOneMore(corners) })}>
            {words.plan.oneCorner}
          </button>
        )}
        {kind !== 'area' && (
          <button type="button" onClick={takeAway}>
            {words.plan.takeAway}
          </button>
        )}
      </div>
    </fieldset>
  );
}

// A length in the file's unit. What is being typed stands there until it is done, whatever is drawn anew meanwhile.
function Length(props: { label: string; metres: number; unit: number; choose(metres: number): void }) {
  const { label, metres, unit, choose } = props;
  const [typed, setTyped] = useState<string | null>(null);
  return (
    <label>
      {label}
      <input
        type="number"
        step="0.1"
        value={typed ?? String(Math.round((metres / unit) * 100) / 100)}
        onInput={(event) => setTyped(event.currentTarget.value)}
        onChange={(event) => {
          const value = event.currentTarget.valueAsNumber;
          setTyped(null);
          if (Number.isFinite(value)) choose(value * unit);
        }}
      />
    </label>
  );
}

// Between the last corner and the first, where it changes nothing yet.
function withOneMore(corners: [number, number][]): [number, number][] {
  const [first, last] = [corners[0], corners.at(-1)];
  if (first === undefined || last === undefined) return corners;
  return [...corners, [(first[0] + last[0]) / 2, (first[1] + last[1]) / 2]];
}

/** Something new, in the middle of the stage; seats before it. */
function Add({ shown, add }: { shown: StageSetView; add(thing: ThingView): void }) {
  const [kind, setKind] = useState<ThingKind>('piece');
  const area = shown.things.find((each) => each.kind === 'area')?.corners ?? [];
  const made = (): ThingView => {
    const [x, y] = middleOf(area);
    const tenths = (value: number): number => Math.round(value * 10) / 10;
    const before = Math.min(...area.map(([, each]) => each)) - 3;
    const [cx, cy] = [tenths(x), tenths(kind === 'seats' ? before : y)];
    const taken = shown.things.filter((each) => each.kind === kind).map(({ name }) => name);
    const called = words.plan.kind[kind].replaceAll(' ', '-');
    let name = called;
    for (let n = 2; taken.includes(name); n += 1) name = `${called}-${n}`;
    const corners: [number, number][] =
      kind === 'edge'
        ? [
            [cx - 1, cy],
            [cx + 1, cy],
          ]
        : [
            [cx - 0.5, cy - 0.5],
            [cx + 0.5, cy - 0.5],
            [cx + 0.5, cy + 0.5],
            [cx - 0.5, cy + 0.5],
          ];
    return { kind, name, corners, height: HEIGHTS[kind] ?? null, eyes: kind === 'seats' ? EYES : null };
  };
  return (
    <div class="row">
      <label>
        {words.plan.addWhat}
        <select value={kind} onChange={(event) => setKind(event.currentTarget.value as ThingKind)}>
          {KINDS.map((each) => (
            <option key={each} value={each}>
              {words.plan.kind[each]}
            </option>
          ))}
        </select>
      </label>
      <button type="button" onClick={() => add(made())}>
        {words.plan.add}
      </button>
    </div>
  );
}
