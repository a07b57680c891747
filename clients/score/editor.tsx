// The editor: one plain text field, so that everything a browser and a reader can do with text works. What is said of
// the text is drawn on a layer beneath and beside it, placed by line and column; nothing of it is in the way of a key.
import { useMemo, useState } from 'preact/hooks';
import type { FindingView } from '../core/wire';
import { words } from '../core/words/score';
import { useCaret, useInSight, type Caret, type GoTo } from './caret';
import { Help, Mark, sentence } from './findings';
import type { Heard } from './hear';
import { at, Layer, longest } from './layer';
import { OfferList, useOffers, type Offers } from './offers';
import type { Studio } from './studio';

interface Props {
  studio: Studio;
  heard: Heard | null;
  /** The line of the caret, counted from 1, whenever it is another one. */
  moved(line: number): void;
  /** Puts the caret into a line. */
  goTo: GoTo | null;
}

/** The text of a draft. */
export function Editor({ studio, heard, moved, goTo }: Props) {
  const text = studio.draft.value?.text ?? '';
  const lines = useMemo(() => text.split('\n'), [text]);
  const caret = useCaret(studio, text, goTo, moved);
  const offers = useOffers(studio, text, caret);
  const key = useKeys(studio, text, caret, offers);
  const playing = heard?.preview.moments[heard.at]?.lines ?? [];
  useInSight(caret, playing[0]);
  // While somebody types, what was said of the text before still stands where it stood.
  const findings = studio.report.value?.report.findings ?? [];
  const here = findings.filter((finding) => finding.line === caret.line + 1);
  const offered = offers.shown.length;
  return (
    <div class="editor" style={{ '--digits': String(String(lines.length).length) }}>
      <div class="sheet-of-text" style={{ '--lines': String(lines.length), '--columns': String(longest(lines)) }}>
        <Layer lines={lines} findings={findings} line={caret.line} playing={playing} studio={studio} />
        <Field studio={studio} text={text} caret={caret} offers={offers} keyed={key} />
        <OfferList offers={offers} text={text} caret={caret} />
        {offered === 0 && here.length > 0 && <Peek findings={here} line={caret.line} />}
      </div>
      <p id="score-here" class="unseen">
        {words.score.line(caret.line + 1)} {here.map((finding) => sentence(finding)).join(' ')}
      </p>
      <p class="unseen" role="status">
        {offered > 0 && words.score.offered(offered)}
      </p>
    </div>
  );
}

interface FieldProps {
  studio: Studio;
  text: string;
  caret: Caret;
  offers: Offers;
  keyed(event: KeyboardEvent): void;
}

// The field itself. Its own undoing is the browser's no more: a draft has one history, whatever changes it.
function Field({ studio, text, caret, offers, keyed }: FieldProps) {
  const { offer, shown, chosen } = offers;
  const undoing = (event: InputEvent): void => {
    const kind = event.inputType;
    if (kind !== 'historyUndo' && kind !== 'historyRedo') return;
    event.preventDefault();
    if (kind === 'historyUndo') studio.undo();
    else studio.redo();
  };
  return (
    <textarea
      ref={caret.field}
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
      readOnly={!studio.mayWrite}
      value={text}
      onInput={(event) => {
        const area = event.currentTarget;
        studio.type(area.value);
        caret.set(area.selectionStart);
        offers.here(false);
      }}
      onBeforeInput={(event) => undoing(event as InputEvent)}
      onKeyDown={keyed}
      onSelect={(event) => {
        const at = event.currentTarget.selectionStart;
        caret.set(at);
        if (offer !== null && at !== offer.to) offers.close();
      }}
      onBlur={offers.close}
    />
  );
}

// The keys of the field: undo and redo, what is offered, and Tab.
function useKeys(studio: Studio, text: string, { field }: Caret, offers: Offers): (event: KeyboardEvent) => void {
  const [tabbed, setTabbed] = useState<string | null>(null);
  return (event) => {
    const quick = event.ctrlKey || event.metaKey;
    const letter = event.key.toLowerCase();
    if (quick && !event.altKey && (letter === 'z' || letter === 'y')) {
      event.preventDefault();
      if (letter === 'y' || event.shiftKey) studio.redo();
      else studio.undo();
      return offers.close();
    }
    if (offers.key(event)) return;
    // Tab puts the text into columns; the next Tab, with nothing written since, goes on to what comes after the text.
    const plain = !event.shiftKey && !quick && !event.altKey;
    if (event.key === 'Tab' && plain && studio.mayWrite && !studio.isStage && tabbed !== text) {
      event.preventDefault();
      void studio.format(field.current?.selectionStart ?? 0).then(() => setTabbed(studio.draft.value?.text ?? null));
    }
  };
}

// What is said of the caret's line, under it.
function Peek({ findings, line }: { findings: FindingView[]; line: number }) {
  return (
    <div class="peek" style={at(line + 1, 2)}>
      {findings.map((finding, n) => (
        <p key={n} data-severity={finding.severity}>
          <Mark severity={finding.severity} /> <span lang="en">{finding.message}.</span> <Help finding={finding} />{' '}
          <i>{finding.code}</i>
        </p>
      ))}
    </div>
  );
}
