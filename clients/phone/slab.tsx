// The slab: the partner above, and below it the seat of my act, which never moves: outlined while the act is coming,
// solid on its beat. An attack is a pennant, a reply a bow, an act to nobody a plain bar.
import type { ComponentChildren, RefObject } from 'preact';
import { titled } from '../core/names';
import type { Seat } from '../core/seat';
import type { CueMove, RunSheet } from '../core/wire';
import { words } from '../core/words';
import { Figure } from '../ui/figure';
import { useFit, type Fitting } from '../ui/fit';

/** The largest letters of an act, of a partner's act and of a line, pixels. */
const ACT = 66;
const PARTNER = 34;

/** A box whose words are as large as they can be. */
export function Fit(props: Fitting & { class: string; words: string; children: ComponentChildren }) {
  const box = useFit(`${props.class} ${props.words}`, props);
  return (
    <div class={`fitted ${props.class}`} ref={box as RefObject<HTMLDivElement>}>
      {props.children}
    </div>
  );
}

/** The slab of a seat in which something is. `sheet` has the pictures. */
export function Slab({ seat, sheet }: { seat: Seat; sheet: RunSheet | null }) {
  const moves = seat.in?.moves ?? [];
  const [first] = moves;
  if (first === undefined) return null;
  const when = seat.due ? words.now : seat.beats === null ? words.next : words.nextIn(seat.beats);
  return (
    <section class="slab" aria-label={when} data-due={seat.due}>
      <div class="partner">
        <Figure sheet={sheet} move={first.move} part={first.part} near />
        <Fit class="theirs" most={PARTNER} words={moves.map((each) => theirs(each).join()).join()}>
          {moves.map((each, n) => {
            const [name, act] = theirs(each);
            return (
              <p key={n} dir="auto">
                {name !== '' && <span>{name}</span>} {act !== '' && <b>{act}</b>}
                {each.move.text !== null && <small>“{each.move.text}”</small>}
              </p>
            );
          })}
        </Fit>
        {!seat.due && seat.beats !== null && (
          <p class="in">
            {words.in} <b>{seat.beats}</b>
          </p>
        )}
      </div>
      <div class="seat">
        {moves.map((each, n) => (
          <Act key={n} {...each} />
        ))}
      </div>
    </section>
  );
}

function Act({ part, move }: CueMove) {
  const kind = part === 'answer' ? 'reply' : move.to === null ? 'action' : 'attack';
  const act = mine({ part, move });
  return (
    <div class={`act ${kind}`}>
      <Fit class="words" most={ACT} words={`${kind} ${act}`}>
        <p dir="auto">
          <span class="unseen">{words[kind]}: </span>
          <b>{act}</b>
        </p>
      </Fit>
    </div>
  );
}

/** What the reader does in a move: the reply to it, else the action. */
export function mine({ part, move }: CueMove): string {
  return part === 'answer' ? (move.reply ?? words.noReply) : move.action;
}

/** Who else is in it, and what they do. */
export function theirs({ part, move }: CueMove): [name: string, act: string] {
  if (part === 'answer') return [titled(move.who), move.action];
  return [move.to === null ? '' : titled(move.to), move.reply ?? ''];
}
