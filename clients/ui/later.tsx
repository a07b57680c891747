// A part of a page that is fetched when it is wanted: what nobody opens costs nobody anything. What does not come over a bad
// network is asked for again.
import type { ComponentChildren } from 'preact';
import { useEffect, useState } from 'preact/hooks';

/** When it is asked for again, milliseconds. */
const AGAIN_MS = 2_000;

/** Draws what `load` brings, once it is here. */
export function Later<T>({ load, children }: { load(): Promise<T>; children(come: T): ComponentChildren }) {
  const [come, setCome] = useState<{ it: T } | null>(null);
  useEffect(() => {
    let timer: ReturnType<typeof setTimeout> | undefined;
    const ask = (): void => {
      load().then(
        (it) => setCome({ it }),
        () => (timer = setTimeout(ask, AGAIN_MS)),
      );
    };
    ask();
    return () => clearTimeout(timer);
    // What is loaded is the same each time.
  }, []);
  return <>{come === null ? null : children(come.it)}</>;
}

/** What is to be opened: behind `summary`, and fetched by whoever opens it. */
export function Fold<T>(props: {
  class: string;
  summary: string;
  load(): Promise<T>;
  children(come: T): ComponentChildren;
}) {
  const [open, setOpen] = useState(false);
  return (
    <details class={props.class} open={open} onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>{props.summary}</summary>
      {open && <Later load={props.load}>{props.children}</Later>}
    </details>
  );
}
