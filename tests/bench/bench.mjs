// bench.mjs BUILD MEASURE: time and memory beside `xmllint --format` on the same file, in one run.
// The two take turns, so that what else the machine does falls on both; a ratio is the median of
// those of the turns. Nothing fails by the clock. The scores are real ones, their bars said again
// until they are large enough.
import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

const build = process.argv[2];
const program = join(build, 'mutanza');
const measure = process.argv[3];
const folder = mkdtempSync(join(existsSync('/dev/shm') ? '/dev/shm' : '/tmp', 'bench-'));
const corpus = process.env.MUTA_CORPUS.split(':').find((at) => existsSync(join(at, 'quartets')));
const tune = join(process.env.MUTA_TOP, 'fixtures/lanterns.musicxml');

// The bars of each part as often as it takes to reach `bytes`.
function grown(xml, bytes) {
  const times = Math.max(1, Math.round(bytes / xml.length));
  let number = 0;
  return xml.replace(/(<part id=[^>]*>)([\s\S]*?)(<\/part>)/g, (_, open, bars, close) => {
    number = 0;
    const all = Array.from({ length: times }, () => bars).join('');
    return open + all.replace(/<measure number="[^"]*"/g, () => `<measure number="${++number}"`) + close;
  });
}

const turns = 9;
const median = (numbers) => numbers.toSorted((a, b) => a - b)[numbers.length >> 1];

function once(command) {
  const [time, memory] = execFileSync(measure, command, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'ignore'] }).split(' ').map(Number);
  return { time, memory };
}

const summed = (tries) => ({ time: median(tries.map((one) => one.time)), memory: Math.min(...tries.map((one) => one.memory)) });
const run = (...command) => summed(Array.from({ length: turns }, () => once(command)));

// Our command beside another one, turn by turn.
function beside(other, ...command) {
  const pairs = Array.from({ length: turns }, () => [once(other), once(command)]);
  return { ...summed(pairs.map(([, ours]) => ours)), other: summed(pairs.map(([theirs]) => theirs)), ratio: median(pairs.map(([theirs, ours]) => ours.time / theirs.time)) };
}

// Real scores of 1 and 2 MB, and the demo tune for what is smaller, or where they are not there.
function sources() {
  const scores = corpus ? ['songs/Schubert-4-Erstarrung.mxl', 'quartets/Mayer-String-Quartet-in-G-minor-Op-14.mxl'] : [];
  const file = join(folder, 'source.musicxml');
  return [readFileSync(tune, 'utf8'), ...scores.map((score) => {
    execFileSync(program, ['vary', join(corpus, score), '-o', file], { stdio: 'ignore' });
    return readFileSync(file, 'utf8');
  })];
}

const empty = join(folder, 'empty.musicxml');
writeFileSync(empty, '<score-partwise><part-list><score-part id="P1"><part-name/></score-part></part-list><part id="P1"><measure number="1"><note><rest/><duration>4</duration></note></measure></part></score-partwise>');
const nothing = run(program, 'vary', empty).memory;
const xmls = sources();
console.log('|     size |   xmllint | identity, ratio | transpose, ratio | memory a byte: identity, transpose |');
console.log('| --- | --- | --- | --- | --- |');
for (const bytes of [1e5, 1e6, 1.1e7, 1e8]) {
  const file = join(folder, 'score.musicxml');
  writeFileSync(file, grown(xmls.findLast((xml) => xml.length < bytes * 1.1) ?? xmls[0], bytes));
  const size = readFileSync(file).length;
  const lint = ['xmllint', '--format', file];
  const identity = beside(lint, program, 'vary', file, '--quiet');
  const transpose = beside(lint, program, 'vary', file, 'transpose', 'by=M2', '--quiet');
  const row = [
    `${(size / 1e6).toFixed(2)} MB`, `${identity.other.time.toFixed(1)} ms`,
    `${identity.time.toFixed(1)} ms, ${identity.ratio.toFixed(2)}`,
    `${transpose.time.toFixed(1)} ms, ${transpose.ratio.toFixed(2)}`,
    `${((identity.memory - nothing) / size).toFixed(2)}, ${((transpose.memory - nothing) / size).toFixed(2)}`,
  ];
  console.log(`| ${row.join(' | ')} |`);
}

