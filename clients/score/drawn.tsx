// What the score page draws: the text in the middle, what is said of it beside it, saving beneath it.
import { signal } from '../ui/signal';
import { useState } from 'preact/hooks';
import { browser, isVisible } from '../core/browser';
import type { Entry } from '../core/keys';
import type { View } from '../core/model';
import type { Page } from '../core/page';
import type { Store } from '../core/platform';
import { stageOf } from '../core/reading';
import { words } from '../core/words/score';
import { Fold, Later } from '../ui/later';
import { NearMiss } from '../ui/near-miss';
import { Newcomers } from '../ui/newcomers';
import { Asked, Refusals } from '../ui/parts';
import { drawInto, follow } from '../ui/draw';
import { Api } from './api';
import { Conflict } from './conflict';
import { changed, Drafts } from './draft';
import { Editor } from './editor';
import { Findings } from './findings';
import { Hearing } from './hear';
import { isReal, Phrases } from './hearing';
import { Pictured } from './pictured';
import { Old, Revisions } from './revisions';
import { SaveBar } from './save-bar';
import { Studio } from './studio';

/** The name under which this browser remembers which score was open. */
const OPEN = 'holdfast.score';

/** Draws the page, and draws it anew whenever what it knows changes. */
export function draw(page: Page, entry: Entry, store: Store): void {
  const api = new Api(entry.key);
  const studio = new Studio(api, new Drafts(store, entry.key), browser, isVisible);
  const hearing = new Hearing();
  const view = follow(page.session);
  const begun = signal(false);
  // What is heard here must never be taken for the run: it ends when one begins, and when everything is held.
  page.session.listen((now) => {
    if (now.tap !== 'none' || isReal(stageOf(now))) hearing.silence();
    if (now.link === 'linked' && !begun.value) {
      begun.value = true;
      void studio.begin(store.get(OPEN));
    }
  });
  studio.file.subscribe((file) => file !== null && void store.set(OPEN, file));
  studio.draft.subscribe(() => hearing.forget());
  const keep = (): void => studio.keepNow();
  window.addEventListener('pagehide', keep);
  document.addEventListener('visibilitychange', keep);
  drawInto(page.place, () => <Body page={page} studio={studio} api={api} hearing={hearing} view={view.value} />);
}

interface Props {
  page: Page;
  studio: Studio;
  api: Api;
  hearing: Hearing;
  view: View;
}

function Body({ page, studio, api, hearing, view }: Props) {
  const [line, setLine] = useState(1);
  const [goTo, setGoTo] = useState<{ line: number; again: number } | null>(null);
  const go = (to: number): void => setGoTo({ line: to, again: (goTo?.again ?? 0) + 1 });
  const list = studio.list.value;
  const conflict = studio.conflict.value;
  const nearMiss = stageOf(view) !== 'held' && <NearMiss view={view} session={page.session} />;
  if (list === null) {
    return (
      <>
        <Told studio={studio} />
        {nearMiss}
      </>
    );
  }
  const noStage = <Later load={() => import('./no-stage')}>{({ NoStage }) => <NoStage studio={studio} />}</Later>;
  if (list.scores.length === 0 && studio.file.value === null) {
    return (
      <>
        <Newcomers view={view} session={page.session} />
        <p class="lead">{words.noFights}</p>
        <Told studio={studio} />
        {studio.mayWrite && <NewFight studio={studio} />}
        {noStage}
        {nearMiss}
      </>
    );
  }
  const report = studio.report.value;
  return (
    <>
      <Refusals view={view} session={page.session} />
      <Newcomers view={view} session={page.session} />
      <Bar studio={studio} />
      <Told studio={studio} />
      <div class="score-columns">
        {conflict !== null && <Conflict studio={studio} conflict={conflict} />}
        <div class="score-text" hidden={conflict !== null}>
          <Old studio={studio} />
          <Editor studio={studio} heard={hearing.heard.value} moved={setLine} goTo={goTo} />
          <p id="score-hint" class="hint">
            {!studio.mayWrite ? words.score.readOnly : studio.isStage ? words.score.stageHint : words.score.keysHint}
          </p>
          <SaveBar studio={studio} />
        </div>
        <div class="score-side" tabIndex={0} role="region" aria-label={words.score.side}>
          {list.stage === null && noStage}
          {studio.isStage ? (
            <Later load={() => import('./stage')}>
              {({ StageDrawn }) => <StageDrawn studio={studio} api={api} choices={page.choices} />}
            </Later>
          ) : (
            <>
              <Pictured studio={studio} api={api} line={line} />
              <Fold class="plan-now" summary={words.onThePlan} load={() => import('./planned')}>
                {({ Planned }) => <Planned {...{ studio, api, view, line }} choices={page.choices} />}
              </Fold>
            </>
          )}
          <Findings
            findings={report?.report.findings ?? null}
            leftOut={report?.report.left_out ?? 0}
            unchecked={report?.report.unchecked ?? null}
            stale={report?.of !== studio.draft.value?.text}
            goTo={go}
          />
          {!studio.isStage && (
            <Phrases
              studio={studio}
              api={api}
              hearing={hearing}
              session={page.session}
              view={view}
              line={line}
              goTo={go}
            />
          )}
          <Revisions studio={studio} />
          {nearMiss}
          {!studio.isStage && (
            <details class="reference">
              <summary>{words.score.reference}</summary>
              <pre tabIndex={0} lang="en">
                {list.words.reference}
              </pre>
            </details>
          )}
        </div>
      </div>
    </>
  );
}

