// Changing tonight's order: by dragging, with the arrow keys, or with the buttons of a row; adding to it, and taking over what
// the review proposes. Fetched when it is opened.
import { useEffect, useRef, useState } from 'preact/hooks';
import { askJson, Refused } from '../core/asking';
import type { View } from '../core/model';
import type { Session } from '../core/session';
import { moved, orderOf, plannedOf, takenOver } from '../core/ordering';
import { nextOf } from '../core/tonight';
import type { FightChoice, ItemView, OrderItem, PlannedView, ReviewOrder, Setup } from '../core/wire';
import { words } from '../core/words/ordering';
import { What } from './tonight';
import './tonight.css';

interface Props {
  view: View;
  session: Session;
}

/** The order while it can be changed; `chosen` is what the form has, to be added to it. */
export function Ordering(props: Props & { chosen: Setup | null; personalKey: string }) {
  const { view, session, chosen, personalKey } = props;
  if (view.tonight === null) return null;
  const { version, items } = view.tonight;
  const give = (order: OrderItem[]): void => session.ask({ kind: 'order', items: order, seen: version });
  const fight = view.fights?.find((each) => each.fight === chosen?.fight);
  const planned = chosen === null || fight === undefined ? null : plannedOf(chosen, fight);
  return (
    <div class="tonight ordering">
      {items.length === 0 && <p>{words.ordering.empty}</p>}
      {items.length > 0 && <Order items={items} fights={view.fights ?? []} give={give} />}
      <div class="powers">
        {planned !== null && (
          <button type="button" onClick={() => give([...orderOf(items), { item: null, planned, done: null }])}>
            <span dir="auto">{words.ordering.add(words.tonight.what(planned))}</span>
          </button>
        )}
        <Propose items={items} personalKey={personalKey} give={give} />
      </div>
    </div>
  );
}

function Order({ items, fights, give }: { items: ItemView[]; fights: FightChoice[]; give(order: OrderItem[]): void }) {
  const [dragged, setDragged] = useState<number | null>(null);
  const [over, setOver] = useState<number | null>(null);
  // The handle that was moved with the keys keeps them, wherever its row stands now.
  const held = useRef<number | null>(null);
  const list = useRef<HTMLOListElement>(null);
  useEffect(() => {
    if (held.current === null) return;
    list.current?.querySelector<HTMLElement>(`[data-item="${held.current}"] .grip`)?.focus();
    held.current = null;
  }, [items]);
  const order = orderOf(items);
  const move = (from: number, to: number): void => {
    if (to >= 0 && to < items.length && to !== from) give(moved(order, from, to));
  };
  const next = nextOf(items);
  return (
    <ol class="order" ref={list}>
      {items.map((item, at) => (
        <li
          key={item.item}
          data-item={item.item}
          data-stands={item.stands}
          data-over={over === at && dragged !== at}
          onDragOver={(event) => {
            if (dragged === null) return;
            event.preventDefault();
            setOver(at);
          }}
          onDrop={(event) => {
            event.preventDefault();
            if (dragged !== null) move(dragged, at);
            setDragged(null);
            setOver(null);
          }}
        >
          <button
            type="button"
            class="grip"
            draggable
            aria-label={words.ordering.moveOf(words.tonight.what(item.planned))}
            onDragStart={(event) => {
              event.dataTransfer?.setData('text/plain', String(item.item));
              setDragged(at);
            }}
            onDragEnd={() => (setDragged(null), setOver(null))}
            onKeyDown={(event) => {
              const by = event.key === 'ArrowUp' ? -1 : event.key === 'ArrowDown' ? 1 : 0;
              if (by === 0) return;
              event.preventDefault();
              held.current = item.item;
              move(at, at + by);
            }}
          >
            <span aria-hidden="true">⠿</span>
          </button>
          <What item={item} number={at + 1} isNext={item === next} />
          <Change
            item={item}
            fight={fights.find((each) => each.fight === item.planned.fight)}
            set={(more) => give(order.map((each, n) => (n === at ? { ...each, ...more } : each)))}
            earlier={at === 0 ? null : () => move(at, at - 1)}
            later={at === items.length - 1 ? null : () => move(at, at + 1)}
            takeOut={() => give(order.filter((_, n) => n !== at))}
          />
        </li>
      ))}
    </ol>
  );
}

interface ChangeProps {
  item: ItemView;
  fight: FightChoice | undefined;
  set(more: Partial<OrderItem>): void;
  earlier: (() => void) | null;
  later: (() => void) | null;
  takeOut(): void;
}

