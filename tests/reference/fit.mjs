// fit.mjs MODE [FOLD] [EPOCHS]: finds the weights of shared/hearing.txt from the labelled scores of
// ../shared/corpus. `fit.mjs all` learns from all of them and writes the table; `fit.mjs folds` learns
// from three of four folds by work and hears the fourth, four times over, and prints the figures.
import { execFileSync, spawn } from 'node:child_process';
import { copyFileSync, existsSync, mkdirSync, openSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { basename, dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

const top = resolve(dirname(fileURLToPath(import.meta.url)), '../..');
const corpus = join(top, '../shared/corpus');
const work = join(top, 'build/fit');
const kinds = ['major', 'minor', 'dominant', 'diminished', 'diminished-seventh', 'half-diminished', 'minor-seventh', 'major-seventh', 'augmented', 'Italian', 'German', 'French'];
const ninths = { 'dominant-ninth': 'dominant', 'major-ninth': 'major-seventh', 'minor-ninth': 'minor-seventh', 'dominant-11th': 'dominant', 'dominant-13th': 'dominant', 'major-sixth': 'major', 'minor-sixth': 'minor' };
const steps = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };
const count = (text, mark) => text.split(mark).length - 1;
const classOf = (name) => ((steps[name[0].toUpperCase()] + count(name, '#') + 2 * count(name, 'x') - count(name.slice(1), 'b') - count(name, '-')) % 12 + 12) % 12;

function lines(file) {
  return JSON.parse(readFileSync(file, 'utf8')).labels.filter((label) => label.root && label.duration > 0).map((label) => {
    const [tonic, mode] = (label.key ?? '').split(' ');
    const key = tonic ? classOf(tonic) + ((mode ?? (tonic[0] === tonic[0].toLowerCase() ? 'minor' : 'major')) === 'minor' ? 12 : 0) : -1;
    return `L ${label.onset} ${label.onset + label.duration} ${classOf(label.root)} ${kinds.indexOf(ninths[label.kind] ?? label.kind)} ${classOf(label.bass ?? label.root)} ${key}`;
  });
}

// Every score with labels: its corpus, its work, its files.
function* scores() {
  for (const folder of readdirSync(join(corpus, 'tavern'), { withFileTypes: true }).filter((entry) => entry.isDirectory()).map((entry) => entry.name).sort())
    for (const name of readdirSync(join(corpus, 'tavern', folder)).filter((file) => file.endsWith('.musicxml')).sort()) {
      const stem = join(corpus, 'tavern', folder, name.slice(0, -9));
      yield ['tavern', name.split('_')[0], `${stem}.musicxml`, [`${stem}.a.json`, `${stem}.b.json`].filter(existsSync)];
    }
  for (const folder of ['songs-labelled', 'textbook', 'chorales'])
    for (const name of readdirSync(join(corpus, folder)).filter((file) => file.endsWith('.mxl')).sort()) {
      const stem = join(corpus, folder, name.slice(0, -4));
      yield [folder, folder === 'songs-labelled' ? name.split('-')[0] : name, `${stem}.mxl`, [`${stem}.json`].filter(existsSync)];
    }
}

function writeLabels(file) {
  const folds = new Map(), counts = {}, out = [], places = [];
  for (const [from, piece, path, labels] of scores()) {
    if (labels.length === 0) continue;
    const key = `${from} ${piece}`;
    if (!folds.has(key)) folds.set(key, (counts[from] = (counts[from] ?? -1) + 1) % 4);
    // What keeps one key says nothing of keys.
    const told = labels.map((label) => lines(label).map((line) => (from === 'tavern' ? line.replace(/ -?\d+$/, ' -1') : line)));
    out.push(`P ${from} ${folds.get(key)} ${path}`, ...told.flatMap((rows) => ['W', ...rows]), 'E');
    places.push({ from, fold: folds.get(key), path, labels });
  }
  writeFileSync(file, `${out.join('\n')}\n`);
  return places;
}

const build = (mode, target) => execFileSync('sh', ['-c', `cmake -S "${top}" -B "${work}/${mode}" -G Ninja -DMUTA_MODE=plain -DMUTA_TESTS=ON -DCMAKE_C_FLAGS=-O3 >/dev/null && cmake --build "${work}/${mode}" --target ${target} >/dev/null`]);

function learn(fold, epochs, to) {
  return new Promise((done) => {
    const out = openSync(to, 'w');
    spawn(join(work, 'learn/tests/fit'), [join(work, 'labels.txt'), 'fit', String(fold), String(epochs)], { stdio: ['ignore', out, 'ignore'] }).on('close', done);
  });
}

// Shares of time, as hear.py counts them.
function hear(table, places, name) {
  const folder = join(work, 'heard', name);
  for (const { from, path } of places) {
    mkdirSync(join(folder, from), { recursive: true });
    try {
      writeFileSync(join(folder, from, `${basename(path).replace(/\.(mxl|musicxml)$/, '')}.json`), execFileSync(join(work, 'learn/mutanza'), ['study', '--json', path], { maxBuffer: 1 << 28, stdio: ['ignore', 'pipe', 'ignore'] }));
    } catch { console.log(`not heard: ${path}`); }
  }
}

const [mode = 'folds', epochs = '6'] = process.argv.slice(2);
if (!existsSync(corpus)) { console.log('skipped: no corpus'); process.exit(77); }
mkdirSync(work, { recursive: true });
build('learn', 'fit mutanza');
const places = writeLabels(join(work, 'labels.txt'));
const table = join(top, 'shared/hearing.txt');
rmSync(join(work, 'heard'), { recursive: true, force: true });
if (mode === 'labels') process.exit(0);
if (mode === 'all') {
  await learn(-1, epochs, join(work, 'all.txt'));
  copyFileSync(join(work, 'all.txt'), table);
} else {
  const kept = readFileSync(table);
  for (const pair of [[0, 1], [2, 3]]) await Promise.all(pair.map((fold) => learn(fold, epochs, join(work, `fold-${fold}.txt`))));
  for (let fold = 0; fold < 4; fold++) {
    copyFileSync(join(work, `fold-${fold}.txt`), table);
    build('learn', 'mutanza');
    hear(table, places.filter((place) => place.fold === fold), 'folds');
  }
  writeFileSync(table, kept);
  for (const from of ['tavern', 'songs-labelled', 'textbook', 'chorales']) {
    // Scores without an answer count as wrong: all folds have one.
    const page = execFileSync('python3', [join(corpus, 'hear.py'), join(corpus, from), join(work, 'heard/folds', from)], { encoding: 'utf8', maxBuffer: 1 << 26 });
    console.log(`${from}\n${page.split('\n').filter((line, i) => i < 2 || line.startsWith('| all')).join('\n')}`);
  }
}
