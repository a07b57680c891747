// The picture of the move on the line that one is on.
import { useEffect, useState } from 'preact/hooks';
import type { DraftPicture } from '../core/wire';
import { words } from '../core/words/score';
import { Drawing } from '../ui/figure';
import type { Api } from './api';
import type { Studio } from './studio';

/** A line is asked about after a pause of the caret, milliseconds. */
const PAUSE_MS = 200;

/** The picture, with the move in words; nothing where the line has no move. */
export function Pictured({ studio, api, line }: { studio: Studio; api: Api; line: number }) {
  const file = studio.file.value;
  const text = studio.draft.value?.text ?? null;
  const [told, setTold] = useState<DraftPicture | null>(null);
  useEffect(() => {
    if (file === null || text === null) return undefined;
    let wanted = true;
    const ask = async (): Promise<void> => {
      // What cannot be told is not shown; the checks say what is wrong with the text.
      const answer = await api.picture({ file, text, line }).catch(() => null);
      if (wanted) setTold(answer);
    };
    const pause = setTimeout(() => void ask(), PAUSE_MS);
    return () => {
      wanted = false;
      clearTimeout(pause);
    };
  }, [file, text, line, api]);
  if (told === null || told.of === null) return null;
  return (
    <section class="pictured-line" aria-label={words.score.pictured}>
      {told.picture === null ? (
        <p class="hint">{words.score.noPicture(told.why ?? '')}</p>
      ) : (
        <Drawing picture={told.picture} />
      )}
      <p dir="auto">{told.of}</p>
    </section>
  );
}
