// That there is no plan of the stage, said where one looks at what is found: without it nothing of space is checked. One touch
// begins a plain one, which is open then and is drawn from there on.
import { words } from '../core/words/sets';
import type { Studio } from './studio';

/** That there is none, and what begins one; where there is one, what opens it. */
export function NoStage({ studio }: { studio: Studio }) {
  const stage = studio.list.value?.stage ?? null;
  if (stage !== null) {
    return (
      <button type="button" onClick={() => void studio.open(stage)}>
        {words.sets.draw}
      </button>
    );
  }
  const begin = async (): Promise<void> => {
    const begun = await studio.beginStage();
    if (begun !== null) studio.said.value = { good: true, text: begun ? words.sets.begun : words.sets.there };
  };
  return (
    <section class="no-stage">
      <p>⚠ {words.sets.noStage}</p>
      {studio.mayWrite ? (
        <>
          <button type="button" onClick={() => void begin()}>
            {words.sets.begin}
          </button>
          <p class="hint">{words.sets.beginHint}</p>
        </>
      ) : (
        <p class="hint">{words.sets.notYours}</p>
      )}
    </section>
  );
}
