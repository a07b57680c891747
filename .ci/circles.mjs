// Finds circles in the source. In every folder under src/ the children (a file, or a subfolder as one; the folder's own
// mod.rs is its face and is left out) may need each other in one direction only. One child needs another when its code
// outside of tests names something that is defined there, in a `use` or in a path; what a mod.rs passes on is followed to
// the file that defines it. Prints every circle with the lines that make it, and ends with 1 if there is one.
// `node .ci/circles.mjs [FOLDER]` reads another folder than src/.

import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';

const root = process.argv[2] ?? 'src';
const crateName = 'holdfast';

// ---- Reading the text ----

/** The code without comments, and with strings and characters emptied; every line stays where it was. */
function bare(text) {
  const token =
    /\/\/[^\n]*|\/\*|r(#*)"[^]*?"\1|b?"(?:\\[^]|[^"\\])*"|b?'(?:\\(?:x[0-9a-fA-F]{2}|u\{[^}]*\}|.)|[^'\\\n])'/g;
  let out = '';
  let at = 0;
  for (let found; (found = token.exec(text));) {
    let end = token.lastIndex;
    if (found[0] === '/*') end = endOfComment(text, found.index);
    const before = text[found.index - 1] ?? ' ';
    if (found[0].startsWith('r') && /\w/.test(before)) end = found.index + 1;
    const kept = end === found.index + 1 ? found[0][0] : found[0].startsWith('/') ? '' : '""';
    out += text.slice(at, found.index) + kept + text.slice(found.index, end).replace(/[^\n]/g, '');
    at = token.lastIndex = end;
  }
  return out + text.slice(at);
}

/** Where a block comment ends that begins there; they nest. */
function endOfComment(text, from) {
  const mark = /\/\*|\*\//g;
  mark.lastIndex = from;
  let depth = 0;
  for (let found; (found = mark.exec(text));) {
    depth += found[0] === '/*' ? 1 : -1;
    if (depth === 0) return mark.lastIndex;
  }
  return text.length;
}

const ITEM_BEGINS =
  /^\s*(?:#\[[^\]]*\]\s*)*(?:pub(?:\([^)]*\))?\s+)?(?:async|const|enum|fn|impl|mod|static|struct|trait|type|use)\b/;

/** The end of what begins there: its semicolon, the brace that closes it, or the comma after a field or a variant. */
function endOfItem(code, from) {
  const ends = ITEM_BEGINS.test(code.slice(from, from + 1000)) ? ';}' : ';},';
  let depth = 0;
  for (let at = from; at < code.length; at++) {
    if ('([{'.includes(code[at])) depth += 1;
    if (')]}'.includes(code[at])) depth -= 1;
    if (depth < 0) return at;
    if (depth === 0 && ends.includes(code[at])) return at + 1;
  }
  return code.length;
}

/** The code without what only tests have. */
function withoutTests(code) {
  const mark = '#[cfg(test)]';
  let out = '';
  let at = 0;
  for (let found; (found = code.indexOf(mark, at)) >= 0;) {
    const end = endOfItem(code, found + mark.length);
    out += code.slice(at, found) + code.slice(found, end).replace(/[^\n]/g, '');
    at = end;
  }
  return out + code.slice(at);
}

/** Every leaf of a tree of uses: its path, the name it has here, and where it stands. */
function leaves(tree, at, prefix = []) {
  const group = /^((?:\s*[\w$]+\s*::)*)\s*\{([^]*)\}\s*$/.exec(tree);
  if (!group) {
    const [path, alias] = tree.split(/\s+as\s+/);
    const parts = [
      ...prefix,
      ...path
        .split('::')
        .map((part) => part.trim())
        .filter(Boolean),
    ];
    if (parts.at(-1) === 'self') parts.pop();
    return parts.length === 0 ? [] : [{ path: parts, name: (alias ?? parts.at(-1)).trim(), at }];
  }
  const before = [
    ...prefix,
    ...group[1]
      .split('::')
      .map((part) => part.trim())
      .filter(Boolean),
  ];
  return branches(group[2]).flatMap((branch) => leaves(branch, at, before));
}

/** The parts between the commas that stand in no brace. */
function branches(text) {
  const parts = [''];
  let depth = 0;
  for (const character of text) {
    if (character === '{') depth += 1;
    if (character === '}') depth -= 1;
    if (character === ',' && depth === 0) parts.push('');
    else parts[parts.length - 1] += character;
  }
  return parts.filter((part) => part.trim() !== '');
}

const USE = /(?:^|[;{}\]]|\n)\s*(?:pub(?:\([^)]*\))?\s+)?use\s+([^;]+);/g;
const PATH = /(?<![\w$:.])\$?[A-Za-z_]\w*(?:\s*::\s*[A-Za-z_]\w*)+/g;

