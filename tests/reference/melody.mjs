// melody.mjs MUTANZA [all]: divisions and ornaments held against what they were made of, on real
// tunes: the skeleton that comes back from a division, read anew from its file; the chords that
// are heard under a divided and an embellished tune; and, on themes with their composer's own
// variations, what figures do in his and in ours. Prints; fails below nine in ten.
import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { tmpdir } from 'node:os';

const mutanza = process.argv[2];
const every = process.argv[3] === 'all' ? 1 : 6;
const corpus = (process.env.MUTA_CORPUS ?? '').split(':').find((at) => existsSync(join(at, 'songs-labelled')));
if (!corpus) {
  console.log('0 passed, 0 failed, 1 skipped: the corpora are not there');
  process.exit(77);
}
const folder = mkdtempSync(join(tmpdir(), 'melody-'));
const walk = (at) => readdirSync(at, { withFileTypes: true }).flatMap((entry) =>
  entry.isDirectory() ? walk(join(at, entry.name)) : /\.(mxl|musicxml|xml)$/.test(entry.name) ? [join(at, entry.name)] : []);
const run = (...words) => execFileSync(mutanza, words, { encoding: 'utf8', maxBuffer: 1 << 28, stdio: ['ignore', 'pipe', 'ignore'] });
const study = (file, ...words) => JSON.parse(run('study', file, '--json', ...words));

// Varies, and takes out what the file says of where it comes from.
function varied(file, name, ...passes) {
  const out = join(folder, name);
  run('vary', file, ...passes, '-o', out);
  writeFileSync(out, readFileSync(out, 'utf8').replace(/<miscellaneous>[\s\S]*?<\/miscellaneous>/, ''));
  return out;
}

const address = (answer) => answer.tune.addresses.map((one) => one.replace(/:.*/, '')).sort((a, b) =>
  answer.tune.addresses.filter((of) => of.startsWith(b)).length - answer.tune.addresses.filter((of) => of.startsWith(a)).length)[0];

// The attacks of a part, as `onset pitch`, in quarters from its start. Our own output has no
// comments or odd spaces inside notes.
function attacks(file, part) {
  const text = readFileSync(file, 'utf8').split(/<part /)[part];
  const leaf = (node, name) => new RegExp(`<${name}[^>]*>([^<]*)</${name}>`).exec(node)?.[1];
  const found = [];
  let start = 0, divisions = 1;
  for (const bar of text.split('<measure ').slice(1)) {
    let at = 0, longest = 0, last = 0;
    for (const [node, name] of bar.matchAll(/<(note|backup|forward|attributes)\b[^>]*>[\s\S]*?<\/\1>/g)) {
      if (name === 'attributes') divisions = Number(leaf(node, 'divisions') ?? divisions);
      const lasts = Number(leaf(node, 'duration') ?? 0) / divisions;
      if (name === 'backup') at -= lasts;
      if (name === 'forward') at += lasts;
      if (name !== 'note' || /<grace/.test(node)) continue;
      const chord = /<chord\/>/.test(node);
      if (/<pitch>/.test(node) && !/<tie type="stop"/.test(node))
        found.push(`${(start + (chord ? last : at)).toFixed(5)} ${leaf(node, 'step')}${leaf(node, 'alter') ?? ''}${leaf(node, 'octave')}`);
      if (chord) continue;
      last = at;
      at += lasts;
      longest = Math.max(longest, at);
    }
    start += longest;
  }
  return found;
}

// How much of the time two studies hear one chord.
function chordsAlike(theme, other) {
  let same = 0, all = 0;
  for (const one of theme.chords)
    for (const two of other.chords) {
      const lasts = Math.min(one.end, two.end) - Math.max(one.onset, two.onset);
      if (lasts <= 0) continue;
      all += lasts;
      if (one.root === two.root && one.kind === two.kind) same += lasts;
    }
  return [same, all];
}

