// What goes to the server by HTTP with a personal key: whatever is long or takes its time, so that it is never on the
// line that HOLD is on.
import type { NotDone } from './wire';

/** Something that was asked and not done; its message is a sentence for a person. */
export class Refused extends Error {}

/**
 * Asks the server for something. The answer is a good one; whatever else happens is thrown as {@link Refused}, with
 * `noAnswer` when the server has not said why.
 */
export async function ask(what: string, key: string, body: unknown, noAnswer: string): Promise<Response> {
  let answer: Response;
  try {
    answer = await fetch(`/api/${what}`, {
      method: 'POST',
      headers: { authorization: `Bearer ${key}`, 'content-type': 'application/json' },
      body: JSON.stringify(body),
    });
  } catch {
    throw new Refused(noAnswer);
  }
  if (answer.ok) return answer;
  const said: unknown = await answer.json().catch(() => null);
  throw new Refused((said as NotDone | null)?.reason ?? noAnswer);
}

/** The same, for what is answered in JSON. */
export async function askJson<T>(what: string, key: string, body: unknown, noAnswer: string): Promise<T> {
  const answer = await ask(what, key, body, noAnswer);
  const said: unknown = await answer.json().catch(() => null);
  if (said === null) throw new Refused(noAnswer);
  return said as T;
}
