// What is next tonight at the desk: how far the evening is, and places for the next in one touch. Nothing here starts
// anything.
import type { View } from '../core/model';
import { titled } from '../core/names';
import type { Session } from '../core/session';
import { about, nextOf, toDo } from '../core/tonight';
import { words } from '../core/words';
import { useKey } from './keys';
import { Key, shortcut } from './key';

interface Props {
  view: View;
  session: Session;
}

/** How far the evening is, while nothing goes, and the next; `main` when nothing else is the usual wish. */
export function Next({ view, session, main }: Props & { main: boolean }) {
  const items = view.tonight?.items ?? [];
  const left = toDo(items);
  if (items.length === 0) return null;
  return (
    <div class="next-tonight">
      <p>{left.length === 0 ? words.tonight.allDone : words.tonight.left(left.length, about(left))}</p>
      <PlacesNext view={view} session={session} main={main} />
    </div>
  );
}

// From one to the next in one act: places for the next, with those whom tonight has for it.
function PlacesNext({ view, session, main }: Props & { main: boolean }) {
  const items = view.tonight?.items ?? [];
  const next = nextOf(items);
  const seen = view.state?.last_event;
  const able = next !== null && next.cannot === null && seen !== undefined;
  const call = (): void => {
    if (able) session.ask({ kind: 'places-for', item: next.item, seen });
  };
  useKey('placesNext', able ? call : null);
  if (next === null) return null;
  if (!able) {
    return (
      <p class="bad" lang="en">
        {next.cannot}
      </p>
    );
  }
  const what = words.tonight.placesFor(items.indexOf(next) + 1, words.tonight.what(next.planned));
  return (
    <>
      <button
        type="button"
        class={main ? 'main' : undefined}
        data-starts
        aria-keyshortcuts={shortcut('placesNext')}
        onClick={call}
      >
        <span dir="auto">{what}</span> <Key of="placesNext" />
      </button>
      {next.open.length > 0 && <p class="bad">{words.tonight.nobodyPlays(next.open.map(titled))}</p>}
    </>
  );
}