// Every pass over everything: what lengthens the score is measured against xmllint on its own output,
// and its memory against input and output together.
const passes = JSON.parse(execFileSync(program, ['passes', '--json'], { encoding: 'utf8' })).map((pass) => pass.name);
const more = { sequence: ['times=2'], fragment: ['times=2'] };
console.log('\n| pass | 1 MB: ratio, memory a byte | 10 MB |');
console.log('| --- | --- | --- |');
const cells = Object.fromEntries(passes.map((pass) => [pass, []]));
for (const bytes of [1e6, 1.1e7]) {
  const file = join(folder, 'score.musicxml');
  const out = join(folder, 'out.musicxml');
  writeFileSync(file, grown(xmls.findLast((xml) => xml.length < bytes * 1.1) ?? xmls[0], bytes));
  const size = readFileSync(file).length;
  for (const pass of passes) {
    const words = [pass, ...(more[pass] ?? []), 'where=*'];
    try {
      execFileSync(program, ['vary', file, ...words, '-o', out, '--quiet'], { stdio: 'ignore' });
    } catch {
      cells[pass].push('refused');
      continue;
    }
    const length = readFileSync(out).length;
    const longer = length > size * 1.2;
    const mine = beside(['xmllint', '--format', longer ? out : file], program, 'vary', file, ...words, '--quiet');
    cells[pass].push(`${mine.ratio.toFixed(2)}, ${((mine.memory - nothing) / (longer ? size + length : size)).toFixed(2)}`);
  }
}
for (const pass of passes) console.log(`| ${pass} | ${cells[pass].join(' | ')} |`);

// A tune of sixteen bars, whole process.
const short = join(folder, 'tune.musicxml');
writeFileSync(short, grown(readFileSync(tune, 'utf8'), readFileSync(tune).length * 2));
const noout = run('xmllint', '--noout', short);
const slowest = passes.map((pass) => [run(program, 'vary', short, pass, ...(pass === 'timbre' ? ['where=Clarinet'] : []), '--quiet').time, pass]).sort((a, b) => b[0] - a[0])[0];
console.log(`\na tune of 16 bars: xmllint --noout ${noout.time.toFixed(1)} ms, the slowest pass (${slowest[1]}) ${slowest[0].toFixed(1)} ms`);

// Passes that search: how their time grows with the tune.
console.log('\n| bars of the tune | ' + ['divide', 'embellish', 'mode to=major-pentatonic', 'reharmonise', 'reharmonise pick=8', 'realise', 'realise as=chorale into=new'].join(' | ') + ' |\n| --- | --- | --- | --- | --- | --- | --- | --- |');
for (const bars of [16, 32, 64, 256, 1024]) {
  const file = join(folder, 'growing.musicxml');
  const xml = readFileSync(tune, 'utf8');
  writeFileSync(file, grown(xml, xml.length * bars / 8));
  const times = [['divide'], ['embellish'], ['mode', 'to=major-pentatonic'], ['reharmonise'], ['reharmonise', 'pick=8'], ['realise'], ['realise', 'as=chorale', 'into=new']].map((words) => run(program, 'vary', file, ...words, '--quiet').time);
  console.log(`| ${bars} | ${times.map((time) => `${time.toFixed(1)} ms`).join(' | ')} |`);
}

// Study, beside xmllint formatting the same file three times over.
const longer = join(folder, 'tune-32.musicxml');
writeFileSync(longer, grown(readFileSync(tune, 'utf8'), readFileSync(tune).length * 4));
console.log(`a tune of 32 bars: study ${run(program, 'study', longer).time.toFixed(1)} ms`);
console.log('\n| size | bars | xmllint, three times | study, ratio | memory a byte |\n| --- | --- | --- | --- | --- |');
for (const bytes of [1e6, 1.1e7, 4.4e7]) {
  const file = join(folder, 'score.musicxml');
  writeFileSync(file, grown(xmls.findLast((xml) => xml.length < bytes * 1.1) ?? xmls[0], bytes));
  const text = readFileSync(file, 'utf8');
  const bars = text.split('<measure ').length - 1, parts = text.split('<part ').length - 1;
  const mine = beside(['xmllint', '--format', file], program, 'study', file);
  console.log(`| ${(text.length / 1e6).toFixed(2)} MB | ${bars / parts} of ${parts} parts | ${(3 * mine.other.time).toFixed(0)} ms | ${mine.time.toFixed(0)} ms, ${(mine.ratio / 3).toFixed(2)} | ${((mine.memory - nothing) / text.length).toFixed(2)} |`);
}
rmSync(folder, { recursive: true });
