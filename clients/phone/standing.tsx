// What a phone shows while nothing moves: why, and what must come next.
import type { View } from '../core/model';
import { lastHold, moveAt, stageOf } from '../core/reading';
import { words } from '../core/words';
import { HoldText } from '../ui/hold-text';
import { Figure } from '../ui/figure';
import { Note } from '../ui/note';
import type { PhonePage } from './carried';
import { MyPart } from './my-part';
import { Settings } from './settings';

/** The screen while nothing moves. */
export function Standing({ view, page }: { view: View; page: PhonePage }) {
  const stage = stageOf(view);
  const state = view.state;
  const about = lastHold(view);
  if (stage === null || state === null) return null;
  // One's own HOLD has ended the count here, whatever the server has heard of it.
  const counts = stage === 'running' || stage === 'count-in';
  const move = moveAt(view.run, state.hold?.spot ?? null);
  return (
    <>
      {stage === 'stopped' && <div class="stopped-bar" />}
      {stage === 'complete' && <div class="final-bar" />}
      {/* While a hold is on, the vitals say what must be done, above everything. */}
      {stage !== 'held' && <p class="lead">{counts ? words.toldNobody : words.stageNext[stage]}</p>}
      {state.because !== null && (
        <p class="because" lang="en">
          {state.because}
        </p>
      )}
      {state.hold !== null && (
        <div class="pictured">
          {move !== null && <Figure sheet={view.run} move={move} near />}
          <HoldText hold={state.hold} />
        </div>
      )}
      {view.me?.role === 'captain' && about !== null && <Note key={about.hold} hold={about} session={page.session} />}
      {stage !== 'held' && <MyPart view={view} page={page} />}
      {stage !== 'held' && <Settings view={view} page={page} />}
      {stage !== 'held' && view.me?.role !== 'performer' && <ToReview />}
    </>
  );
}

// Not for performers: whoever reads the review is not at the page that cues them.
function ToReview() {
  return (
    <p>
      <a class="way" href="/review">
        {words.record.review}
      </a>
    </p>
  );
}
