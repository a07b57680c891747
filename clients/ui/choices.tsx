// How a choice is drawn: a switch, or one of a few.
import { words } from '../core/words';

/** Something that is on or off. */
export function Switch({ label, on, turn }: { label: string; on: boolean; turn(on: boolean): void }) {
  return (
    <button type="button" role="switch" aria-checked={on} onClick={() => turn(!on)}>
      {label}: {on ? words.on : words.off}
    </button>
  );
}

/** One of a few, all of them in sight. */
export function OneOf<T extends string>(props: {
  label: string;
  names: Record<T, string>;
  chosen: T;
  choose(value: T): void;
}) {
  const names = Object.entries(props.names) as [T, string][];
  return (
    <div class="one-of" role="group" aria-label={props.label}>
      <span>{props.label}</span>
      {names.map(([value, name]) => (
        <button type="button" key={value} aria-pressed={value === props.chosen} onClick={() => props.choose(value)}>
          {name}
        </button>
      ))}
    </div>
  );
}
