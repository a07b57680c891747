// What the review page draws around the review: the selection, files, and the hold that is told beside it.
import { useEffect, useRef } from 'preact/hooks';
import { browser } from '../core/browser';
import type { Entry } from '../core/keys';
import type { View } from '../core/model';
import type { Page } from '../core/page';
import { stageOf } from '../core/reading';
import type { Session } from '../core/session';
import type { ReviewAsked } from '../core/wire';
import { words } from '../core/words/review';
import { Checks } from '../desk/checks';
import { pageOf } from '../ui/enter';
import { Fold } from '../ui/later';
import { NearMiss } from '../ui/near-miss';
import { Newcomers } from '../ui/newcomers';
import { Refusals } from '../ui/parts';
import { drawInto, follow } from '../ui/draw';
import { Api } from './api';
import { Bar } from './bar';
import { eventOf, fromQuery, same, toQuery } from './filter';
import { Following } from './following';
import { Paper } from './paper';
import { Story } from './story';
import { Study } from './study';

/** Draws the page, and draws it anew whenever what it knows changes. */
export function draw(page: Page, entry: Entry): void {
  const study = new Study(new Api(entry.key));
  const view = follow(page.session);
  const again = (): void => {
    following.asking();
    void study.show(study.filter.value);
  };
  const following = new Following(browser, again);
  const look = (): void => {
    following.asking();
    void study.show(fromQuery(location.search));
    const event = eventOf(location.hash);
    if (event !== null) void study.tell([event], 0);
  };
  // The key is enough to ask with: the review does not wait for the line. What failed is asked again when the line is there.
  look();
  page.session.listen((now) => {
    following.told(now);
    if (now.link === 'linked' && study.page.value === null && !study.busy.value) look();
  });
  window.addEventListener('popstate', () => {
    if (!same(fromQuery(location.search), study.filter.value)) look();
  });
  const go = (filter: ReviewAsked): void => {
    history.pushState(null, '', `${location.pathname}${toQuery(filter)}`);
    study.hush();
    look();
  };
  drawInto(page.place, () => <Body page={page} study={study} view={view.value} go={go} />);
}

interface Props {
  page: Page;
  study: Study;
  view: View;
  go(filter: ReviewAsked): void;
}

function Body({ page, study, view, go }: Props) {
  const from = useRef<Element | null>(null);
  const tell = (events: number[], link: Element): void => {
    from.current = link;
    void study.tell(events, 0);
  };
  const close = (): void => {
    study.hush();
    if (eventOf(location.hash) !== null) history.replaceState(null, '', `${location.pathname}${location.search}`);
    const place = from.current;
    if (place instanceof HTMLElement || place instanceof SVGElement) place.focus();
  };
  return (
    <>
      <Refusals view={view} session={page.session} />
      <Newcomers view={view} session={page.session} />
      <Bar study={study} go={go} />
      <div class="folds">
        <Before view={view} session={page.session} />
        <Fold class="plan-now" summary={words.onThePlan} load={() => import('./replay')}>
          {({ Replay }) => (
            <Replay personalKey={page.key} choices={page.choices} view={view} fight={study.filter.value.fight} />
          )}
        </Fold>
      </div>
      <div class="review-columns" data-told={study.told.value !== null}>
        <Markup study={study} tell={tell} />
        <Story study={study} view={view} session={page.session} close={close} />
      </div>
      {stageOf(view) !== 'held' && <NearMiss view={view} session={page.session} />}
      {view.me !== null && (
        <p class="back">
          <a class="way" href={pageOf(view.me.role)}>
            {words.review.back[pageOf(view.me.role)]}
          </a>
        </p>
      )}
    </>
  );
}

// Whoever may sign can do it here too: the captain has no desk.
function Before({ view, session }: { view: View; session: Session }) {
  if (view.me?.role !== 'desk' && view.me?.role !== 'captain') return null;
  return (
    <details class="before">
      <summary>{words.record.title}</summary>
      <Checks view={view} session={session} />
    </details>
  );
}

function Markup({ study, tell }: { study: Study; tell(events: number[], from: Element): void }) {
  const place = useRef<HTMLDivElement>(null);
  const paper = useRef<Paper | null>(null);
  const markup = study.page.value?.markup ?? '';
  useEffect(() => {
    if (place.current === null) return;
    paper.current ??= new Paper(place.current, { tell, part: (name) => study.part(name) });
    paper.current.show(markup);
  }, [markup]);
  return <div class="report" lang="en" ref={place} aria-busy={study.busy.value} />;
}
