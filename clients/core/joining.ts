// Trading an invitation for a place in the call: look at it, choose, join.
import { Connection, type Link } from './connection';
import { markOf, type Entry } from './keys';
import type { Dial, Platform } from './platform';
import { PROTOCOL, type PartChoice, type Role, type ToMember } from './wire';

/** How far it is. */
export type Step =
  | { step: 'looking' }
  | { step: 'choosing'; production: string; role: Role; parts: PartChoice[]; reason: string | null }
  | { step: 'joining'; name: string; part: string | null; role: Role; parts: PartChoice[]; production: string }
  | { step: 'joined'; entry: Entry }
  | { step: 'refused'; reason: string };

/** One invitation being traded. */
export class Joining {
  #step: Step = { step: 'looking' };
  // By it the server knows whose welcome was lost on the way.
  readonly #page: string;
  readonly #connection: Connection;

  constructor(
    platform: Platform,
    dial: Dial,
    private readonly invitation: string,
    private readonly changed: (step: Step, link: Link) => void,
  ) {
    this.#page = platform.token();
    this.#connection = new Connection(platform, dial, {
      hello: () => ({ kind: 'look', protocol: PROTOCOL, invitation }),
      opened: () => undefined,
      link: (link, reason) => this.#linkIs(link, reason),
      message: (message) => this.#told(message),
      visible: () => true,
      inARun: () => false,
      callsBack: () => false,
    });
  }

  /** Looks at the invitation. */
  start(): void {
    this.#connection.start();
  }

  /** The page was shown or found a network. */
  wake(): void {
    this.#connection.wake();
  }

  /** Joins with this name and part. */
  join(name: string, part: string | null): void {
    const now = this.#step;
    if (now.step !== 'choosing') return;
    const { production, role, parts } = now;
    const sent = this.#connection.send({
      kind: 'join',
      protocol: PROTOCOL,
      invitation: this.invitation,
      name,
      part,
      page: this.#page,
    });
    if (sent) this.#go({ step: 'joining', name, part, role, parts, production });
  }

  #told(message: ToMember): void {
    const now = this.#step;
    if (message.kind === 'invited') {
      const { production, role, parts } = message;
      this.#go({ step: 'choosing', production, role, parts, reason: null });
    } else if (message.kind === 'welcome' && now.step === 'joining' && message.key !== null) {
      const {
        key,
        you: { role, name },
      } = message;
      const invitation = markOf(this.invitation);
      const production = message.state.production;
      this.#go({ step: 'joined', entry: { key, invitation, role, name, part: now.part, production } });
    } else if (message.kind === 'refused') {
      this.#refused(message.reason);
    }
  }

  #refused(reason: string): void {
    const now = this.#step;
    if (now.step === 'joining' || now.step === 'choosing') {
      const { production, role, parts } = now;
      this.#go({ step: 'choosing', production, role, parts, reason });
    } else if (now.step === 'looking') {
      this.#go({ step: 'refused', reason });
      this.#connection.bar(reason);
    }
  }

  // A line that came back asks anew, and who has which part is told anew.
  #linkIs(link: Link, reason: string | null): void {
    const over = this.#step.step === 'joined' || this.#step.step === 'refused';
    if (link === 'barred' && reason !== null && !over) this.#step = { step: 'refused', reason };
    this.changed(this.#step, link);
  }

  #go(step: Step): void {
    this.#step = step;
    this.changed(step, this.#connection.link);
  }
}
