// In how many beats something comes.
import { words } from '../core/words';

/** In how many beats. */
export function When({ beats }: { beats: number | null }) {
  return (
    <p class="when">
      {beats !== null && (
        <>
          {words.in} <b>{beats}</b>
        </>
      )}
    </p>
  );
}
