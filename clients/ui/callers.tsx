// Who called a hold, each once; of very many only the first and the latest are told by name.
import type { HoldView } from '../core/wire';
import { words } from '../core/words';

/** The callers, with why they called and, where it is asked, where their own screens were. */
export function Callers({ hold, screens = false }: { hold: HoldView; screens?: boolean }) {
  const more = hold.caller_count - hold.callers.length;
  return (
    <ul>
      {hold.callers.map((caller, n) => (
        <li key={n}>
          <b>{words.caller(caller)}</b>, {words.role[caller.role]}
          {caller.reason !== null && `: ${caller.reason}`}
          {screens && caller.screen !== null && (
            <small> {words.screenAt(words.spot(caller.screen.phrase_name, caller.screen.beat))}</small>
          )}
        </li>
      ))}
      {more > 0 && <li>{words.callersLeft(more)}</li>}
    </ul>
  );
}
