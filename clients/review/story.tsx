// A hold or stop, told whole, beside the review. It covers nothing that HOLD needs, and Esc stays HOLD's.
import { useEffect, useRef } from 'preact/hooks';
import { words } from '../core/words/review';
import type { Study } from './study';

/** The hold that is told, if one is. */
export function Story({ study, close }: { study: Study; close(): void }) {
  const told = study.told.value;
  const text = useRef<HTMLDivElement>(null);
  const event = told?.events[told.at];
  const markup = told?.markup ?? null;
  useEffect(() => {
    if (event !== undefined) history.replaceState(null, '', `${location.pathname}${location.search}#e${event}`);
  }, [event]);
  useEffect(() => {
    if (text.current === null || markup === null) return;
    const within = text.current.contains(document.activeElement);
    const fresh = text.current.childElementCount === 0 || text.current.dataset['event'] !== String(event);
    text.current.innerHTML = markup;
    text.current.dataset['event'] = String(event);
    if (fresh || within) text.current.querySelector('h2')?.focus({ preventScroll: false });
  }, [event, markup]);
  if (told === null) return null;
  const turn = (by: number): void => void study.tell(told.events, told.at + by);
  return (
    <aside class="story report" aria-label={words.review.story}>
      <div class="choices">
        <button type="button" onClick={close}>
          {words.review.close}
        </button>
        {told.events.length > 1 && (
          <>
            <button type="button" disabled={told.at === 0} onClick={() => turn(-1)}>
              {words.review.newer}
            </button>
            <button type="button" disabled={told.at === told.events.length - 1} onClick={() => turn(1)}>
              {words.review.older}
            </button>
            <span class="of">{words.review.ofSeveral(told.at + 1, told.events.length)}</span>
          </>
        )}
      </div>
      {markup === null && <p>{words.review.storyWait}</p>}
      <div lang="en" ref={text} />
    </aside>
  );
}
