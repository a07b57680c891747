// What is wanted of the review, as a part of the page's address: a selection is a link that can be sent.
import type { ReviewAsked } from '../core/wire';

/** Everything. */
export const EVERYTHING: ReviewAsked = { since: null, until: null, fight: null, phrase: null, weapons: null };

const NAMES = ['since', 'until', 'fight', 'phrase', 'weapons'] as const;

/** The selection that an address asks for; what it does not know is left alone. */
export function fromQuery(query: string): ReviewAsked {
  const given = new URLSearchParams(query);
  const filter = { ...EVERYTHING };
  for (const name of NAMES) filter[name] = said(given.get(name));
  return filter;
}

/** The selection as the query of an address; nothing for everything. */
export function toQuery(filter: ReviewAsked): string {
  const query = new URLSearchParams();
  for (const name of NAMES) {
    const value = said(filter[name]);
    if (value !== null) query.set(name, value);
  }
  const text = query.toString();
  return text === '' ? '' : `?${text}`;
}

/** True when both ask for the same. */
export const same = (a: ReviewAsked, b: ReviewAsked): boolean => toQuery(a) === toQuery(b);

/** The number of the event that an address points at: `#e12`. */
export function eventOf(hash: string): number | null {
  const found = /^#e(\d{1,15})$/.exec(hash)?.[1];
  return found === undefined ? null : Number(found);
}

function said(text: string | null): string | null {
  const trimmed = text?.trim() ?? '';
  return trimmed === '' ? null : trimmed;
}
