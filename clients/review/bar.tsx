// What of the log is looked at, as a link that can be sent, and the same as files.
import { useMemo } from 'preact/hooks';
import type { ReviewAsked, ReviewFile } from '../core/wire';
import { words } from '../core/words/review';
import { EVERYTHING, same, toQuery } from './filter';
import type { Study } from './study';

/** Where there is room for the choices above the answer. */
const WIDE = '(min-width: 40rem)';

interface Props {
  study: Study;
  go(filter: ReviewAsked): void;
}

/** The bar above the review. */
export function Bar({ study, go }: Props) {
  const filter = study.filter.value;
  const change = (more: Partial<ReviewAsked>): void => {
    const next = { ...filter, ...more };
    if (!same(next, filter)) go(next);
  };
  // On a small screen the answer comes first, and what it is of can be unfolded.
  const open = useMemo(() => matchMedia(WIDE).matches || !same(filter, EVERYTHING), []);
  return (
    <form class="review-bar" aria-label={words.review.title} onSubmit={(event) => event.preventDefault()}>
      <details class="choose" open={open}>
        <summary>{words.review.choose}</summary>
        <div class="row">
          <Day label={words.review.since} value={filter.since} set={(since) => change({ since })} />
          <Day label={words.review.until} value={filter.until} set={(until) => change({ until })} />
          <Names
            label={words.review.fight}
            all={words.review.allFights}
            value={filter.fight}
            names={(study.page.value?.choices ?? []).map(({ fight }) => fight)}
            set={(fight) => change({ fight, phrase: null })}
          />
          <Names
            label={words.review.phrase}
            all={words.review.allPhrases}
            value={filter.phrase}
            names={phrases(study)}
            set={(phrase) => change({ phrase })}
          />
          {(study.page.value?.weapons ?? []).length > 0 && (
            <Names
              label={words.weapons}
              all={words.review.allWeapons}
              value={filter.weapons}
              names={study.page.value?.weapons ?? []}
              set={(weapons) => change({ weapons })}
            />
          )}
          {!same(filter, EVERYTHING) && (
            <button type="button" onClick={() => go(EVERYTHING)}>
              {words.review.everything}
            </button>
          )}
        </div>
      </details>
      <p class="state">
        <Status study={study} />{' '}
        <a class="way" href={`/review${toQuery(filter)}`}>
          {words.review.link}
        </a>
      </p>
      <Files study={study} />
    </form>
  );
}

function Status({ study }: { study: Study }) {
  const said = study.said.value;
  const at = study.at.value?.toTimeString().slice(0, 8);
  const state = study.busy.value || at === undefined ? words.review.counting : words.review.upToDate(at);
  return (
    <span role="status">
      {said === null ? (
        state
      ) : (
        <b class={said.good ? 'good' : 'bad'}>{said.good ? `✓ ${said.text}` : `✗ ${said.text}`}</b>
      )}
    </span>
  );
}

/** The phrases of the fight that is chosen, else of all of them, each once. */
function phrases(study: Study): string[] {
  const choices = study.page.value?.choices ?? [];
  const fight = study.filter.value.fight;
  const of = fight === null ? choices : choices.filter((choice) => choice.fight === fight);
  return [...new Set(of.flatMap((choice) => choice.phrases))];
}

function Day({ label, value, set }: { label: string; value: string | null; set(value: string | null): void }) {
  return (
    <label>
      {label}
      <input type="date" value={value ?? ''} onChange={(event) => set(event.currentTarget.value || null)} />
    </label>
  );
}

interface Choosing {
  label: string;
  all: string;
  value: string | null;
  names: string[];
  set(value: string | null): void;
}

function Names({ label, all, value, names, set }: Choosing) {
  const known = value === null || names.includes(value) ? names : [value, ...names];
  return (
    <label>
      {label}
      <select value={value ?? ''} onChange={(event) => set(event.currentTarget.value || null)}>
        <option value="">{all}</option>
        {known.map((name) => (
          <option key={name} lang="en">
            {name}
          </option>
        ))}
      </select>
    </label>
  );
}

const FILES: ReviewFile[] = ['html', 'phrases', 'moves', 'breaks', 'runs', 'calls', 'json'];

function Files({ study }: { study: Study }) {
  const take = async (file: ReviewFile): Promise<void> => {
    const blob = await study.file(file);
    if (blob === null) return;
    const name = nameOf(file);
    download(blob, name);
    study.said.value = { good: true, text: words.review.made(name) };
  };
  return (
    <details class="files">
      <summary>{words.review.files}</summary>
      <div class="choices">
        <button type="button" onClick={() => window.print()}>
          {words.review.print}
        </button>
        {FILES.map((file) => (
          <button type="button" key={file} onClick={() => void take(file)}>
            {words.review.file[file]}
          </button>
        ))}
      </div>
    </details>
  );
}

/** What a file is called. */
function nameOf(file: ReviewFile): string {
  if (file === 'html' || file === 'json') return `review.${file}`;
  return `review-${file}.csv`;
}

// A key must not stand in an address, so the file is fetched first and then given to the browser to keep.
function download(blob: Blob, name: string): void {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
