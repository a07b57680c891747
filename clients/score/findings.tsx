// What the checks say, as a list that can be read and gone through: severity by word and shape, the line, what to do.
import type { FindingSeverity, FindingView } from '../core/wire';
import { words } from '../core/words/score';

const SHAPES: Record<FindingSeverity, string> = { error: '■', warning: '▲', advice: '○' };

/** A severity, by shape and word; by shape alone where the word stands beside it. */
export function Mark({ severity, bare = false }: { severity: FindingSeverity; bare?: boolean }) {
  return (
    <b class="mark" data-severity={severity}>
      <span aria-hidden="true">{SHAPES[severity]}</span>
      {!bare && ` ${words.score.severity[severity]}`}
    </b>
  );
}

/** What to do about a finding, as a sentence. */
export function Help({ finding }: { finding: FindingView }) {
  const help = [finding.expected, finding.help];
  return (
    <span lang="en">
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

/** A finding as a reader says it. */
export const sentence = (finding: FindingView): string =>
  `${words.score.severity[finding.severity]}: ${finding.message}.`;

/** The findings of a draft. */
export function Findings(props: {
  findings: FindingView[] | null;
  /** How many more there are. */
  leftOut: number;
  unchecked: string | null;
  stale: boolean;
  goTo(line: number): void;
}) {
  const { findings, leftOut, unchecked, stale, goTo } = props;
  const count = (severity: FindingSeverity): number =>
    findings?.filter((finding) => finding.severity === severity).length ?? 0;
  return (
    <section class="findings">
      <h2>{words.score.findingsTitle}</h2>
      <p role="status">
        {findings === null
          ? words.score.checking
          : findings.length === 0
            ? `✓ ${words.score.nothingFound}`
            : words.score.counts(count('error'), count('warning'), count('advice'))}
        {findings !== null && stale && ` ${words.score.checkingAgain}`}
      </p>
      {unchecked !== null && (
        <p class="hint" lang="en">
          {unchecked}
        </p>
      )}
      {findings !== null && findings.length > 0 && (
        <ol>
          {findings.map((finding, n) => (
            <li key={n}>
              <button type="button" onClick={() => goTo(finding.line)}>
                <span>
                  <Mark severity={finding.severity} /> {words.score.line(finding.line)} <i>{finding.code}</i>
                </span>
                <span lang="en">{finding.message}.</span>
                <Help finding={finding} />
              </button>
            </li>
          ))}
        </ol>
      )}
      {leftOut > 0 && <p>{words.score.moreFound(leftOut)}</p>}
    </section>
  );
}
