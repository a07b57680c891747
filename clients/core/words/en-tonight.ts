// The words of tonight's whole order, in English.
import type { About } from '../tonight';
import { minutes } from './minutes';

/** The words of tonight's whole order. */
export const order = {
  doneOf: (done: number, of: number) => `Tonight: ${done} of ${of} done.`,
  title: 'Tonight',
  time: (seconds: number | null): string => (seconds === null ? 'never timed' : minutes(seconds)),
  stands: { 'to-do': 'to do', now: 'now', done: 'done' },
  next: 'next',
  needed: (before: number, what: string, now: boolean): string => {
    if (now) return `You are needed now: ${what}`;
    if (before === 0) return `You are needed next: ${what}`;
    if (before === 1) return `You are needed next but one: ${what}`;
    return `You are needed after ${before} others: ${what}`;
  },
  after: ({ seconds, unknown }: About): string =>
    unknown > 0 ? 'Nobody knows yet how long until then.' : `In ${minutes(seconds)}, by earlier calls.`,
  notNeeded: 'You are in nothing that is still to do.',
  whole: 'The whole order',
  you: 'you',
};