const sums = {};
function add(name, [share, all]) {
  sums[name] ??= [0, 0, 0];
  sums[name][0] += share;
  sums[name][1] += all;
  sums[name][2]++;
}

const songs = walk(join(corpus, 'songs-labelled')).sort();
songs.forEach((song, nth) => {
  if (nth % every) return;
  const theme = study(song);
  const tune = address(theme);
  const divided = varied(song, 'divided.musicxml', 'divide', `where=${tune}`);
  const skeleton = study(song, '--tune', tune).skeleton;
  const back = study(divided, '--tune', tune).skeleton;
  const has = new Set(back.map((tone) => `${tone.onset} ${tone.pitch}`));
  add('skeleton that comes back from divide', [skeleton.filter((tone) => has.has(`${tone.onset} ${tone.pitch}`)).length, skeleton.length]);
  // The tones that simplify leaves: all of them, and those on beats, which is more to ask.
  for (const depth of ['1', '2']) {
    const simple = varied(song, 'simple.musicxml', 'simplify', `depth=${depth}`, `where=${tune}`);
    const simpler = varied(divided, 'simpler.musicxml', 'simplify', `depth=${depth}`, `where=${tune}`);
    const kept = new Set(attacks(simpler, parseInt(tune, 10)));
    const wanted = attacks(simple, parseInt(tune, 10));
    add(depth === '1' ? 'tones that simplify gives back from divide' : 'the same on beats, depth=2 (printed only)',
      [wanted.filter((tone) => kept.has(tone)).length, wanted.length]);
  }
  add('chords under divide', chordsAlike(theme, study(divided)));
  add('chords under embellish', chordsAlike(theme, study(varied(song, 'embellished.musicxml', 'embellish', `where=${tune}`))));
  add('chords under simplify', chordsAlike(theme, study(varied(song, 'simplified.musicxml', 'simplify', `where=${tune}`))));
});
// Figures in real variations, and in ours on the same themes.
const figures = { theme: [], theirs: [], ours: [] };
function figure(name, file) {
  const { profile, nonchord, tune } = study(file);
  const end = Math.max(...study(file).chords.map((chord) => chord.end), 1);
  figures[name].push({ notes: profile.notes_per_quarter, step: profile.mean_step_semitones, foreign: nonchord.filter((tone) => Number.isInteger(tone.onset)).length / end });
}
const tavern = walk(join(corpus, 'tavern')).filter((file) => file.endsWith('.musicxml')).sort();
for (const file of tavern) {
  const [, set, variation, segment] = /(M\d+)_(\d\d)_(\d\d[a-z])/.exec(file) ?? [];
  if (variation !== '00') continue;
  figure('theme', file);
  figure('ours', varied(file, 'tavern.musicxml', 'divide'));
  tavern.filter((one) => one.includes(`${set}_`) && one.includes(`_${segment}`) && !one.includes('_00_')).slice(0, 4).forEach((one) => figure('theirs', one));
}
const mean = (rows, name) => (rows.reduce((sum, row) => sum + row[name], 0) / rows.length).toFixed(2);
for (const [name, rows] of Object.entries(figures))
  if (rows.length)
    console.log(`${name === 'theirs' ? "the composer's own variations" : name === 'ours' ? 'themes divided by us' : 'themes'} (${rows.length} phrases): ${mean(rows, 'notes')} notes a quarter, a step of ${mean(rows, 'step')} semitones on average, ${mean(rows, 'foreign')} foreign tones on each beat, in all voices`);

let failed = 0, passed = 0;
for (const [name, [share, all, count]] of Object.entries(sums)) {
  const printed = name.endsWith('(printed only)');
  const good = printed || share >= 0.9 * all;
  if (good) passed += !printed; else failed++;
  console.log(`${good ? '' : 'FAILED '}${name}: ${(100 * share / all).toFixed(1)} % of ${count} songs`);
}
rmSync(folder, { recursive: true });
console.log(`${passed} passed, ${failed} failed, 0 skipped`);
process.exit(failed ? 1 : 0);
