// The view as a signal, so that the drawn parts follow it.
import { signal, type ReadonlySignal } from '@preact/signals';
import { NOTHING, type View } from '../core/model';
import type { Session } from '../core/session';

/** The session's view, always the newest. */
export function follow(session: Session): ReadonlySignal<View> {
  const view = signal<View>(NOTHING);
  session.listen((now) => {
    view.value = now;
  });
  return view;
}
