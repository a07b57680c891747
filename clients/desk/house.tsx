// The parts of the server itself: loudspeakers and log, while nothing goes. What is wrong with them stands among what is
// not as it should be.
import type { Health, State } from '../core/wire';
import { words } from '../core/words';

/** Whether they do their work. */
export function House({ state }: { state: State }) {
  return (
    <section class="house">
      <h2>{words.houseTitle}</h2>
      {state.sound.well && <One name={words.soundHealth} health={state.sound} />}
      {state.log.well && <One name={words.logHealth} health={state.log} />}
      <p>
        <a class="way" href="/review">
          {words.record.review}
        </a>
      </p>
    </section>
  );
}

function One({ name, health }: { name: string; health: Health }) {
  return (
    <p>
      <b>{name}</b> <span class="good">✓ {words.well}</span> <span lang="en">{health.says}</span>
    </p>
  );
}