function Change({ item, fight, set, earlier, later, takeOut }: ChangeProps) {
  const what = words.tonight.what(item.planned);
  const plan = (more: Partial<PlannedView>): void => set({ planned: { ...item.planned, ...more } });
  const done = item.stands === 'done';
  return (
    <details class="change">
      <summary aria-label={words.ordering.changeOf(what)}>{words.ordering.change}</summary>
      <div class="fields">
        {fight !== undefined && <Phrases planned={item.planned} phrases={fight.phrases} plan={plan} />}
        <Speed planned={item.planned} plan={plan} />
      </div>
      <div class="powers">
        <Act of={words.ordering.earlier} what={what} act={earlier} />
        <Act of={words.ordering.later} what={what} act={later} />
        <Act of={done ? words.ordering.again : words.ordering.tick} what={what} act={() => set({ done: !done })} />
        <Act of={words.ordering.takeOut} what={what} act={takeOut} />
      </div>
    </details>
  );
}

function Act({ of, what, act }: { of: string; what: string; act: (() => void) | null }) {
  return (
    <button type="button" aria-label={words.ordering.actOn(of, what)} disabled={act === null} onClick={() => act?.()}>
      {of}
    </button>
  );
}

interface PlanProps {
  planned: PlannedView;
  plan(more: Partial<PlannedView>): void;
}

function Phrases({ planned, phrases, plan }: PlanProps & { phrases: string[] }) {
  const place = (name: string | null, usual: number): number =>
    name === null ? usual : Math.max(0, phrases.indexOf(name));
  const from = place(planned.from, 0);
  const to = place(planned.to, phrases.length - 1);
  const set = (first: number, last: number): void => {
    const whole = first === 0 && last === phrases.length - 1;
    plan({ from: whole ? null : (phrases[first] ?? null), to: whole ? null : (phrases[last] ?? null) });
  };
  const choice = (label: string, value: number, change: (at: number) => void) => (
    <label class="half-wide">
      {label}
      <select value={String(value)} onChange={(event) => change(Number(event.currentTarget.value))}>
        {phrases.map((name, at) => (
          <option key={at} value={String(at)}>
            {at + 1}. {name}
          </option>
        ))}
      </select>
    </label>
  );
  return (
    <>
      {choice(words.ordering.from, from, (at) => set(at, Math.max(at, to)))}
      {choice(words.ordering.to, to, (at) => set(Math.min(at, from), at))}
    </>
  );
}

// A walk-through has no speed. What is typed is taken when it is finished.
function Speed({ planned, plan }: PlanProps) {
  const [typed, setTyped] = useState<string | null>(null);
  const take = (): void => {
    const percent = Math.round(Number(typed));
    setTyped(null);
    if (typed !== null && percent >= 10 && percent <= 150 && percent !== planned.percent) plan({ percent });
  };
  return (
    <>
      <label>
        {words.ordering.speed}
        <input
          type="number"
          min={10}
          max={150}
          disabled={planned.percent === null}
          value={typed ?? planned.percent ?? ''}
          onInput={(event) => setTyped(event.currentTarget.value)}
          onBlur={take}
          onKeyDown={(event) => event.key === 'Enter' && take()}
        />
      </label>
      <label class="check">
        <input
          type="checkbox"
          checked={planned.percent === null}
          onChange={(event) => plan({ percent: event.currentTarget.checked ? null : 50 })}
        />
        {words.ordering.walk}
      </label>
    </>
  );
}

// What the review proposes, in one touch. What is done or under way stays.
function Propose(props: { items: ItemView[]; personalKey: string; give(order: OrderItem[]): void }) {
  const { items, personalKey, give } = props;
  const [says, setSays] = useState<string | null>(null);
  const filter = { since: null, until: null, fight: null, phrase: null, weapons: null };
  const take = (): void => {
    setSays(words.ordering.proposing);
    askJson<ReviewOrder>('review/order', personalKey, filter, words.ordering.noAnswer).then(
      ({ rows }) => {
        if (rows.length > 0) give(takenOver(items, rows));
        setSays(words.ordering.proposed(rows.length));
      },
      (fault: unknown) => setSays(fault instanceof Refused ? fault.message : words.ordering.noAnswer),
    );
  };
  return (
    <>
      <button type="button" onClick={take}>
        {words.ordering.propose}
      </button>
      <p role="status">{says}</p>
    </>
  );
}