const lineAt = (code, at) => code.slice(0, at).split('\n').length;

function usesIn(code) {
  return [...code.matchAll(USE)].flatMap((found) => leaves(found[1], found.index + found[0].indexOf('use ')));
}

function pathsIn(code) {
  const others = code.replace(USE, (found) => found.replace(/[^\n]/g, ' '));
  return [...others.matchAll(PATH)].map((found) => ({
    path: found[0].split('::').map((part) => part.trim().replace('$', '')),
    at: found.index,
  }));
}

// ---- The tree of modules ----

const FACES = ['mod', 'lib', 'main'];
const ITEM = /\b(?:const\s+fn|fn|struct|enum|union|trait|type|const|static|macro_rules!)\s+(\w+)/g;

/** The module of a file, without its children: its place, what it defines, and what its code uses. */
function readModule(path, place, parent, onlyTests) {
  const code = withoutTests(bare(readFileSync(path, 'utf8')));
  const items = new Set([...code.matchAll(ITEM)].map((found) => found[1]));
  const module = { path, place, parent, onlyTests, code, items, children: new Map() };
  return Object.assign(module, { uses: usesIn(code), paths: pathsIn(code) });
}

/** The module of a folder, with its children: its files and folders. */
function readFolder(folder, face, place, parent, onlyTests) {
  const module = readModule(join(folder, face), place, parent, onlyTests);
  const tests = testModules(folder);
  for (const entry of readdirSync(folder, { withFileTypes: true })) {
    const name = entry.name.replace(/\.rs$/, '');
    if (entry.isFile() && (name === entry.name || FACES.includes(name))) continue;
    const [path, own, isTest] = [join(folder, entry.name), [...place, name], onlyTests || tests.has(name)];
    const child = entry.isDirectory()
      ? readFolder(path, 'mod.rs', own, module, isTest)
      : readModule(path, own, module, isTest);
    module.children.set(name, child);
  }
  return module;
}

