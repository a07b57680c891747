// Who walks from this beat on, and where to: a line each.
import { wayOf } from '../core/feet';
import { titled } from '../core/names';
import type { Cue } from '../core/wire';
import { words } from '../core/words';

/** So many walks are said one by one; of more the names alone. */
const MOST = 3;

/** The walks of a cue; nothing where nobody walks. */
export function Walks({ cue }: { cue: Cue }) {
  const walks = cue.walks.map(({ walk }) => walk);
  if (walks.length === 0) return null;
  if (walks.length > MOST) {
    return <p class="walks">{words.feet.together(walks.map(({ who }) => titled(who)))}</p>;
  }
  return (
    <>
      {walks.map((walk, n) => (
        <p class="walks" key={n}>
          <b>
            <bdi>{titled(walk.who)}</bdi>:
          </b>{' '}
          {words.feet.until(wayOf(walk), walk.until ?? '')}
        </p>
      ))}
    </>
  );
}
