// A line to Firefox over WebDriver BiDi (https://www.w3.org/TR/webdriver-bidi/), which Debian's Firefox speaks by itself: no
// driver in between. Only the few commands that the evening here needs.
import { spawn, type ChildProcess } from 'node:child_process';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';

const FIREFOX = process.env['FIREFOX'] ?? '/usr/bin/firefox-esr';
/** It says where it listens within this time, or it does not start at all. */
const START_MS = 30_000;

/** Nothing calls home, nothing asks, nothing is shown besides the page. */
const PREFERENCES: Record<string, string | number | boolean> = {
  'app.update.enabled': false,
  'browser.safebrowsing.malware.enabled': false,
  'browser.safebrowsing.phishing.enabled': false,
  'browser.shell.checkDefaultBrowser': false,
  'browser.startup.page': 0,
  'datareporting.policy.dataSubmissionEnabled': false,
  'extensions.update.enabled': false,
  'media.autoplay.default': 0,
  'network.captive-portal-service.enabled': false,
  'network.connectivity-service.enabled': false,
  'services.settings.server': 'data:,#remote-settings-dummy/v1',
  'toolkit.telemetry.server': '',
};

/** What the browser tells without being asked. */
export interface Told {
  method: string;
  params: Record<string, unknown>;
}

interface Answer {
  id?: number;
  type: 'success' | 'error' | 'event';
  result?: unknown;
  error?: string;
  message?: string;
  method?: string;
  params?: Record<string, unknown>;
}

/** A Firefox that runs, with a profile of its own. */
export class Bidi {
  #last = 0;
  readonly #asked = new Map<number, { done(result: unknown): void; failed(why: Error): void }>();
  readonly #listeners = new Set<(told: Told) => void>();

  private constructor(
    private readonly process: ChildProcess,
    private readonly profile: string,
    private readonly line: WebSocket,
  ) {
    line.addEventListener('message', ({ data }) => this.#hear(JSON.parse(String(data)) as Answer));
    line.addEventListener('close', () => {
      for (const { failed } of this.#asked.values()) failed(new Error('Firefox has closed its line'));
      this.#asked.clear();
    });
  }

  /** Starts it, without a window. `FIREFOX` names another binary than Debian's. */
  static async start(): Promise<Bidi> {
    const profile = await mkdtemp(join(tmpdir(), 'holdfast-firefox-'));
    const lines = Object.entries(PREFERENCES).map(
      ([name, value]) => `user_pref("${name}", ${JSON.stringify(value)});\n`,
    );
    await writeFile(join(profile, 'user.js'), lines.join(''));
    const process = spawn(
      FIREFOX,
      ['--headless', '--no-remote', '--profile', profile, '--remote-debugging-port', '0'],
      {
        stdio: ['ignore', 'ignore', 'pipe'],
      },
    );
    const bidi = new Bidi(process, profile, await dial(await address(process)));
    await bidi
      .ask('session.new', { capabilities: { alwaysMatch: { 'moz:debuggerAddress': false } } })
      .catch(async () => {
        await bidi.ask('session.new', { capabilities: {} });
      });
    return bidi;
  }

  /** Asks for something; what comes back is as the standard has it. */
  ask<T = unknown>(method: string, params: Record<string, unknown>): Promise<T> {
    this.#last += 1;
    const id = this.#last;
    return new Promise<T>((done, failed) => {
      this.#asked.set(id, { done: (result) => done(result as T), failed });
      this.line.send(JSON.stringify({ id, method, params }));
    });
  }

  /** Tells `listener` what happens, once `session.subscribe` was asked. */
  listen(listener: (told: Told) => void): void {
    this.#listeners.add(listener);
  }

  /** Ends it and waits until it is gone. */
  async close(): Promise<void> {
    const gone = new Promise((resolve) => this.process.once('exit', resolve));
    await this.ask('browser.close', {}).catch(() => this.process.kill());
    await gone;
    await rm(this.profile, { recursive: true, force: true, maxRetries: 5 });
  }

  #hear({ id, type, result, error, message, method, params }: Answer): void {
    if (type === 'event' && method !== undefined) {
      for (const listener of this.#listeners) listener({ method, params: params ?? {} });
      return;
    }
    if (id === undefined) return;
    const asked = this.#asked.get(id);
    this.#asked.delete(id);
    if (type === 'success') asked?.done(result);
    else asked?.failed(new Error(`${error}: ${message}`));
  }
}

// It says where it listens on its standard error.
async function address(process: ChildProcess): Promise<string> {
  if (process.stderr === null) throw new Error('Firefox has no standard error');
  const lines = createInterface({ input: process.stderr });
  const said: string[] = [];
  const found = new Promise<string>((resolve, reject) => {
    const late = setTimeout(() => reject(new Error(`Firefox does not start:\n${said.join('\n')}`)), START_MS);
    process.once('error', reject);
    process.once('exit', () => reject(new Error(`Firefox ended at once:\n${said.join('\n')}`)));
    lines.on('line', (line) => {
      said.push(line);
      const at = /WebDriver BiDi listening on (ws:\S+)/.exec(line)?.[1];
      if (at === undefined) return;
      clearTimeout(late);
      resolve(at);
    });
  });
  return found;
}

async function dial(at: string): Promise<WebSocket> {
  const line = new WebSocket(`${at}/session`);
  await new Promise((opened, failed) => {
    line.addEventListener('open', opened, { once: true });
    line.addEventListener('error', () => failed(new Error(`Firefox does not answer at ${at}`)), { once: true });
  });
  return line;
}
