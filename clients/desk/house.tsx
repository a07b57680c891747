// The parts of the server itself: loudspeakers and log.
import type { View } from '../core/model';
import { stageOf } from '../core/reading';
import type { Health, State } from '../core/wire';
import { words } from '../core/words';

/** Whether they do their work. */
export function House({ view, state }: { view: View; state: State }) {
  const stage = stageOf(view);
  const troubles = view.troubles ?? [];
  return (
    <section class="house">
      <h2>{words.houseTitle}</h2>
      <One name={words.soundHealth} health={state.sound} />
      <One name={words.logHealth} health={state.log} />
      {troubles.length > 0 && (
        <>
          <h3>{words.troublesTitle}</h3>
          <ul class="bad">
            {troubles.map((trouble) => (
              <li key={trouble} lang="en">
                {trouble}
              </li>
            ))}
          </ul>
        </>
      )}
      {stage !== 'count-in' && stage !== 'running' && (
        <p>
          <a class="way" href="/review">
            {words.record.review}
          </a>
        </p>
      )}
    </section>
  );
}

function One({ name, health }: { name: string; health: Health }) {
  return (
    <p>
      <b>{name}</b>{' '}
      <span class={health.well ? 'good' : 'bad'}>{health.well ? `✓ ${words.well}` : `✗ ${words.unwell}`}</span>{' '}
      <span lang="en">{health.says}</span>
    </p>
  );
}
