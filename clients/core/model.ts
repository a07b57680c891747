// What a page knows: one value, changed only here, by events. Nothing in it is a guess: what the server has not said, or
// said in a generation that has passed, is not there.
import type { Estimate } from './clock';
import type { Link } from './connection';
import type { Shown } from './scheduler';
import { NO_SOUND, soundTold, type SoundKnown } from './sound';
import type { TapState } from './taps';
import { NOT_TOLD, toldOf, type Told } from './told';
import type { HoldView, InvitationView, RunSheet, Stage, State, ToMember, Welcome, You } from './wire';

/** What a page knows, the subjects that it shows among it. */
export interface View extends Told {
  link: Link;
  /** What the server said when it closed the line. */
  linkReason: string | null;
  /** This member: name, role, part, and whether they are ready. */
  me: ({ member: number } & You) | null;
  /** The highest generation heard of. */
  generation: number;
  state: State | null;
  run: RunSheet | null;
  /** The cue on the screen, of the living generation. */
  shown: Shown | null;
  clock: Estimate | null;
  tap: TapState;
  /** The trial of the hold that is on the screen. */
  trial: { trial: number; by: string } | null;
  invitations: InvitationView[] | null;
  /** The fingerprint of the authority that phones are asked to trust, where it is the server's own. */
  fingerprint: string | null;
  /** What happened to this page a moment ago, in a sentence. */
  news: string | null;
  /** What the sound page was told. */
  sound: SoundKnown;
  /** What was asked last and taken without another answer, whether its asker's name is kept with it, and how many were. */
  taken: { asked: string; named: boolean; count: number } | null;
  /** What was asked and not done, oldest first. */
  refusals: Refusal[];
}

/** Something that was asked and not done. */
export interface Refusal {
  id: number;
  /** What was asked, in a word. */
  asked: string;
  reason: string;
}

/** What changes it. */
export type Event =
  | { kind: 'message'; message: ToMember }
  | { kind: 'link'; link: Link; reason: string | null }
  | { kind: 'shown'; shown: Shown }
  | { kind: 'clock'; clock: Estimate | null }
  | { kind: 'tap'; tap: TapState }
  | { kind: 'trial-over'; trial: number }
  | { kind: 'news'; news: string | null }
  | { kind: 'refused'; asked: string; reason: string }
  | { kind: 'read'; refusal: number };

/** The most refusals that stand on the screen at once. */
const MOST_REFUSALS = 3;

/** Knows nothing. */
export const NOTHING: View = {
  ...NOT_TOLD,
  link: 'connecting',
  linkReason: null,
  me: null,
  generation: 0,
  state: null,
  run: null,
  shown: null,
  clock: null,
  tap: 'none',
  trial: null,
  invitations: null,
  fingerprint: null,
  news: null,
  sound: NO_SOUND,
  taken: null,
  refusals: [],
};

/** What the page knows after an event. */
export function reduce(view: View, event: Event): View {
  const now = withoutDone(view, changed(view, event));
  // What is real ends what was tried.
  return now.trial === null || triable(now) ? now : { ...now, trial: null };
}

/** True while the hold can be tried on this page: nothing runs, is held, or stands at places. */
export function triable({ link, state, generation }: View): boolean {
  if (link !== 'linked' || state === null || state.generation < generation) return false;
  return state.stage === 'idle' || state.stage === 'stopped' || state.stage === 'complete';
}

function changed(view: View, event: Event): View {
  switch (event.kind) {
    case 'message':
      return told(view, event.message);
    case 'link':
      return linked(view, event.link, event.reason);
    case 'shown':
      return shownNow(view, event.shown);
    case 'clock':
      return { ...view, clock: event.clock };
    case 'tap':
      return { ...view, tap: event.tap };
    case 'trial-over':
      return view.trial?.trial === event.trial ? { ...view, trial: null } : view;
    case 'news':
      return { ...view, news: event.news };
    case 'refused':
      return refused(view, event);
    case 'read':
      return { ...view, refusals: view.refusals.filter((refusal) => refusal.id !== event.refusal) };
  }
}

