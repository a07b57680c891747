// What the program is made of besides its own sources: every crate and every package of the pages has a licence that may
// be used, none was taken back by whoever published it, and where the registry answers, no known hole is in them.
import { execFileSync } from 'node:child_process';
import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';

// Licences that ask for no more than their text beside the program, or for changes to their own files (MPL). Names: SPDX.
const ALLOWED = new Set([
  '0BSD',
  'Apache-2.0',
  'Apache-2.0 WITH LLVM-exception',
  'BSD-2-Clause',
  'BSD-3-Clause',
  'BSL-1.0',
  'CC0-1.0',
  'CDLA-Permissive-2.0',
  'ISC',
  'MIT',
  'MIT-0',
  'MPL-2.0',
  'Unicode-3.0',
  'Unlicense',
  'Zlib',
]);
const wrong = [];
const notes = [];

/** Whether a licence expression can be met with what is allowed (SPDX 2.3, annex D: AND binds tighter than OR). */
function isAllowed(expression) {
  const words = expression.replaceAll('/', ' OR ').match(/\(|\)|[^\s()]+/g) ?? [];
  let at = 0;
  const one = () => {
    if (words[at] === '(') {
      at += 1;
      const inner = either();
      at += 1;
      return inner;
    }
    let name = words[at++] ?? '';
    if (words[at] === 'WITH') name += ` WITH ${words[at + 1]}`, (at += 2);
    return ALLOWED.has(name);
  };
  const both = () => {
    let all = one();
    while (words[at] === 'AND') at += 1, (all = one() && all);
    return all;
  };
  function either() {
    let any = both();
    while (words[at] === 'OR') at += 1, (any = both() || any);
    return any;
  }
  return either() && at === words.length;
}

for (const [expression, allowed] of [
  ['MIT OR Apache-2.0', true],
  ['MIT/Apache-2.0', true],
  ['(MIT OR GPL-3.0-only) AND Unicode-3.0', true],
  ['MIT AND GPL-3.0-only', false],
  ['GPL-3.0-only OR AGPL-3.0-only', false],
  ['Apache-2.0 WITH LLVM-exception', true],
  ['', false],
]) {
  if (isAllowed(expression) !== allowed) wrong.push(`This check reads “${expression}” wrongly.`);
}

const told = execFileSync('cargo', ['metadata', '--locked', '--format-version', '1'], { maxBuffer: 1 << 28 });
const crates = JSON.parse(told).packages.filter(({ source }) => source !== null);
for (const { name, version, license } of crates) {
  if (!isAllowed(license ?? '')) wrong.push(`The crate ${name} ${version} has the licence “${license ?? 'none'}”.`);
}

const lock = JSON.parse(readFileSync('clients/package-lock.json', 'utf8'));
const packages = Object.entries(lock.packages).filter(([path]) => path !== '');
for (const [path, { version, license }] of packages) {
  if (!isAllowed(license ?? '')) wrong.push(`The package ${path} ${version} has the licence “${license ?? 'none'}”.`);
}

// What cargo keeps of the index has a line of JSON for each version.
const home = process.env.CARGO_HOME ?? join(process.env.HOME ?? '', '.cargo');
const indexes = join(home, 'registry', 'index');
const shelves = existsSync(indexes) ? readdirSync(indexes).map((index) => join(indexes, index, '.cache')) : [];
let unknown = 0;
for (const { name, version } of crates) {
  const lower = name.toLowerCase();
  const folder = lower.length > 3 ? join(lower.slice(0, 2), lower.slice(2, 4)) : join(`${lower.length}`, lower.length === 3 ? lower[0] : '');
  const kept = shelves.map((shelf) => join(shelf, folder, lower)).find(existsSync);
  const lines = kept === undefined ? [] : readFileSync(kept, 'utf8').split('\0').filter((line) => line.startsWith('{"name"'));
  const row = lines.map((line) => JSON.parse(line)).find(({ vers }) => vers === version);
  if (row === undefined) unknown += 1;
  else if (row.yanked) wrong.push(`The crate ${name} ${version} was taken back by whoever published it.`);
}
if (unknown > 0) notes.push(`of ${unknown} crates it is not known here whether they were taken back`);

// Answers with an error where holes are known, and with another one where the registry keeps no such list.
try {
  execFileSync('npm', ['--prefix', 'clients', 'audit', '--json'], { stdio: ['ignore', 'pipe', 'ignore'], timeout: 60_000 });
} catch (failed) {
  const said = String(failed.stdout ?? '');
  const audit = said.startsWith('{') ? JSON.parse(said) : {};
  const holes = Object.values(audit.vulnerabilities ?? {});
  if (audit.vulnerabilities === undefined) notes.push('the registry of the pages’ packages says nothing of known holes here');
  for (const { name, severity, range } of holes) wrong.push(`The package ${name} (${range}) has a known hole: ${severity}.`);
}

for (const line of wrong) console.error(line);
const seen = `${crates.length} crates and ${packages.length} packages: licences that may be used`;
console.log([seen, ...notes].join('; ') + '.');
process.exit(wrong.length > 0 ? 1 : 0);
