// What a page must always say of itself: link, clock, where the call stands, phrase and speed; and in big words when it
// knows nothing. Plain DOM like HOLD, for the same reason.
import { setText } from './hold';
import type { View } from './model';
import { needsTheClock, percentOf, phraseOf, stageOf, stepped } from './reading';
import { onWords, words } from './words';
import { decimal } from './words/decimal';

/** From this clock error on, microseconds, it is said without being asked for. */
const CLOCK_WRONG_US = 15_000;
/** So long the flood of a hold covers a whole phone; then it draws back. */
const FLOOD_MS = 6_000;

/** What a page says of itself, and the sheet that covers it while nothing is known. */
export interface Vitals {
  link: string;
  clock: string;
  who: string;
  stage: string;
  speed: string;
  where: string;
  /** What everybody must do now: while a hold is on. */
  must: string;
  /** What is not as it should be; empty when all is well. */
  wrong: string;
  /** What happened to this page a moment ago; empty when nothing did. */
  news: string;
  /** Big words instead of the page: nothing is known, or the hold is tried; nothing when all is well. */
  sheet: { title: string; text: string; useHere?: true } | null;
}

/** What must stand there, from what the page knows. */
export function vitalsOf(view: View): Vitals {
  const stage = stageOf(view);
  const percent = stepped(view) ? words.walkThrough : percentWords(view);
  const phrase = phraseOf(view);
  const asked = view.state?.next_speed ?? null;
  const where = [phrase, asked === null ? null : words.nextSpeed(asked.percent, asked.phrase)];
  return {
    link: words.link[view.link],
    clock: view.clock === null ? words.clockUnknown : words.clockBound(milliseconds(view.clock.bound_us)),
    who: view.me === null ? '' : `${view.me.name}, ${words.role[view.me.role]}`,
    stage: stage === null ? words.stageUnknown : words.stage[stage],
    speed: stage === null || view.state?.setup == null ? '' : (percent ?? ''),
    must: stage === 'held' ? words.stageNext.held : '',
    wrong: wrongOf(view),
    where: stage === null ? '' : where.filter((part) => part !== null && part !== '').join(' · '),
    news: view.news ?? '',
    sheet: sheetOf(view),
  };
}

// A clock that is right is nobody's business; one that is not is.
function wrongOf(view: View): string {
  const stage = stageOf(view);
  if (stage === null || !needsTheClock(stage)) return '';
  if (view.clock === null) return words.clockUnknown;
  return view.clock.bound_us > CLOCK_WRONG_US ? words.clockBound(milliseconds(view.clock.bound_us)) : '';
}

function percentWords(view: View): string | null {
  const percent = percentOf(view);
  return percent === null ? null : words.percent(percent);
}

function sheetOf(view: View): Vitals['sheet'] {
  const said = view.linkReason === null ? '' : `${view.linkReason} `;
  switch (view.link) {
    case 'linked':
      return view.trial === null ? null : { title: words.trialTitle, text: words.trialText(view.trial.by) };
    case 'connecting':
      return { title: words.connectingTitle, text: words.connectingText };
    case 'lost':
      return { title: words.lostTitle, text: `${said}${words.lostText} ${words.lostTrying}` };
    case 'elsewhere':
      return { title: words.elsewhereTitle, text: `${said}${words.elsewhereText}`, useHere: true };
    case 'barred':
      return { title: words.barredTitle, text: said === '' ? words.barredText : `${said}${words.askForLink}` };
  }
}

/** Microseconds as milliseconds that can be read: 0.4, 3.2, 12. */
export function milliseconds(us: number): string {
  const ms = us / 1_000;
  return decimal(ms, Math.abs(ms) < 10 ? 1 : 0);
}

/** Puts the vitals into `top` and the covering sheet into `sheet`, whose button calls `useHere`. */
export function mountVitals(top: HTMLElement, sheet: HTMLElement, useHere: () => void): (view: View) => void {
  const heading = top.appendChild(document.createElement('h1'));
  heading.className = 'unseen';
  const { link, clock, who } = deviceLine(top);
  const state = top.appendChild(document.createElement('p'));
  state.className = 'stage';
  state.setAttribute('role', 'status');
  const stage = state.appendChild(document.createElement('strong'));
  const [speed, where, must] = ['speed', 'where', 'must'].map((name) => {
    const part = state.appendChild(document.createElement('span'));
    part.className = name;
    return part;
  }) as [HTMLElement, HTMLElement, HTMLElement];
  const notices = top.appendChild(document.createElement('div'));
  notices.className = 'notices';
  const wrong = notices.appendChild(document.createElement('p'));
  wrong.className = 'wrong';
  const news = notices.appendChild(document.createElement('p'));
  news.className = 'news';
  news.setAttribute('role', 'status');
  for (const each of [where, news]) each.dir = 'auto';
  const flood = floodOf(document.body);
  const title = sheet.appendChild(document.createElement('h2'));
  const text = sheet.appendChild(document.createElement('p'));
  const again = sheet.appendChild(document.createElement('button'));
  again.type = 'button';
  onWords(() => setText(again, words.useHere));
  again.addEventListener('click', useHere);

  return (view) => {
    const vitals = vitalsOf(view);
    top.dataset['link'] = view.link;
    const now = stageOf(view);
    document.body.dataset['stage'] = now ?? 'unknown';
    document.body.dataset['link'] = view.link;
    flood(now === 'held');
    setText(heading, vitals.who === '' ? words.name : `${words.name}: ${vitals.who}`);
    setText(link, vitals.link);
    setText(clock, vitals.clock);
    setText(who, vitals.who);
    setText(stage, vitals.stage);
    setText(speed, vitals.speed);
    setText(where, vitals.where);
    setText(must, vitals.must);
    setText(wrong, vitals.wrong);
    setText(news, vitals.news);
    setText(title, vitals.sheet?.title ?? '');
    setText(text, vitals.sheet?.text ?? '');
    again.hidden = vitals.sheet?.useHere !== true;
    sheet.hidden = vitals.sheet === null;
  };
}

// Link, clock and name are one touch away: the dot opens them.
function deviceLine(top: HTMLElement): { link: HTMLElement; clock: HTMLElement; who: HTMLElement } {
  const box = top.appendChild(document.createElement('details'));
  box.className = 'device';
  const dot = box.appendChild(document.createElement('summary')).appendChild(document.createElement('span'));
  dot.className = 'unseen';
  onWords(() => setText(dot, words.thisPage));
  const line = box.appendChild(document.createElement('p'));
  const link = line.appendChild(document.createElement('b'));
  const clock = line.appendChild(document.createElement('span'));
  const who = line.appendChild(document.createElement('span'));
  who.dir = 'auto';
  return { link, clock, who };
}

// At first the whole page is a hold; whoever reads on afterwards reads on the ground again, within a frame of it.
function floodOf(body: HTMLElement): (held: boolean) => void {
  let before = false;
  let timer: ReturnType<typeof setTimeout> | undefined;
  return (held) => {
    if (held === before) return;
    before = held;
    clearTimeout(timer);
    body.dataset['flood'] = held ? 'whole' : 'none';
    if (held) timer = setTimeout(() => (body.dataset['flood'] = 'drawn'), FLOOD_MS);
  };
}
