// The drawn part of a page: what it says is put into its place, and drawn anew whenever what the page knows changes. A fault in
// it is said and stays in it.
import { render, type ComponentChildren } from 'preact';
import { NOTHING, type View } from '../core/model';
import type { Session } from '../core/session';
import { Boundary } from './boundary';
import { signal, useSignals, type Signal } from './signal';

/** Draws `what` into a place of the page. */
export function drawInto(place: Element, what: () => ComponentChildren): void {
  const Whole = () => {
    useSignals();
    return <>{what()}</>;
  };
  render(
    <Boundary>
      <Whole />
    </Boundary>,
    place,
  );
}

/** The session's view, always the newest. */
export function follow(session: Session): Signal<View> {
  const view = signal<View>(NOTHING);
  session.listen((now) => {
    view.value = now;
  });
  return view;
}
