// The real server, started from the binary that `cargo build` made, with a production of its own in a temporary folder.
import { execFile, spawn, type ChildProcess } from 'node:child_process';
import { appendFile, copyFile, mkdir, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { promisify } from 'node:util';
import type { Role } from '../../core/wire';

const HOLDFAST = process.env['HOLDFAST'] ?? join(import.meta.dirname, '../../../target/debug/holdfast');
const TITLES: [string, Role][] = [
  ['stage manager', 'desk'],
  ['fight captain', 'captain'],
  ['performer', 'performer'],
  ['sound operator', 'sound'],
  ['fight director', 'director'],
  ['observer', 'observer'],
];

/** One row of `holdfast log --format json`. */
export interface LogRow {
  seq: number;
  kind: string;
  who: string | null;
  role: string | null;
  phrase: string | null;
  beat: string | null;
  move: number | null;
  words: string | null;
  speed: number | null;
  reason: string | null;
  run: number | null;
  detail: { in_order?: boolean; note?: string | null } | null;
}

/** A start of the server, played again: one of `holdfast replay --format json`. */
export interface Replayed {
  session: number;
  same_build: boolean;
  inputs: number;
  states: number;
  differs: { state: number; server_us: number } | null;
  failed: string | null;
}

/** What a production is to be like. */
interface Wanted {
  https?: boolean;
  /** The text of its first score, or what is changed in the usual one. */
  score?: string | ((usual: string) => string);
  /** The text of its stage.toml, for the usual one; none at all where it is null. */
  stage?: string | null;
  /** What its production.toml says besides. */
  config?: string;
  /** Six weeks of fight calls in its journal. */
  season?: boolean;
  /** A file that becomes its journal. */
  journal?: string;
  /** How many beats are counted in before a run: one, for what is waited for only; null as the production says. */
  countIn?: number | null;
}

/** A server that runs. */
export class House {
  #server: ChildProcess | null = null;
  readonly links = new Map<Role, string>();
  readonly secureLinks = new Map<Role, string>();

  private constructor(
    readonly folder: string,
    readonly production: string,
    private readonly https: boolean,
  ) {}

  /** Makes a production, or the demo's with a season in its journal, and serves it on a free port. */
  static async open({
    https = false,
    score,
    stage,
    config,
    season = false,
    journal,
    countIn = 1,
  }: Wanted = {}): Promise<House> {
    const folder = await mkdtemp(join(tmpdir(), 'holdfast-browser-'));
    const production = join(folder, 'quay');
    await promisify(execFile)(HOLDFAST, season ? ['demo', '--season', '--keep', production] : ['new', production]);
    if (score !== undefined) {
      const first = join(production, 'scores', 'first-steps.fight');
      await writeFile(first, typeof score === 'string' ? score : score(await readFile(first, 'utf8')));
    }
    if (countIn !== null) await countInOf(production, countIn);
    if (stage === null) await rm(join(production, 'stage.toml'));
    if (typeof stage === 'string') await writeFile(join(production, 'stage.toml'), stage);
    if (config !== undefined) await appendFile(join(production, 'production.toml'), config);
    if (journal !== undefined) {
      await mkdir(join(production, 'data'), { recursive: true });
      await copyFile(journal, join(production, 'data', 'journal.sqlite'));
    }
    const house = new House(folder, production, https);
    await house.start('127.0.0.1:0');
    return house;
  }

  /** Serves; resolves when the links are printed. */
  async start(listen: string): Promise<void> {
    const https = this.https ? ['--https', '127.0.0.1:0'] : [];
    const server = spawn(HOLDFAST, ['serve', this.production, '--listen', listen, ...https], {
      stdio: ['ignore', 'pipe', 'ignore'],
    });
    this.#server = server;
    for await (const line of createInterface({ input: server.stdout })) {
      const found = TITLES.find(([title]) => line.startsWith(title + ' '));
      const link = /https?:\S+$/.exec(line)?.[0];
      if (found === undefined || link === undefined) continue;
      (link.startsWith('https:') ? this.secureLinks : this.links).set(found[1], link);
      if (this.links.size + this.secureLinks.size === TITLES.length * (this.https ? 2 : 1)) break;
    }
    server.stdout.resume();
  }

  /** The link of a role's invitation. */
  link(role: Role): string {
    const link = this.links.get(role);
    if (link === undefined) throw new Error(`no link for the ${role}`);
    return link;
  }

  /** Where it listens. */
  get place(): string {
    return new URL(this.link('desk')).host;
  }

  /** What the log says now. */
  async log(): Promise<LogRow[]> {
    return JSON.parse(await this.says('log', this.production, '--format', 'json')) as LogRow[];
  }

  /** How the evening comes out when it is played again; a state that comes out otherwise than it was told is an error. */
  async replay(): Promise<Replayed[]> {
    return JSON.parse(await this.says('replay', this.production, '--format', 'json')) as Replayed[];
  }

  /** What a command prints. */
  async says(...command: string[]): Promise<string> {
    return (await promisify(execFile)(HOLDFAST, command, { maxBuffer: 64 * 1024 * 1024 })).stdout;
  }

  /** Ends the server as Ctrl-C does (or at once), and waits until it is gone. */
  async stop(signal: 'SIGINT' | 'SIGKILL' = 'SIGINT'): Promise<void> {
    const server = this.#server;
    if (server === null || server.exitCode !== null) return;
    const gone = new Promise((resolve) => server.once('exit', resolve));
    server.kill(signal);
    await gone;
  }

  /** Ends everything. */
  async close(): Promise<void> {
    await this.stop();
    await rm(this.folder, { recursive: true, force: true });
  }
}

/** Lets a production count that many beats in before a run, unless the desk asks for another. */
async function countInOf(production: string, beats: number): Promise<void> {
  const file = join(production, 'production.toml');
  const usual = await readFile(file, 'utf8');
  const chosen = usual.replace(/^(# )?count_in = 4$/m, `count_in = ${beats}`);
  if (chosen === usual) throw new Error('production.toml has no count-in to be chosen');
  await writeFile(file, chosen);
}
