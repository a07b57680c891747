// Somebody at a page in Firefox: what they see is what the page says, what they do is done by a pointer and keys.
import { readFile } from 'node:fs/promises';
import { extname, join } from 'node:path';
import { expect } from 'vitest';
import { Bidi, type Told } from './bidi';

/** A busy machine needs patience. */
const PATIENCE_MS = 25_000;
/** With HOLDFAST_PAGES=dist the pages are those of that folder, as for the tests in Chromium. */
const PAGES = process.env['HOLDFAST_PAGES'];
const TYPES: Record<string, string> = { '.js': 'text/javascript', '.css': 'text/css', '.svg': 'image/svg+xml' };

/** A Firefox, and everybody who sits at it, each with a store of their own. */
export class Company {
  readonly people: Person[] = [];

  private constructor(readonly bidi: Bidi) {}

  /** Opens it. */
  static async gather(): Promise<Company> {
    const bidi = await Bidi.start();
    const company = new Company(bidi);
    bidi.listen((told) => company.#hear(told));
    await bidi.ask('session.subscribe', { events: ['log.entryAdded', 'network.beforeRequestSent'] });
    if (PAGES !== undefined) await bidi.ask('network.addIntercept', { phases: ['beforeRequestSent'] });
    return company;
  }

  /** Somebody comes, with a page of that size. In a window of its own: a tab behind another is out of sight. */
  async come(name: string, width: number, height: number): Promise<Person> {
    const { userContext } = await this.bidi.ask<{ userContext: string }>('browser.createUserContext', {});
    const { context } = await this.bidi.ask<{ context: string }>('browsingContext.create', {
      type: 'window',
      userContext,
    });
    await this.bidi.ask('browsingContext.setViewport', { context, viewport: { width, height } });
    const person = new Person(this.bidi, context, name);
    this.people.push(person);
    return person;
  }

  /** Everybody goes home. */
  close(): Promise<void> {
    return this.bidi.close();
  }

  /** What the pages have complained of, each with whose page it was. */
  get complaints(): string[] {
    return this.people.flatMap(({ name, complaints }) => complaints.map((each) => `${name}: ${each}`));
  }

  #hear({ method, params }: Told): void {
    if (method === 'log.entryAdded') {
      const { level, text, source } = params as { level: string; text: string | null; source: { context?: string } };
      if (level !== 'error') return;
      this.people.find(({ context }) => context === source.context)?.complaints.push(text ?? 'something');
    }
    if (method === 'network.beforeRequestSent' && params['isBlocked'] === true) void this.#serve(params);
  }

  // A page of the folder instead of the server's; everything else goes its way.
  async #serve(params: Record<string, unknown>): Promise<void> {
    const { request, url } = params['request'] as { request: string; url: string };
    const { pathname, protocol } = new URL(url);
    const asset = pathname.startsWith('/assets/');
    const file = asset ? pathname : `${pathname === '/' ? '/index' : pathname}.html`;
    const mine = /^https?:$/.test(protocol) && (asset || /^\/[a-z]*$/.test(pathname));
    const body = mine ? await readFile(join(PAGES ?? '', file), 'base64').catch(() => null) : null;
    const type = { type: 'string', value: TYPES[extname(file)] ?? 'text/html' };
    const answer =
      body === null
        ? this.bidi.ask('network.continueRequest', { request })
        : this.bidi.ask('network.provideResponse', {
            request,
            statusCode: 200,
            headers: [{ name: 'content-type', value: type }],
            body: { type: 'base64', value: body },
          });
    // A page that was left meanwhile has no more use for it.
    await answer.catch(() => undefined);
  }
}

/** Where something is on a page, in its pixels. */
interface Place {
  x: number;
  y: number;
}

/** Somebody at a page. */
export class Person {
  readonly complaints: string[] = [];

  constructor(
    private readonly bidi: Bidi,
    readonly context: string,
    readonly name: string,
  ) {}

  /** Goes to an address and waits until it is loaded. */
  async go(url: string): Promise<void> {
    await this.bidi.ask('browsingContext.navigate', { context: this.context, url, wait: 'complete' });
  }

  /** What a function says in the page; it is given strings only. */
  async says<T>(what: (...given: string[]) => T, ...given: string[]): Promise<T> {
    const answer = await this.bidi.ask<{
      type: string;
      result?: { value?: string };
      exceptionDetails?: { text: string };
    }>('script.callFunction', {
      functionDeclaration: `(...given) => JSON.stringify((${what.toString()})(...given) ?? null)`,
      awaitPromise: false,
      target: { context: this.context },
      arguments: given.map((value) => ({ type: 'string', value })),
    });
    if (answer.type === 'exception') throw new Error(`${this.name}: ${answer.exceptionDetails?.text}`);
    return JSON.parse(answer.result?.value ?? 'null') as T;
  }

  /** Waits until such an element says that. */
  async sees(selector: string, text: string): Promise<void> {
    const there = async (): Promise<string> => (await this.says(textOf, selector, text).catch(() => null)) ?? '';
    await expect.poll(there, { timeout: PATIENCE_MS, message: `${this.name} sees “${text}”` }).toContain(text);
  }

  /** Presses the button (or what else `selector` has) of that name, with a finger's or a mouse's pointer. */
  async press(name: string, selector = 'button', pointer: 'touch' | 'mouse' = 'mouse'): Promise<void> {
    let at: Place | null = null;
    const found = async (): Promise<boolean> =>
      (at = await this.says(placeOf, selector, name).catch(() => null)) !== null;
    await expect.poll(found, { timeout: PATIENCE_MS, message: `${this.name} finds “${name}”` }).toBe(true);
    const { x, y } = at ?? { x: 0, y: 0 };
    const actions = [
      { type: 'pointerMove', x: Math.round(x), y: Math.round(y) },
      { type: 'pointerDown', button: 0 },
      { type: 'pointerUp', button: 0 },
    ];
    const source = { type: 'pointer', id: `of-${pointer}`, parameters: { pointerType: pointer }, actions };
    await this.bidi.ask('input.performActions', { context: this.context, actions: [source] });
  }

  /** Types where the focus is. */
  async types(text: string): Promise<void> {
    const actions = [...text].flatMap((value) => [
      { type: 'keyDown', value },
      { type: 'keyUp', value },
    ]);
    await this.bidi.ask('input.performActions', {
      context: this.context,
      actions: [{ type: 'key', id: 'keys', actions }],
    });
  }
}

// The first of those elements that says it. Runs in the page.
function textOf(selector: string, text: string): string | null {
  const all = [...document.querySelectorAll<HTMLElement>(selector)].map((each) => each.textContent ?? '');
  return all.find((each) => each.includes(text)) ?? null;
}

// The middle of an element by the name that a reader gives it, where a pointer would reach it. Runs in the page.
function placeOf(selector: string, name: string): Place | null {
  const named = (element: HTMLElement): string =>
    element.getAttribute('aria-label') ?? element.closest('label')?.textContent ?? element.textContent ?? '';
  const found = [...document.querySelectorAll<HTMLElement>(selector)].find(
    (each) => named(each).trim().startsWith(name) && each.getClientRects().length > 0 && !each.matches(':disabled'),
  );
  if (found === undefined) return null;
  found.scrollIntoView({ block: 'center' });
  const { left, top, width, height } = found.getBoundingClientRect();
  const at = { x: left + width / 2, y: top + height / 2 };
  const hit = document.elementFromPoint(at.x, at.y);
  return hit !== null && (found.contains(hit) || hit.contains(found)) ? at : null;
}
