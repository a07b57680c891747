// Tonight's order beside what goes: what is done, what goes, what is next and how long each takes. Nothing of it can be
// changed then. Fetched when it is opened.
import type { View } from '../core/model';
import { titled } from '../core/names';
import { nextOf } from '../core/tonight';
import type { ItemView } from '../core/wire';
import { words } from '../core/words/tonight';
import './tonight.css';

/** The order beside what goes: what is done, what goes, what is next. Nothing can be changed. */
export function TonightBeside({ view }: { view: View }) {
  const items = view.tonight?.items ?? [];
  if (items.length === 0) return null;
  return (
    <div class="tonight beside">
      <Items items={items} />
    </div>
  );
}

function Items({ items }: { items: ItemView[] }) {
  const next = nextOf(items);
  return (
    <ol class="order">
      {items.map((item, at) => (
        <li key={item.item} data-stands={item.stands}>
          <What item={item} number={at + 1} isNext={item === next} />
        </li>
      ))}
    </ol>
  );
}

/** An item: what, where it stands, how long it takes, and what keeps it. */
export function What({ item, number, isNext }: { item: ItemView; number: number; isNext: boolean }) {
  const stands = isNext ? `▸ ${words.order.next}` : words.order.stands[item.stands];
  return (
    <p class="what">
      <b dir="auto">
        {number}. {words.tonight.what(item.planned)}
      </b>
      <small>
        {item.stands === 'done' ? `✓ ${words.order.stands.done}` : `${stands}, ${words.order.time(item.about_s)}`}
      </small>
      {item.cannot !== null && !isNext && (
        <span class="bad" lang="en">
          {item.cannot}
        </span>
      )}
      {item.open.length > 0 && item.stands !== 'done' && !isNext && (
        <span class="bad">{words.tonight.nobodyPlays(item.open.map(titled))}</span>
      )}
    </p>
  );
}
