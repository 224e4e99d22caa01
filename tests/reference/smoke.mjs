// smoke.mjs MUTANZA VOICES MEANT: what the other programs of this folder run, over one score of each
// kind and without their figures: nothing may break. Meant for a build that watches memory.
import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const [, , mutanza, voices, meant] = process.argv;
const top = process.env.MUTA_TOP ?? '.';
const corpus = join(top, '../shared/corpus');
const folder = mkdtempSync(join(tmpdir(), 'smoke-'));
const out = join(folder, 'out.musicxml');
const lines = ['realise', 'realise as=chorale', 'reharmonise', 'reharmonise stray=1', 'chords numerals=yes',
  'ground', 'pace', 'pedal', 'divide', 'embellish', 'simplify', 'simplify then divide', 'retrograde then augment'];
let passed = 0, failed = 0, skipped = 0;

const run = (...words) => {
  try {
    execFileSync(words[0], words.slice(1), { stdio: ['ignore', 'pipe', 'pipe'], maxBuffer: 1 << 28 });
    passed++;
  } catch (error) {
    failed++;
    console.log(`FAILED ${words.slice(1).join(' ')}: ${error.status} ${String(error.stderr).slice(0, 2000)}`);
  }
};

const scores = [join(top, 'fixtures/lanterns.musicxml'), join(top, 'fixtures/ferry.musicxml')];
for (const kind of ['songs', 'songs-labelled', 'textbook', 'chorales', 'tavern']) {
  const at = join(corpus, kind);
  if (!existsSync(at)) skipped++;
  else scores.push(join(at, readdirSync(at, { recursive: true }).map(String).filter((name) => /\.(mxl|musicxml)$/.test(name)).sort()[0]));
}
for (const score of scores) {
  run(mutanza, 'study', score, '--json');
  run(mutanza, 'study', score);
  for (const line of lines) {
    run(mutanza, 'vary', score, ...line.split(' '), '-o', out);
    if (line === 'realise as=chorale') run(voices, out);
  }
}
process.env.MUTA_CORPUS = join(top, 'fixtures');
run(meant, folder);
rmSync(folder, { recursive: true });
console.log(`${passed} passed, ${failed} failed, ${skipped} skipped`);
process.exit(failed ? 1 : 0);
