// A hold or stop, told whole, beside the review. It covers nothing that HOLD needs, and Esc stays HOLD's.
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { View } from '../core/model';
import { stageOf, whatHappens } from '../core/reading';
import type { Session } from '../core/session';
import { words } from '../core/words/review';
import { Listening, pieceIn } from './listen';
import type { Study } from './study';

interface Props {
  study: Study;
  view: View;
  session: Session;
  close(): void;
}

/** The hold that is told, if one is. */
export function Story({ study, view, session, close }: Props) {
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
      {markup?.includes('data-shown=') === true && <Listen key={event} place={text} view={view} session={session} />}
      {markup === null && <p>{words.review.storyWait}</p>}
      <div lang="en" ref={text} />
    </aside>
  );
}

/** The seconds before, heard again; not while anything happens in the room. */
function Listen({ place, view, session }: { place: { current: Element | null }; view: View; session: Session }) {
  const [plays, setPlays] = useState(false);
  const listening = useMemo(() => new Listening(), []);
  const stop = (): void => {
    listening.stop();
    setPlays(false);
  };
  useEffect(() => {
    let before = whatHappens(session.view);
    const deaf = session.listen((now) => {
      const happens = whatHappens(now);
      if (happens !== before) stop();
      before = happens;
    });
    return () => {
      deaf();
      listening.stop();
    };
  }, []);
  const stage = stageOf(view);
  const busy = stage !== null && ['places', 'count-in', 'running', 'held'].includes(stage);
  const play = (): void => {
    const piece = place.current === null ? null : pieceIn(place.current);
    if (piece === null) return;
    listening.play(piece, () => setPlays(false));
    setPlays(true);
  };
  return (
    <p class="listen">
      <button type="button" disabled={busy && !plays} onClick={plays ? stop : play}>
        {plays ? words.review.silence : words.review.listen}
      </button>
    </p>
  );
}
