// A fight played over again on the plan of the stage, as its score is now: for whoever asks where on the stage something was.
import { useEffect, useState } from 'preact/hooks';
import { askJson } from '../core/asking';
import { stageOf } from '../core/reading';
import type { View } from '../core/model';
import type { Choices } from '../core/settings';
import type { PartSheet } from '../core/wire';
import { words } from '../core/words/review';
import { words as planWords } from '../core/words/plan';
import { ScrubFloor } from '../ui/plan-scrub';

interface Props {
  personalKey: string;
  choices: Choices;
  view: View;
  /** The fight that the review is about; nothing for all. */
  fight: string | null;
}

/** The fight, to be chosen and gone through. */
export function Replay({ personalKey, choices, view, fight }: Props) {
  const [chosen, setChosen] = useState<string | null>(null);
  const [told, setTold] = useState<PartSheet | null>(null);
  const [refused, setRefused] = useState<string | null>(null);
  const wanted = chosen ?? fight;
  useEffect(() => setChosen(null), [fight]);
  useEffect(() => {
    let asks = true;
    askJson<PartSheet>('part', personalKey, { fight: wanted, part: null }, words.review.noAnswer).then(
      (answer) => {
        if (!asks) return;
        setTold(answer);
        setRefused(null);
      },
      (fault: unknown) => asks && setRefused(fault instanceof Error ? fault.message : words.review.noAnswer),
    );
    return () => {
      asks = false;
    };
  }, [wanted, personalKey]);
  const sheet = told?.lesson?.sheet ?? null;
  const stage = stageOf(view);
  const busy = stage === 'count-in' || stage === 'running' || stage === 'held';
  return (
    <>
      {refused !== null && <p class="bad">{refused}</p>}
      {told !== null && (
        <label>
          {words.fight}
          <select value={sheet?.fight ?? ''} onChange={(event) => setChosen(event.currentTarget.value)}>
            {told.fights.map((each) => (
              <option key={each.fight}>{each.fight}</option>
            ))}
          </select>
        </label>
      )}
      <p class="hint">{planWords.plan.asNow}</p>
      {sheet !== null && sheet.floor === null && <p>{planWords.plan.none}</p>}
      {sheet !== null && sheet.floor !== null && (
        <ScrubFloor
          key={sheet.floor}
          id={sheet.floor}
          {...{ choices, busy, personalKey }}
          fight={sheet.fight}
          part={null}
          moves={sheet.moves}
        />
      )}
    </>
  );
}
