// Everything that is drawn beneath and beside the text, placed by line and column. A reader hears the same from the list
// of findings.
import type { FindingView } from '../core/wire';
import { words } from '../core/words/score';
import { changed } from './draft';
import { Mark } from './findings';
import { widthOf } from './place';
import type { Studio } from './studio';
import { safeTo } from './safe';

interface Props {
  lines: string[];
  findings: FindingView[];
  /** The caret's line, counted from 0. */
  line: number;
  /** The lines that are being heard, counted from 1. */
  playing: number[];
  studio: Studio;
}

/** The layer under the text. */
export function Layer({ lines, findings, line, playing, studio }: Props) {
  const worst = worstOfEach(findings);
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
      {phrases.map(({ line: number, safe, with_sets }) => (
        <small key={number} class="safe" style={at(number - 1, widthOf(lines[number - 1] ?? '', 9_999) + 2)}>
          {safeTo(safe)}
          {with_sets.map((set) => `. ${words.score.withSet(set.weapons, safeTo(set.safe))}`)}
        </small>
      ))}
    </div>
  );
}

/** Puts something at a line and a column, both counted from 0. */
export const at = (line: number, column: number) => ({ '--line-no': String(line), '--column': String(column) });

/** How many letters wide the text is drawn. */
export function longest(lines: string[]): number {
  return Math.max(60, ...lines.map((line) => widthOf(line, 9_999)));
}

function worstOfEach(findings: FindingView[]): Map<number, FindingView> {
  const worst = new Map<number, FindingView>();
  for (const finding of findings) {
    const before = worst.get(finding.line);
    if (before === undefined || rank(finding) < rank(before)) worst.set(finding.line, finding);
  }
  return worst;
}

const rank = (finding: FindingView): number => ['error', 'warning', 'advice'].indexOf(finding.severity);

function under(finding: FindingView, lines: string[]) {
  const line = lines[finding.line - 1] ?? '';
  const from = widthOf(line, finding.column - 1);
  const to = finding.end_line === finding.line ? widthOf(line, finding.end_column - 1) : widthOf(line, 9_999);
  return { ...at(finding.line - 1, from), '--width': String(Math.max(1, to - from)) };
}
