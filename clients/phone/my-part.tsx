// My part, any time nothing moves: the whole fight phrase by phrase, my own moves and replies with partner and picture. It
// is read here and nothing else; no run is touched by it, and a call takes the screen.
import { useEffect, useState } from 'preact/hooks';
import { askJson } from '../core/asking';
import type { View } from '../core/model';
import type { Page } from '../core/page';
import { partIn } from '../core/reading';
import type { MoveView, PartSheet, RunSheet } from '../core/wire';
import { words } from '../core/words';
import { Figure } from '../ui/figure';
import { Move } from '../ui/parts';
import { AskMe } from './ask-me';

/** What is to be read, folded until somebody wants it. */
export function MyPart({ view, page }: { view: View; page: Page }) {
  const [open, setOpen] = useState(false);
  return (
    <details class="my-part" open={open} onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>{view.me?.part == null ? words.myPart.fight : words.myPart.mine}</summary>
      {open && <Fights view={view} page={page} />}
    </details>
  );
}

function Fights({ view, page }: { view: View; page: Page }) {
  const part = view.me?.part ?? null;
  const [wanted, setWanted] = useState<string | null>(null);
  const [told, setTold] = useState<PartSheet | null>(null);
  const [refused, setRefused] = useState<string | null>(null);
  const [again, setAgain] = useState(0);
  const [others, setOthers] = useState(part === null);
  // What is run next comes first; else the first fight in which the part is.
  const first = wanted ?? view.run?.fight ?? null;
  useEffect(() => {
    let asks = true;
    const ask = async (): Promise<void> => {
      try {
        const answer = await askJson<PartSheet>('part', page.key, { fight: first }, words.myPart.noAnswer);
        if (!asks) return;
        setTold(answer);
        setRefused(null);
      } catch (fault) {
        if (asks) setRefused(fault instanceof Error ? fault.message : words.myPart.noAnswer);
      }
    };
    void ask();
    return () => {
      asks = false;
    };
  }, [first, again, page.key]);
  const mine = told?.fights.filter((each) => part === null || each.fighters.includes(part)) ?? [];
  const sheet = told?.sheet ?? null;
  // The first answer is of the first fight of all, which may not be one's own.
  const own = mine.find((each) => each.fight === sheet?.fight) ?? mine[0];
  useEffect(() => {
    if (wanted === null && view.run === null && own !== undefined && own.fight !== sheet?.fight) setWanted(own.fight);
  }, [wanted, view.run, own, sheet]);
  return (
    <>
      {refused !== null && (
        <p class="bad" role="alert">
          {refused}{' '}
          <button type="button" onClick={() => setAgain(again + 1)}>
            {words.myPart.again}
          </button>
        </p>
      )}
      {mine.length > 1 && (
        <label>
          {words.fight}
          <select value={sheet?.fight ?? ''} onChange={(event) => setWanted(event.currentTarget.value)}>
            {mine.map((each) => (
              <option key={each.fight}>{each.fight}</option>
            ))}
          </select>
        </label>
      )}
      {part !== null && (
        <button type="button" aria-pressed={others} onClick={() => setOthers(!others)}>
          {words.myPart.others}
        </button>
      )}
      {sheet !== null && part !== null && <AskMe key={sheet.fight} sheet={sheet} part={part} />}
      {sheet !== null && <Phrases sheet={sheet} part={part} others={others} />}
    </>
  );
}

function Phrases({ sheet, part, others }: { sheet: RunSheet; part: string | null; others: boolean }) {
  const wanted = (move: MoveView): boolean => others || move.who === part || move.to === part;
  return (
    <>
      {sheet.phrases.map((phrase, n) => {
        const moves = sheet.moves.filter((move) => move.phrase === phrase.phrase && wanted(move));
        return (
          <section key={n} class="card phrase">
            <h2 dir="auto">
              {phrase.phrase + 1}. {phrase.name}
            </h2>
            {moves.length === 0 && <p class="nothing">{words.myPart.notIn}</p>}
            <ol>
              {moves.map((move) => (
                <li key={`${move.number}`}>
                  <small>{words.beat(move.beat)}</small>
                  <div class="pictured">
                    <Move move={move} part={partIn(move, part)} />
                    <Figure sheet={sheet} move={move} part={partIn(move, part)} near />
                  </div>
                </li>
              ))}
            </ol>
          </section>
        );
      })}
    </>
  );
}
