// A number that is taken as it is typed, or stepped with the arrow keys. While somebody types, what they typed stands,
// whatever the server says.
import { useState } from 'preact/hooks';

interface Props {
  value: number;
  range: [number, number];
  step: number;
  /** True for whole numbers alone. */
  whole?: boolean;
  label?: string;
  change(value: number): void;
}

/** The field. */
export function Count({ value, range, step, whole = false, label, change }: Props) {
  const [least, most] = range;
  const [typed, setTyped] = useState<string | null>(null);
  const take = (text: string): void => {
    setTyped(text);
    const asked = whole ? Math.round(Number(text)) : Number(text);
    if (text.trim() !== '' && asked >= least && asked <= most) change(asked);
  };
  // The browser's own stepping goes to multiples of the step; here what was typed keeps its fraction.
  const stepBy = (steps: number): void => {
    const now = typed === null || typed.trim() === '' ? value : Number(typed);
    const next = Math.round((now + steps * step) * 1_000) / 1_000;
    take(String(Math.min(most, Math.max(least, Number.isFinite(next) ? next : value))));
  };
  return (
    <input
      type="number"
      inputMode="decimal"
      min={least}
      max={most}
      step="any"
      {...(label === undefined ? {} : { 'aria-label': label })}
      value={typed ?? value}
      onInput={(event) => take(event.currentTarget.value)}
      onKeyDown={(event) => {
        const steps = { ArrowUp: 1, ArrowDown: -1, PageUp: 10, PageDown: -10 }[event.key];
        if (steps === undefined) return;
        event.preventDefault();
        stepBy(steps);
      }}
      // A wheel that turns over the field scrolls the page and chooses nothing.
      onWheel={(event) => event.currentTarget.blur()}
      onBlur={() => setTyped(null)}
    />
  );
}
