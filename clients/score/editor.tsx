// The editor: one plain text field, so that everything a browser and a reader can do with text works. What is said of
// the text is drawn on a layer beneath and beside it, placed by line and column; nothing of it is in the way of a key.
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks';
import { CLOSES_FIRST } from '../core/hold';
import type { FindingView } from '../core/wire';
import { words } from '../core/words';
import { changed } from './draft';
import { Mark } from './findings';
import type { Heard } from './hear';
import { offerAt, type Offer } from './offer';
import { lineAt, ROW, startOf, widthOf } from './place';
import type { Studio } from './studio';

interface Props {
  studio: Studio;
  heard: Heard | null;
  /** The line of the caret, counted from 1, whenever it is another one. */
  moved(line: number): void;
  /** Puts the caret into a line, counted from 1. */
  goTo: { line: number; again: number } | null;
}

/** So many lines stay in sight at and under the caret: room for what is said of its line. */
const UNDER = 4;

/** The text of a draft. */
export function Editor({ studio, heard, moved, goTo }: Props) {
  const field = useRef<HTMLTextAreaElement>(null);
  const text = studio.draft.value?.text ?? '';
  const lines = useMemo(() => text.split('\n'), [text]);
  const [caret, setCaret] = useState(0);
  const [offer, setOffer] = useState<Offer | null>(null);
  const [chosen, setChosen] = useState(-1);
  const [tabbed, setTabbed] = useState<string | null>(null);
  const line = lineAt(text, caret);
  const report = studio.report.value;
  // While somebody types, what was said of the text before still stands where it stood.
  const findings = report?.report.findings ?? [];
  const here = findings.filter((finding) => finding.line === line + 1);
  const writes = studio.mayWrite;

  useEffect(() => {
    moved(line + 1);
    if (field.current !== null && document.activeElement === field.current) reveal(field.current, line);
  }, [line]);
  useEffect(() => {
    if (chosen >= 0) document.getElementById(`score-offer-${chosen}`)?.scrollIntoView({ block: 'nearest' });
  }, [chosen]);
  useLayoutEffect(() => {
    const area = field.current;
    const wanted = studio.caret.value;
    if (area === null || wanted === null) return;
    studio.caret.value = null;
    area.setSelectionRange(wanted.at, wanted.at);
    setCaret(wanted.at);
    reveal(area, lineAt(area.value, wanted.at));
  }, [studio.caret.value]);
  useEffect(() => {
    const area = field.current;
    if (area === null || goTo === null) return;
    const at = startOf(area.value, goTo.line - 1);
    area.focus();
    area.setSelectionRange(at, at);
    setCaret(at);
    reveal(area, goTo.line - 1);
  }, [goTo]);
  const playing = heard?.preview.moments[heard.at]?.lines ?? [];
  useEffect(() => {
    if (field.current !== null && playing[0] !== undefined) reveal(field.current, playing[0] - 1);
  }, [playing[0]]);

  const close = (): void => {
    setOffer(null);
    setChosen(-1);
  };
  const offerHere = (asked: boolean): void => {
    const area = field.current;
    const known = studio.list.value?.words;
    if (area === null || known === undefined || area.selectionStart !== area.selectionEnd) return close();
    setOffer(offerAt(area.value, area.selectionStart, known, asked));
    setChosen(asked ? 0 : -1);
  };
  const take = (word: string): void => {
    if (offer === null) return;
    studio.replace(text.slice(0, offer.from) + word + text.slice(offer.to), offer.from + word.length);
    close();
  };
  const shown = offer?.words ?? [];

  const key = (event: KeyboardEvent): void => {
    const quick = event.ctrlKey || event.metaKey;
    const letter = event.key.toLowerCase();
    if (quick && !event.altKey && (letter === 'z' || letter === 'y')) {
      event.preventDefault();
      if (letter === 'y' || event.shiftKey) studio.redo();
      else studio.undo();
      return close();
    }
    if ((quick && event.key === ' ') || (event.altKey && event.key === 'ArrowDown' && offer === null)) {
      event.preventDefault();
      return offerHere(true);
    }
    if (shown.length > 0 && !quick && !event.altKey) {
      const way = event.key === 'ArrowDown' ? 1 : event.key === 'ArrowUp' ? -1 : 0;
      if (way !== 0) {
        event.preventDefault();
        return setChosen((chosen + way + shown.length + (chosen < 0 && way < 0 ? 1 : 0)) % shown.length);
      }
      const word = shown[chosen];
      if (word !== undefined && (event.key === 'Enter' || event.key === 'Tab') && !event.shiftKey) {
        event.preventDefault();
        return take(word);
      }
      if (event.key === 'Escape') return close();
    }
    // Tab puts the text into columns; the next Tab, with nothing written since, goes on to what comes after the text.
    if (event.key === 'Tab' && !event.shiftKey && !quick && !event.altKey && writes && tabbed !== text) {
      event.preventDefault();
      void studio.format(field.current?.selectionStart ?? 0).then(() => setTabbed(studio.draft.value?.text ?? null));
    }
  };

  return (
    <div class="editor" style={{ '--digits': String(String(lines.length).length) }}>
      <div class="sheet-of-text" style={{ '--lines': String(lines.length), '--columns': String(longest(lines)) }}>
        <Layer lines={lines} findings={findings} line={line} playing={playing} studio={studio} />
        <textarea
          ref={field}
          id="score-text"
          aria-label={words.score.text}
          aria-describedby="score-hint score-here"
          aria-autocomplete="list"
          aria-controls={shown.length > 0 ? 'score-offers' : undefined}
          aria-activedescendant={chosen >= 0 && shown.length > 0 ? `score-offer-${chosen}` : undefined}
          autocapitalize="off"
          autocomplete="off"
          autocorrect="off"
          spellcheck={false}
          wrap="off"
          readOnly={!writes}
          value={text}
          onInput={(event) => {
            const area = event.currentTarget;
            studio.type(area.value);
            setCaret(area.selectionStart);
            offerHere(false);
          }}
          onBeforeInput={(event) => {
            const kind = (event as InputEvent).inputType;
            if (kind !== 'historyUndo' && kind !== 'historyRedo') return;
            event.preventDefault();
            if (kind === 'historyUndo') studio.undo();
            else studio.redo();
          }}
          onKeyDown={key}
          onSelect={(event) => {
            const at = event.currentTarget.selectionStart;
            setCaret(at);
            if (offer !== null && at !== offer.to) close();
          }}
          onBlur={close}
        />
        {shown.length > 0 && offer !== null && (
          <ul
            id="score-offers"
            {...{ [CLOSES_FIRST]: true }}
            class="offers"
            data-above={isLow(field.current, line)}
            role="listbox"
            aria-label={words.score.offers}
            style={at(line + 1, widthOf(lines[line] ?? '', [...text.slice(startOf(text, line), offer.from)].length))}
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
        )}
        {shown.length === 0 && here.length > 0 && (
          <div class="peek" style={at(line + 1, 2)}>
            {here.map((finding, n) => (
              <p key={n} data-severity={finding.severity}>
                <Mark severity={finding.severity} /> {finding.message}. <Help finding={finding} /> <i>{finding.code}</i>
              </p>
            ))}
          </div>
        )}
      </div>
      <p id="score-here" class="unseen">
        {words.score.line(line + 1)} {here.map((finding) => sentence(finding)).join(' ')}
      </p>
      <p class="unseen" role="status">
        {shown.length > 0 && words.score.offered(shown.length)}
      </p>
    </div>
  );
}

