// What a phone shows while nothing moves: why, and what must come next.
import type { View } from '../core/model';
import type { Page } from '../core/page';
import { lastHold, stageOf } from '../core/reading';
import { words } from '../core/words';
import { HoldText } from '../ui/hold-text';
import { Note } from '../ui/note';
import { MyPart } from './my-part';
import { Settings } from './settings';

/** The screen while nothing moves. */
export function Standing({ view, page }: { view: View; page: Page }) {
  const stage = stageOf(view);
  const state = view.state;
  const about = lastHold(view);
  if (stage === null || state === null) return null;
  return (
    <>
      <p class="lead">{words.stageNext[stage]}</p>
      {state.because !== null && <p lang="en">{state.because}</p>}
      {state.hold !== null && <HoldText hold={state.hold} />}
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
