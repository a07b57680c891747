// My part on the phone, any time nothing moves: from the server, with a file of it to take home. A call takes the screen,
// and what somebody plays to themselves is silent with anything that happens in the room.
import { useMemo } from 'preact/hooks';
import { askJson } from '../core/asking';
import { lastingStore } from '../core/browser';
import type { View } from '../core/model';
import type { Page } from '../core/page';
import { stageOf, whatHappens } from '../core/reading';
import type { Lesson, PartSheet, SoundClips } from '../core/wire';
import { words } from '../core/words';
import { fetchHome } from '../part/fetch-home';
import type { Source } from '../part/source';
import { Fold } from '../ui/later';

/** What is to be read, played and asked, folded until somebody wants it. */
export function MyPart({ view, page }: { view: View; page: Page }) {
  const source = useMemo(() => ofServer(page), [page]);
  const part = view.me?.part ?? null;
  return (
    <Fold
      class="my-part"
      summary={part === null ? words.myPart.fight : words.myPart.mine}
      load={() => import('../part/my-part')}
    >
      {/* What is run next comes first; else the first fight in which the part is. */}
      {({ Part }) => <Part key={part} source={source} part={part} first={view.run?.fight ?? null} />}
    </Fold>
  );
}

// The same page, whatever it is told meanwhile: what plays on it goes on.
function OnThePlan({ page, lesson, part }: { page: Page; lesson: Lesson; part: string | null }) {
  const { floor, fight, moves } = lesson.sheet;
  if (floor === null) return null;
  const [stage, link] = [stageOf(page.session.view), page.session.view.link];
  const busy = link !== 'linked' || stage === 'count-in' || stage === 'running' || stage === 'held';
  return (
    <Fold class="plan-now" summary={words.onThePlan} load={() => import('../ui/plan-alone')}>
      {({ ScrubFloor }) => (
        <ScrubFloor
          key={floor}
          id={floor}
          personalKey={page.key}
          choices={page.choices}
          {...{ fight, moves, part, busy }}
        />
      )}
    </Fold>
  );
}

function ofServer(page: Page): Source {
  const { key, session } = page;
  const { noAnswer } = words.myPart;
  return {
    read: (fight, part) => askJson<PartSheet>('part', key, { fight, part }, noAnswer),
    clips: async (fight) => (await askJson<SoundClips>('part/sounds', key, { fight }, noAnswer)).clips,
    takeHome: (part) => fetchHome(key, part),
    onThePlan: (lesson, part) => <OnThePlan key={`${lesson.sheet.fight} plan`} {...{ page, lesson, part }} />,
    store: lastingStore().store,
    interrupts: (stop) => {
      let before = whatHappens(session.view);
      return session.listen((view) => {
        const now = whatHappens(view);
        if (now !== before) stop();
        before = now;
      });
    },
  };
}
