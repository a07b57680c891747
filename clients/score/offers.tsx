// The words that are offered under the letters that somebody types: by arrow keys and Enter, or by a touch.
import { useEffect, useState } from 'preact/hooks';
import { CLOSES_FIRST } from '../core/hold';
import { words } from '../core/words/score';
import { isLow, type Caret } from './caret';
import { at } from './layer';
import { offerAt, type Offer } from './offer';
import { startOf, widthOf } from './place';
import type { Studio } from './studio';

/** What is offered, and what can be done with it. */
export interface Offers {
  offer: Offer | null;
  shown: string[];
  /** Which of them is chosen, counted from 0; -1 for none. */
  chosen: number;
  /** Offers what fits at the caret; `asked` when the person wants to see everything. */
  here(asked: boolean): void;
  take(word: string): void;
  close(): void;
  /** A key of the field; true when it was for what is offered. */
  key(event: KeyboardEvent): boolean;
}

/** What is offered in a text. */
export function useOffers(studio: Studio, text: string, { field }: Caret): Offers {
  const [offer, setOffer] = useState<Offer | null>(null);
  const [chosen, setChosen] = useState(-1);
  useEffect(() => {
    if (chosen >= 0) document.getElementById(`score-offer-${chosen}`)?.scrollIntoView({ block: 'nearest' });
  }, [chosen]);
  const shown = offer?.words ?? [];
  const close = (): void => {
    setOffer(null);
    setChosen(-1);
  };
  const here = (asked: boolean): void => {
    const area = field.current;
    const known = studio.list.value?.words;
    if (area === null || known === undefined || studio.isStage || area.selectionStart !== area.selectionEnd)
      return close();
    setOffer(offerAt(area.value, area.selectionStart, known, asked));
    setChosen(asked ? 0 : -1);
  };
  const take = (word: string): void => {
    if (offer === null) return;
    studio.replace(text.slice(0, offer.from) + word + text.slice(offer.to), offer.from + word.length);
    close();
  };
  const key = (event: KeyboardEvent): boolean => {
    const act = deedOf(event, { offer, shown, chosen });
    if (act === null) return false;
    if (act.kind !== 'close') event.preventDefault();
    if (act.kind === 'close') close();
    else if (act.kind === 'ask') here(true);
    else if (act.kind === 'take') take(act.word);
    else setChosen(act.which);
    return true;
  };
  return { offer, shown, chosen, here, take, close, key };
}

type Deed = { kind: 'ask' } | { kind: 'close' } | { kind: 'take'; word: string } | { kind: 'choose'; which: number };

// What a key does about what is offered; nothing when it is the text's.
function deedOf(
  event: KeyboardEvent,
  { offer, shown, chosen }: Pick<Offers, 'offer' | 'shown' | 'chosen'>,
): Deed | null {
  const quick = event.ctrlKey || event.metaKey;
  const asks = (quick && event.key === ' ') || (event.altKey && event.key === 'ArrowDown' && offer === null);
  if (asks) return { kind: 'ask' };
  if (shown.length === 0 || quick || event.altKey) return null;
  const way = event.key === 'ArrowDown' ? 1 : event.key === 'ArrowUp' ? -1 : 0;
  // Up from none chosen is the last.
  const from = chosen < 0 && way < 0 ? 0 : chosen;
  if (way !== 0) return { kind: 'choose', which: (from + way + shown.length) % shown.length };
  const word = shown[chosen];
  const takes = (event.key === 'Enter' || event.key === 'Tab') && !event.shiftKey;
  if (word !== undefined && takes) return { kind: 'take', word };
  return event.key === 'Escape' ? { kind: 'close' } : null;
}

/** The list of what is offered, at its letters. */
export function OfferList({ offers, text, caret }: { offers: Offers; text: string; caret: Caret }) {
  const { offer, shown, chosen, take } = offers;
  if (offer === null || shown.length === 0) return null;
  const { line, field } = caret;
  const letters = [...text.slice(startOf(text, line), offer.from)].length;
  const column = widthOf(text.split('\n')[line] ?? '', letters);
  return (
    <ul
      id="score-offers"
      {...{ [CLOSES_FIRST]: true }}
      class="offers"
      data-above={isLow(field.current, line)}
      role="listbox"
      aria-label={words.score.offers}
      style={at(line + 1, column)}
    >
      {shown.map((word, n) => (
        <li
          key={word}
          id={`score-offer-${n}`}
          role="option"
          aria-selected={n === chosen}
          onPointerDown={(event) => {
            event.preventDefault();
            take(word);
          }}
        >
          {word}
        </li>
      ))}
    </ul>
  );
}