// Which score, whether it is as saved, who else has it open, and what can be done to the whole of it.
function Bar({ studio }: { studio: Studio }) {
  const draft = studio.draft.value;
  const others = studio.news.value?.others ?? [];
  return (
    <div class="bar">
      <label>
        {words.fight}
        <select value={studio.file.value ?? ''} onChange={(event) => void studio.open(event.currentTarget.value)}>
          {studio.list.value?.scores.map((score) => (
            <option key={score.file} value={score.file}>
              {score.fight} ({score.file})
            </option>
          ))}
          {studio.list.value?.stage != null && (
            <option value={studio.list.value.stage}>
              {words.score.theStage} ({studio.list.value.stage})
            </option>
          )}
        </select>
      </label>
      {draft !== null && (
        <p class="state">
          <b>
            {changed(draft)
              ? `✎ ${words.score.changed}`
              : studio.gone.value !== null
                ? `✗ ${words.score.notInFolder}`
                : `✓ ${words.score.asSaved}`}
          </b>{' '}
          <small>{words.revision(draft.base.revision.slice(0, 12))}</small>
          {others.length > 0 && (
            <span>{words.score.alsoOpen(others.map(({ name, role }) => `${name} (${words.role[role]})`))}</span>
          )}
        </p>
      )}
      {studio.mayWrite && draft !== null && (
        <div class="choices" data-stage={studio.isStage}>
          <button type="button" disabled={draft.history.done === 0} onClick={() => studio.undo()}>
            {words.score.undo}
          </button>
          <button
            type="button"
            disabled={draft.history.done === draft.history.edits.length}
            onClick={() => studio.redo()}
          >
            {words.score.redo}
          </button>
          {!studio.isStage && (
            <>
              <button type="button" onClick={() => void studio.format(0)}>
                {words.score.format}
              </button>
              <button type="button" onClick={() => studio.beginPart('phrase')}>
                {words.score.newPhrase}
              </button>
              <button type="button" onClick={() => studio.beginPart('pattern')}>
                {words.score.newPattern}
              </button>
            </>
          )}
        </div>
      )}
      {studio.mayWrite && <NewFight studio={studio} />}
      <a class="way" href="/review">
        {words.toReview}
      </a>
    </div>
  );
}

// A fight that is not there yet: what it is called, and it is open.
function NewFight({ studio }: { studio: Studio }) {
  const [name, setName] = useState('');
  return (
    <Asked label={words.score.newFight}>
      {(close) => (
        <form
          onSubmit={(event) => {
            event.preventDefault();
            void studio.beginFight(name).then((done) => done && (setName(''), close()));
          }}
        >
          <label>
            {words.score.newFightName}
            <input maxLength={60} value={name} onInput={(event) => setName(event.currentTarget.value)} />
          </label>
          <button type="submit" disabled={name.trim() === ''}>
            {words.score.newFightBegin}
          </button>
        </form>
      )}
    </Asked>
  );
}

// What became of the last act, and what has happened meanwhile.
function Told({ studio }: { studio: Studio }) {
  const said = studio.said.value;
  const draft = studio.draft.value;
  const newest = studio.news.value?.revision;
  const behind = draft !== null && newest !== undefined && newest !== draft.base.revision && changed(draft);
  const by = studio.revisions.value?.find((revision) => revision.revision === newest && revision.how !== 'kept');
  return (
    <div class="told" role="status">
      {said !== null && (
        <p class={said.good ? 'said' : 'said bad'}>
          {said.good ? '✓' : '✗'} {said.text}
        </p>
      )}
      {behind && (
        <p class="said">
          <span>{words.score.behind(by?.who ?? words.score.somebody, by?.why ?? null)}</span>
          <button type="button" onClick={() => void studio.takeTheirs()}>
            {words.score.takeTheirs}
          </button>
        </p>
      )}
      {studio.gone.value !== null && <p class="said bad">{studio.gone.value}</p>}
      {!studio.kept.value && <p class="said bad">{words.score.notKept}</p>}
    </div>
  );
}