/** What to do about a finding, as a sentence. */
export function Help({ finding }: { finding: FindingView }) {
  const help = [finding.expected, finding.help];
  return (
    <span>
      {help
        .filter((part) => part !== null)
        .map((part) => sentenced(part))
        .join(' ')}
    </span>
  );
}

const sentenced = (text: string): string => {
  const begun = text.charAt(0).toUpperCase() + text.slice(1);
  return /[.?!]$/.test(begun) ? begun : `${begun}.`;
};

const sentence = (finding: FindingView): string => `${words.score.severity[finding.severity]}: ${finding.message}.`;

// Everything that is drawn beneath and beside the text. A reader hears the same from the list of findings.
function Layer(props: { lines: string[]; findings: FindingView[]; line: number; playing: number[]; studio: Studio }) {
  const { lines, findings, line, playing, studio } = props;
  const worst = new Map<number, FindingView>();
  for (const finding of findings) {
    const before = worst.get(finding.line);
    if (before === undefined || rank(finding) < rank(before)) worst.set(finding.line, finding);
  }
  const phrases = studio.report.value?.report.phrases ?? [];
  const fresh = studio.draft.value !== null && !changed(studio.draft.value);
  return (
    <div class="layer" aria-hidden="true" data-fresh={fresh}>
      <div class="gutter">
        {lines.map((_, n) => {
          const finding = worst.get(n + 1);
          return (
            <span key={n} data-here={n === line}>
              {finding !== undefined && <Mark severity={finding.severity} bare />}
              {n + 1}
            </span>
          );
        })}
      </div>
      <div class="here" style={at(line, 0)} />
      {playing.map((number) => (
        <div key={number} class="playing" style={at(number - 1, 0)} />
      ))}
      {findings.map((finding, n) => (
        <div key={n} class="underline" data-severity={finding.severity} style={under(finding, lines)} />
      ))}
      {phrases.map(({ line: number, safe }) => (
        <small key={number} class="safe" style={at(number - 1, widthOf(lines[number - 1] ?? '', 9_999) + 2)}>
          {safe === null ? words.score.safeAny : words.score.safeTo(Math.floor(safe.bpm), safe.percent)}
        </small>
      ))}
    </div>
  );
}

const rank = (finding: FindingView): number => ['error', 'warning', 'advice'].indexOf(finding.severity);

const at = (line: number, column: number) => ({ '--line-no': String(line), '--column': String(column) });

function under(finding: FindingView, lines: string[]) {
  const line = lines[finding.line - 1] ?? '';
  const from = widthOf(line, finding.column - 1);
  const to = finding.end_line === finding.line ? widthOf(line, finding.end_column - 1) : widthOf(line, 9_999);
  return { ...at(finding.line - 1, from), '--width': String(Math.max(1, to - from)) };
}

function longest(lines: string[]): number {
  return Math.max(60, ...lines.map((line) => widthOf(line, 9_999)));
}

// The text field is as tall as its text; what scrolls is around it.
function reveal(area: HTMLTextAreaElement, line: number): void {
  const around = area.closest('.editor');
  if (around === null) return;
  const top = line * ROW;
  const most = top + UNDER * ROW - around.clientHeight;
  if (top < around.scrollTop) around.scrollTop = top;
  else if (most > around.scrollTop) around.scrollTop = most;
}

// Where there is little room under a line, the words stand above it.
function isLow(area: HTMLTextAreaElement | null, line: number): boolean {
  const around = area?.closest('.editor') ?? null;
  return around !== null && line * ROW - around.scrollTop > around.clientHeight / 2;
}
