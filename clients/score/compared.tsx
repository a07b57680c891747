// Two texts side by side, with what was changed told by a sign as well as by its ground; long stretches that are alike are
// folded.
import { useState } from 'preact/hooks';
import type { ComparedLine, ComparedRow } from '../core/wire';
import { words } from '../core/words/score';

/** So many lines that are alike stand around what was changed. */
const AROUND = 3;
/** Fewer are not worth a touch. */
const FOLDED = 4;

/** A stretch of rows: shown, or folded until somebody opens it. */
interface Stretch {
  rows: ComparedRow[];
  folded: boolean;
}

/** Both texts; nothing while they are being laid out. */
export function Compared({ rows }: { rows: ComparedRow[] | null }) {
  if (rows === null) return <p role="status">{words.score.comparing}</p>;
  const changes = rows.filter((row) => signOf(row) !== '').length;
  return (
    <div class="compared" role="region" aria-label={words.score.compared} tabIndex={0}>
      <p role="status">{changes === 0 ? words.score.alike : words.score.differ(changes)}</p>
      <table>
        <colgroup>
          <col class="number" />
          <col />
          <col class="sign" />
          <col class="number" />
          <col />
        </colgroup>
        <thead>
          <tr>
            <th scope="col" colSpan={2}>
              {words.score.sideOlder}
            </th>
            <th scope="col">{words.score.sideSign}</th>
            <th scope="col" colSpan={2}>
              {words.score.sideNewer}
            </th>
          </tr>
        </thead>
        {stretches(rows).map((stretch, n) => (
          <Rows key={n} stretch={stretch} />
        ))}
      </table>
    </div>
  );
}

function Rows({ stretch: { rows, folded } }: { stretch: Stretch }) {
  const [open, setOpen] = useState(false);
  if (folded && !open) {
    return (
      <tbody>
        <tr>
          <td colSpan={5}>
            <button type="button" onClick={() => setOpen(true)}>
              {words.score.linesAlike(rows.length)}
            </button>
          </td>
        </tr>
      </tbody>
    );
  }
  return (
    <tbody>
      {rows.map((row, n) => (
        <tr key={n} data-sign={signOf(row)}>
          <Side line={row.older} />
          <td class="sign">{words.score.sign[signOf(row)]}</td>
          <Side line={row.newer} />
        </tr>
      ))}
    </tbody>
  );
}

function Side({ line }: { line: ComparedLine | null }) {
  return (
    <>
      <td class="number">{line?.line}</td>
      <td class="text">{line?.text}</td>
    </>
  );
}

/** What a row says: changed, gone, new, or the same. */
type Sign = '' | 'changed' | 'gone' | 'new';

function signOf({ older, newer }: ComparedRow): Sign {
  if (older === null) return 'new';
  if (newer === null) return 'gone';
  return older.text === newer.text ? '' : 'changed';
}

/** The rows in stretches: those that are far from any change are folded. */
export function stretches(rows: ComparedRow[]): Stretch[] {
  const near = rows.map(() => false);
  rows.forEach((row, at) => {
    if (signOf(row) !== '') near.fill(true, Math.max(0, at - AROUND), at + AROUND + 1);
  });
  const found: Stretch[] = [];
  rows.forEach((row, at) => {
    const folded = near[at] === false;
    const last = found.at(-1);
    if (last?.folded === folded) last.rows.push(row);
    else found.push({ rows: [row], folded });
  });
  return found.map((stretch) => ({ ...stretch, folded: stretch.folded && stretch.rows.length >= FOLDED }));
}