/** The files and folders in a folder that only tests have. */
function testModules(folder) {
  const found = new Set();
  for (const name of readdirSync(folder).filter((name) => name.endsWith('.rs'))) {
    const text = readFileSync(join(folder, name), 'utf8');
    for (const [, path, module] of text.matchAll(/#\[cfg\(test\)\]\s*(?:#\[path = "(\w+)\.rs"\]\s*)?mod (\w+);/g)) {
      if (path) found.add(path);
      else if (FACES.includes(name.replace(/\.rs$/, ''))) found.add(module);
    }
  }
  return found;
}

/**
 * Where a path leads that is written in `from`: the module, and whether the path names all of it or something that is
 * defined in it. Nothing for what is not of this crate.
 */
function resolve(top, from, path, seen = new Set()) {
  if (['crate', crateName].includes(path[0])) return descend(top, top, path.slice(1), seen);
  if (path[0] === 'self') return descend(top, from, path.slice(1), seen);
  if (path[0] !== 'super') {
    const first = named(top, from, path[0], seen);
    return first?.whole ? descend(top, first.module, path.slice(1), seen) : first;
  }
  const up = path.findIndex((part) => part !== 'super');
  const rest = up < 0 ? [] : path.slice(up);
  let module = from;
  for (let left = path.length - rest.length; left > 0 && module; left--) module = module.parent;
  return module && descend(top, module, rest, seen);
}

function descend(top, module, rest, seen) {
  if (rest.length === 0) return { module, whole: true };
  const found = named(top, module, rest[0], seen) ?? { module, whole: false };
  return found.whole ? descend(top, found.module, rest.slice(1), seen) : found;
}

/** What a name stands for in a module: a child, something defined there, or where a `use` leads. */
function named(top, module, name, seen) {
  const mark = `${module.path} ${name}`;
  if (seen.has(mark)) return undefined;
  seen.add(mark);
  if (module.children.has(name)) return { module: module.children.get(name), whole: true };
  const use = module.uses.find((use) => use.name === name);
  if (use) return resolve(top, module, use.path, seen);
  if (module.items.has(name)) return { module, whole: false };
  for (const glob of module.uses.filter((use) => use.name === '*')) {
    const source = resolve(top, module, glob.path.slice(0, -1), seen);
    const found = source?.whole && named(top, source.module, name, seen);
    if (found) return found;
  }
  return undefined;
}

// ---- What needs what ----

function allModules(module) {
  return [module, ...[...module.children.values()].flatMap(allModules)];
}

/** Every need of a module: what it names, the module in which that is defined, and the line. */
function needsOf(top, module) {
  const needs = module.uses.map(({ path, at }) => {
    const to = resolve(top, module, path.at(-1) === '*' ? path.slice(0, -1) : path)?.module;
    return { to, what: `use ${path.join('::')}`, at };
  });
  for (const { path, at } of module.paths) {
    const to = resolve(top, module, path)?.module;
    // What a name that was taken in by a `use` leads to has been said there.
    const known = module.uses.find((use) => use.name === path[0]);
    const said = known && resolve(top, module, known.path)?.module === to;
    if (!said) needs.push({ to, what: path.join('::'), at });
  }
  const others = needs.filter(({ to }) => to && to !== module);
  return others.map(({ to, what, at }) => ({ from: module, to, what, line: lineAt(module.code, at) }));
}

const isWithin = (place, folder) => place.length > folder.length && folder.every((part, at) => part === place[at]);

/** The needs among a folder's children, by the two of them. */
function needsAmong(folder, needs) {
  const { place, children } = folder;
  const among = new Map();
  for (const need of needs) {
    if (!isWithin(need.from.place, place) || !isWithin(need.to.place, place)) continue;
    const [one, other] = [need.from.place[place.length], need.to.place[place.length]];
    if (one === other || (need.from.onlyTests && !children.get(other)?.onlyTests)) continue;
    if (!among.has(one)) among.set(one, new Map());
    const to = among.get(one);
    to.set(other, [...(to.get(other) ?? []), need]);
  }
  return among;
}

/** Everything that can be reached from a child. */
function reached(among, from) {
  const found = new Set();
  const open = [from];
  while (open.length > 0) {
    for (const next of among.get(open.pop())?.keys() ?? []) {
      if (!found.has(next)) open.push(next);
      found.add(next);
    }
  }
  return found;
}

/** The circles among a folder's children: each a list of those that reach each other. */
function circles(among) {
  const reach = new Map([...among.keys()].map((child) => [child, reached(among, child)]));
  const inOne = [...reach.keys()].filter((child) => reach.get(child).has(child)).sort();
  const groups = [];
  for (const child of inOne) {
    const group = groups.find(([first]) => reach.get(first).has(child) && reach.get(child).has(first));
    if (group) group.push(child);
    else groups.push([child]);
  }
  return groups;
}

function tell(folder, among, circle) {
  console.log(`A circle in ${folder.path.replace(/\/[^/]*$/, '')}: ${circle.join(', ')}.`);
  for (const one of circle) {
    for (const [other, needs] of among.get(one)) {
      if (!circle.includes(other)) continue;
      const lines = needs.map(
        ({ from, to, what, line }) => `  ${from.path}:${line} needs ${to.path} because of \`${what}\``,
      );
      for (const line of new Set(lines)) console.log(line);
    }
  }
}

const top = readFolder(root, 'lib.rs', [], undefined, false);
const modules = allModules(top);
const needs = modules.flatMap((module) => needsOf(top, module));
let wrong = 0;
for (const folder of modules.filter((module) => module.children.size > 0)) {
  const among = needsAmong(folder, needs);
  for (const circle of circles(among)) {
    tell(folder, among, circle);
    wrong = 1;
  }
}
process.exit(wrong);