function told(view: View, message: ToMember): View {
  switch (message.kind) {
    case 'welcome':
      return welcomed(view, message);
    case 'pulse':
      return raised(view, message.generation);
    case 'state':
      return stated(raised(view, message.generation), message);
    case 'you':
      return view.me === null ? view : { ...view, me: mine(view.me.member, message) };
    case 'subject':
      return { ...view, ...toldOf(view, message.tells) };
    case 'run': {
      const now = raised(view, message.generation);
      return message.generation < now.generation ? now : { ...now, run: message };
    }
    case 'stop':
      return stopped(raised(view, message.generation + 1), message.generation + 1);
    case 'held':
      return held(raised(view, message.generation), message);
    case 'trial':
      return { ...view, trial: { trial: message.trial, by: message.by } };
    case 'cue':
      return raised(view, message.generation);
    case 'invitations':
      return { ...view, invitations: message.invitations, fingerprint: message.fingerprint };
    case 'refused':
      return refused(view, message);
    case 'taken': {
      const { asked, named } = message;
      return { ...view, taken: { asked, named, count: (view.taken?.count ?? 0) + 1 } };
    }
    case 'sound':
      return { ...view, sound: soundTold(view.sound, message.tells) };
    case 'invited':
    case 'clock':
    case 'piece':
    case 'tap-answer':
    case 'goodbye':
      return view;
  }
}

// The whole present state. The server may have started anew, so its generation counts even when it is a lower one. The
// subjects that were shown before are told whole again in a moment, and stay on the screen until then; only who is missing
// does not: a start hangs on it.
function welcomed(view: View, welcome: Welcome): View {
  return {
    ...view,
    me: mine(welcome.member, welcome.you),
    missing: null,
    generation: welcome.state.generation,
    state: welcome.state,
    run: welcome.run,
    shown: null,
  };
}

function mine(member: number, { name, role, part, ready, newcomers, waits }: You): View['me'] {
  return { member, name, role, part, ready, newcomers, waits };
}

// A line that is not there tells nothing: what was on the screen is no longer known to be so.
function linked(view: View, link: Link, reason: string | null): View {
  return { ...view, link, linkReason: reason, shown: link === 'linked' ? view.shown : null };
}

function shownNow(view: View, shown: Shown): View {
  const now = raised(view, shown.cue.generation);
  return now.link !== 'linked' || shown.cue.generation < now.generation ? now : { ...now, shown };
}

function raised(view: View, generation: number): View {
  return generation > view.generation ? { ...view, generation, shown: null } : view;
}

function stated(view: View, state: State): View {
  if (state.generation < view.generation) return view;
  const newest = view.state === null || state.generation > view.state.generation || state.now_us >= view.state.now_us;
  return newest ? { ...view, state } : view;
}

// Everything stands, before anybody knows who called. The hold itself comes after it.
function stopped(view: View, generation: number): View {
  const state = view.state;
  if (state === null || generation < view.generation || state.generation >= generation) return view;
  return { ...view, state: { ...state, generation, stage: 'held', hold: null, next_speed: null }, shown: null };
}

// A hold overtakes the state that tells of it. A state of its generation or a later one knows more: that the hold was
// released, or who has called it since.
function held(view: View, hold: HoldView): View {
  const state = view.state;
  if (state === null || hold.released_by !== null || hold.generation < view.generation) return view;
  if (state.generation >= hold.generation && (state.hold === null || state.hold.calls > hold.calls)) return view;
  const stands: State = { ...state, generation: hold.generation, stage: 'held', hold, next_speed: null };
  return { ...view, state: stands, shown: null };
}

function refused(view: View, { asked, reason }: { asked: string; reason: string }): View {
  const id = (view.refusals.at(-1)?.id ?? 0) + 1;
  const others = view.refusals.filter((refusal) => refusal.reason !== reason);
  return { ...view, refusals: [...others, { id, asked, reason }].slice(-MOST_REFUSALS) };
}

// What stands on the screen as not done goes once it has been done, by whoever did it.
function withoutDone(before: View, now: View): View {
  const [was, is] = [before.state, now.state];
  if (now.refusals.length === 0 || is === null) return now;
  if (was?.generation === is.generation && was.stage === is.stage) return now;
  const left = now.refusals.filter(({ asked }) => DONE_AT[asked]?.includes(is.stage) !== true);
  return left.length === now.refusals.length ? now : { ...now, refusals: left };
}

/** Where the call stands once something that may be refused is done. */
const DONE_AT: Partial<Record<string, readonly Stage[]>> = {
  places: ['places'],
  start: ['count-in', 'running'],
  release: ['stopped'],
  stop: ['stopped'],
};
