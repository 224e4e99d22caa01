// mutants.mjs TOP SEED COUNT: would the tests notice? Changes operators, constants and conditions in
// src/theory, src/notate, src/score and src/study one at a time, in a copy of the repository under
// build/mutants, builds it and runs the fast tests; prints each change that none of them noticed, and
// the share that was noticed. What changes nothing in the compiled program is left out.
import { execFileSync, spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { cpSync, existsSync, mkdirSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

const [top, seed, count] = [process.argv[2], process.argv[3] ?? '1', Number(process.argv[4] ?? 60)];
const copy = join(top, 'build/mutants/tree');
const built = join(top, 'build/mutants/plain');
const rooms = ['theory', 'notate', 'score', 'study'];
// Those that take longer than a few seconds, or look at other things than music.
const slow = '^(matrix-.*|pairs|harmony|verovio|bad_input|memory|mutate|rooms|threads|scales|consumer)$';

// What a mutant puts in the place of what it finds; every one of them is valid C.
const operators = [
  [/(?<=[\w)\]] )(<=|>=|<|>)(?= [-\w(&*])/g, (op) => ({ '<': '<=', '<=': '<', '>': '>=', '>=': '>' })[op]],
  [/(?<=[\w)\]'] )(==|!=)(?= )/g, (op) => (op === '==' ? '!=' : '==')],
  [/(?<=[\w)\]'] )(&&|\|\|)(?= |$)/gm, (op) => (op === '&&' ? '||' : '&&')],
  [/(?<=[\w)\]] )(\+|-)(?= [\w(])/g, (op) => (op === '+' ? '-' : '+')],
  [/\b(true|false)\b/g, (op) => (op === 'true' ? 'false' : 'true')],
  [/(?<=[(\s])!(?=[\w(])/g, () => ''],
  // A price is doubled, any other number is one more.
  [/(?<![\w.])\d+(?![\w.])/g, (op) => String(Number(op) >= 20 ? Number(op) * 2 : Number(op) + 1)],
];

// The code alone: comments, strings, characters and directives become blanks.
function bare(text) {
  return text.replace(/\/\*[^]*?\*\/|\/\/.*|"(?:\\.|[^"\\\n])*"|'(?:\\.|[^'\\\n])*'|^#(?:.*\\\n)*.*$/gm,
    (found) => found.replace(/[^\n]/g, ' '));
}

// What shows only when memory runs out is looked for by tests/fault, which is too slow for this.
const memory = /MUTA_E_MEMORY|alloc\(|take_array\(|MUTA_PUSH\(/;

function sitesOf(file) {
  const text = bare(readFileSync(join(copy, file), 'utf8')).split('\n').map((line) => (memory.test(line) ? ' '.repeat(line.length) : line)).join('\n');
  return operators.flatMap(([pattern, change]) => [...text.matchAll(pattern)].map((match) => (
    { file, at: match.index, is: match[0], becomes: change(match[0]), line: text.slice(0, match.index).split('\n').length })));
}

const rank = (site) => createHash('sha256').update(`${seed} ${site.file} ${site.at} ${site.is}`).digest('hex');

function run(command, words) {
  return spawnSync(command, words, { encoding: 'utf8', timeout: 400000, env: { ...process.env, MUTA_TOP: copy } });
}

const build = () => run('cmake', ['--build', built, '-j', '2']).status === 0;
// What does not end any more is ended by the system, with all that it started.
const passes = () => run('sh', ['-c', 'ulimit -t 150; exec "$@"', 'sh', 'ctest', '--test-dir', built, '-j', '2', '-E', slow, '--stop-on-failure', '--timeout', '150']).status === 0;

rmSync(copy, { recursive: true, force: true });
mkdirSync(copy, { recursive: true });
for (const name of readdirSync(top))
  if (!name.startsWith('.') && name !== 'build')
    cpSync(join(top, name), join(copy, name), { recursive: true, filter: (from) => !from.includes('node_modules') });
if (existsSync(join(top, 'tests/node_modules'))) symlinkSync(join(top, 'tests/node_modules'), join(copy, 'tests/node_modules'));
execFileSync('cmake', ['-S', copy, '-B', built, '-DMUTA_TESTS=ON', '-DCMAKE_BUILD_TYPE=Debug', '-DMUTA_MODE=asan', '-DCMAKE_C_FLAGS=-w -O1'], { stdio: 'ignore' });
if (!build() || !passes()) {
  console.log('the tests do not pass as it is');
  process.exit(1);
}

const sites = rooms.flatMap((room) => readdirSync(join(copy, 'src', room)).filter((name) => name.endsWith('.c'))
  .flatMap((name) => sitesOf(`src/${room}/${name}`)))
  .map((site) => ({ ...site, rank: rank(site) })).sort((a, b) => (a.rank < b.rank ? -1 : 1));
const seen = { noticed: 0, missed: 0, unbuilt: 0, same: 0 };

// What a compiler makes of a file. A change that leaves this as it was is none: no test could tell it
// from what it replaces.
const said = JSON.parse(readFileSync(join(built, 'compile_commands.json'), 'utf8'));
function machineCode(path) {
  const words = said.find((entry) => entry.file === path).command.split(' ');
  const seen = words.flatMap((word, i) => (/^-[ID]./.test(word) ? [word.replaceAll('\\"', '"')] : word === '-isystem' ? ['-isystem', words[i + 1]] : []));
  return run('cc', ['-std=c17', '-O2', '-w', ...seen, '-S', '-o', '-', path]).stdout;
}

for (const site of sites) {
  if (seen.noticed + seen.missed === count) break;
  const path = join(copy, site.file);
  const text = readFileSync(path, 'utf8');
  const before = machineCode(path);
  writeFileSync(path, text.slice(0, site.at) + site.becomes + text.slice(site.at + site.is.length));
  const fate = machineCode(path) === before ? 'same' : !build() ? 'unbuilt' : passes() ? 'missed' : 'noticed';
  seen[fate]++;
  if (fate === 'missed')
    console.log(`not noticed: ${site.file}:${site.line}: ${site.is || '!'} -> ${site.becomes || 'nothing'}: ${text.split('\n')[site.line - 1].trim()}`);
  writeFileSync(path, text);
}
console.log(`${seen.noticed} of ${seen.noticed + seen.missed} changes noticed (${Math.round((100 * seen.noticed) / Math.max(1, seen.noticed + seen.missed))} %), of ${sites.length} possible ones; ${seen.unbuilt} more did not build, ${seen.same} left the program as it was; seed ${seed}`);
