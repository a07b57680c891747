// The moves of a fight, asked for once while it is chosen at the desk: a run can begin at any of them.
import { useEffect, useState } from 'preact/hooks';
import { askJson } from '../core/asking';
import type { FightChoice, MoveView, PartSheet } from '../core/wire';
import { words } from '../core/words';

/** The moves of a fight's newest text; none until they are there. */
export function useMovesOf(key: string, fight: FightChoice | undefined): MoveView[] {
  const [told, setTold] = useState<{ of: string; moves: MoveView[] } | null>(null);
  const of = fight === undefined ? null : `${fight.fight} ${fight.revision}`;
  useEffect(() => {
    if (fight === undefined || of === null) return undefined;
    let asks = true;
    const ask = async (): Promise<void> => {
      // Without an answer a run begins with its phrase, as it always can.
      const answer = await askJson<PartSheet>(
        'part',
        key,
        { fight: fight.fight, part: null },
        words.myPart.noAnswer,
      ).catch(() => null);
      if (asks && answer !== null) setTold({ of, moves: answer.lesson?.sheet.moves ?? [] });
    };
    void ask();
    return () => {
      asks = false;
    };
  }, [key, of]);
  return told !== null && told.of === of ? told.moves : [];
}
