// A part of the desk that is opened by a button, and fetched then.
import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import { Later } from '../ui/later';

/** The part, with what its button says. */
export function Opened<T>(props: {
  title: string;
  show: string;
  hide: string;
  /** Done when it is opened. */
  opened?(): void;
  load(): Promise<T>;
  children(come: T): ComponentChildren;
}) {
  const [open, setOpen] = useState(false);
  const turn = (): void => {
    if (!open) props.opened?.();
    setOpen(!open);
  };
  return (
    <section>
      <h2>{props.title}</h2>
      <button type="button" aria-expanded={open} onClick={turn}>
        {open ? props.hide : props.show}
      </button>
      {open && <Later load={props.load}>{props.children}</Later>}
    </section>
  );
}
