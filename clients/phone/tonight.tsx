// Tonight on a phone: when its person is needed, how far the evening is, and the order for whoever opens it.
import type { View } from '../core/model';
import { neededFor } from '../core/ordering';
import { about, nextOf, toDo } from '../core/tonight';
import type { ItemView } from '../core/wire';
import { words } from '../core/words/tonight';

/** Where the evening stands. Nothing where there is no order, and once the call is over. */
export function Tonight({ view }: { view: View }) {
  const items = view.tonight?.items ?? [];
  const me = view.me;
  if (items.length === 0 || me === null || view.state?.over === true) return null;
  const now = items.findIndex(({ stands }) => stands === 'now');
  const done = items.length - toDo(items).length;
  return (
    <section class="card tonight">
      <p class="lead" role="status">
        {now < 0 ? words.order.doneOf(done, items.length) : words.tonight.here(now + 1, items.length)}
        <br />
        {me.role === 'performer' ? (
          <Needed items={items} member={me.member} />
        ) : (
          words.tonight.left(toDo(items).length, about(toDo(items)))
        )}
      </p>
      <details>
        <summary>{words.order.whole}</summary>
        <Whole items={items} member={me.member} />
      </details>
    </section>
  );
}

function Needed({ items, member }: { items: ItemView[]; member: number }) {
  const needed = neededFor(items, member);
  if (needed === null) return <>{words.order.notNeeded}</>;
  const isNow = needed.item.stands === 'now';
  // What is under way comes before the next, and counts for none of those who wait.
  const waits = needed.before - (items.some(({ stands }) => stands === 'now') ? 1 : 0);
  return (
    <>
      <span dir="auto">{words.order.needed(waits, words.tonight.what(needed.item.planned), isNow)}</span>{' '}
      {needed.before > 0 && <small>{words.order.after(needed.after)}</small>}
    </>
  );
}

function Whole({ items, member }: { items: ItemView[]; member: number }) {
  const next = nextOf(items);
  return (
    <ol>
      {items.map((item) => (
        <li key={item.item} dir="auto">
          {words.tonight.what(item.planned)}{' '}
          <small>
            {item.stands === 'done' ? '✓ ' : ''}
            {item === next ? words.order.next : words.order.stands[item.stands]}
          </small>
          {item.players.includes(member) && <b> ({words.order.you})</b>}
        </li>
      ))}
    </ol>
  );
}
