// harmony.mjs MUTANZA VOICES: chords of the textbook examples realised over their bass and under
// their tune, held against the masters' own by the same rules of part-writing; and chords of songs
// realised, written, and heard again. Prints a table; fails where ours break more rules than theirs.
import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const [, , mutanza, voices] = process.argv;
const corpus = join(process.env.MUTA_TOP, '../shared/corpus');
if (!existsSync(corpus)) { console.log('skipped: no corpus'); process.exit(77); }
const folder = mkdtempSync(join(tmpdir(), 'harmony-'));
let passed = 0, failed = 0;
function check(good, what) { if (good) passed++; else { failed++; console.log(`FAILED ${what}`); } }

const letters = { F: -1, C: 0, G: 1, D: 2, A: 3, E: 4, B: 5 };
const fifthsOf = (name) => letters[name[0].toUpperCase()] + 7 * (name.split('#').length - 1 + 2 * (name.split('x').length - 1) - (name.slice(1).split('b').length - 1) - (name.split('-').length - 1));
const stepOf = (fifths) => { const order = ['F', 'C', 'G', 'D', 'A', 'E', 'B']; const place = fifths + 1; const letter = ((place % 7) + 7) % 7; return { step: order[letter], alter: (place - letter) / 7 }; };
function fraction(value) { for (const bottom of [1, 2, 3, 4, 6, 8, 12, 16, 24, 48]) if (Math.abs(value * bottom - Math.round(value * bottom)) < 1e-6) return [Math.round(value * bottom), bottom]; return [Math.round(value * 960), 960]; }

const run = (args, input) => execFileSync(args[0], args.slice(1), { encoding: 'utf8', input: input ?? '', maxBuffer: 1 << 28, stdio: ['pipe', 'pipe', 'ignore'] });

const study = (file) => JSON.parse(run([mutanza, 'study', file, '--json']));

// What sounds at each label of a score, and the breaches of the rules.
function judge(file, labels) {
  const lines = labels.map((label) => `${fraction(label.onset).join('/')} ${fifthsOf(label.root)} ${fifthsOf(label.key.split(' ')[0])} ${label.kind}`).join('\n');
  const out = run([voices, file], lines + '\n').split('\n');
  const heard = out.filter((line) => line.startsWith('voices')).map((line) => line.split(' ').slice(2).map(Number));
  return { heard, pairs: out.filter((line) => line === 'pair').length, faults: out.filter((line) => line.startsWith('fault')).map((line) => line.slice(6)) };
}

const spell = (midi, tones) => { const found = tones.map((tone) => ({ tone, fifths: fifthsOf(tone) })).find(({ fifths }) => ((fifths * 7 % 12) + 12) % 12 === midi % 12); const { step, alter } = stepOf(found ? found.fifths : [0, 7, 2, -3, 4, -1, 6, 1, 8, 3, -2, 5][midi % 12]); const natural = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 }[step]; return { step, alter, octave: Math.round((midi - natural - alter) / 12) - 1 }; };

// One line of one note a chord, under its symbols.
function lineOf(labels, notes, clef) {
  const bars = labels.map((label, i) => {
    const root = stepOf(fifthsOf(label.root)), bass = stepOf(fifthsOf(label.bass)), note = spell(notes[i], label.tones);
    const duration = Math.round(label.duration * 48);
    const attributes = i === 0 ? `<attributes><divisions>48</divisions><key><fifths>0</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time><clef><sign>${clef === 'F' ? 'F' : 'G'}</sign><line>${clef === 'F' ? 4 : 2}</line></clef></attributes>` : '';
    const alter = (name, value) => (value ? `<${name}>${value}</${name}>` : '');
    const low = label.bass !== label.root ? `<bass><bass-step>${bass.step}</bass-step>${alter('bass-alter', bass.alter)}</bass>` : '';
    return `<measure number="${i + 1}">${attributes}<harmony><root><root-step>${root.step}</root-step>${alter('root-alter', root.alter)}</root><kind>${label.kind}</kind>${low}</harmony><note><pitch><step>${note.step}</step>${alter('alter', note.alter)}<octave>${note.octave}</octave></pitch><duration>${duration}</duration><voice>1</voice></note></measure>`;
  });
  return `<?xml version="1.0"?><score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Line</part-name></score-part></part-list><part id="P1">${bars.join('\n')}</part></score-partwise>`;
}

const book = join(corpus, 'textbook');
const names = readdirSync(book).filter((name) => name.endsWith('.json')).map((name) => name.slice(0, -5));
const sums = {};
function count(who, judged) {
  const sum = (sums[who] ??= { pairs: 0, faults: {} });
  sum.pairs += judged.pairs;
  for (const fault of judged.faults) { const name = fault.replace(/ at .*/, ''); sum.faults[name] = (sum.faults[name] ?? 0) + 1; }
}
const agree = { 'over the bass': [], 'under the tune': [] };
const listed = process.env.LIST;
for (const name of names) {
  const labels = JSON.parse(readFileSync(join(book, `${name}.json`), 'utf8')).labels;
  if (labels.some((label) => !label.root || !label.bass || label.kind === 'other' || label.kind === 'power')) continue;
  const masters = judge(join(book, `${name}.mxl`), labels);
  count('masters', masters);
  if (listed) for (const fault of masters.faults) console.log(`${name}: ${fault}`);
  if (masters.heard.some((at) => at.length !== 4)) continue;
  // The lines begin at 0 and leave no gaps.
  let at = 0;
  const own = labels.map((label) => { const onset = at; at += label.duration; return { ...label, onset }; });
  for (const [who, pick, clef] of [['over the bass', 0, 'F'], ['under the tune', 3, 'G']]) {
    const file = join(folder, `${name}.musicxml`), out = join(folder, `${name}.out.musicxml`);
    writeFileSync(file, lineOf(own, masters.heard.map((chord) => chord[pick]), clef));
    run([mutanza, 'vary', file, 'realise', 'as=chorale', 'into=new', `given=${clef === 'F' ? 'bass' : 'tune'}`, '-o', out]);
    const ours = judge(out, own);
    if (listed) for (const fault of ours.faults) console.log(`${name} ${who}: ${fault}`);
    count(who, ours);
    if (pick === 3) {
      run([mutanza, 'vary', file, 'reharmonise', 'then', 'realise', 'as=chorale', 'into=new', 'given=tune', '-o', out]);
      count('other chords under the tune', judge(out, study(out).chords.filter((chord) => chord.root && chord.key)));
    }
    ours.heard.forEach((chord, i) => agree[who].push(chord.length === 4 ? chord.map((tone, voice) => tone === masters.heard[i][voice]) : [false, false, false, false]));
  }
}
const total = (who) => Object.values(sums[who].faults).reduce((a, b) => a + b, 0) * 100 / sums[who].pairs;
for (const who of Object.keys(sums)) console.log(`${who}: ${sums[who].pairs} pairs of chords, ${total(who).toFixed(1)} faults a hundred: ${JSON.stringify(sums[who].faults)}`);
for (const [who, rows] of Object.entries(agree)) console.log(`${who}: the master's own tone in bass, tenor, alto, soprano: ${[0, 1, 2, 3].map((voice) => (100 * rows.filter((row) => row[voice]).length / rows.length).toFixed(1)).join(', ')} % of ${rows.length}`);
for (const who of ['over the bass', 'under the tune', 'other chords under the tune']) check(total(who) <= total('masters'), `${who}: more faults than the masters`);

// ---- realised chords, heard again from the file without its symbols ----

const withoutSymbols = (file) => writeFileSync(file, readFileSync(file, 'utf8').replace(/<harmony[\s\S]*?<\/harmony>/g, ''));
const kindOf = (kind) => ({ 'dominant-ninth': 'dominant', 'major-ninth': 'major-seventh', 'minor-ninth': 'minor-seventh', 'major-sixth': 'major', 'minor-sixth': 'minor' })[kind] ?? kind;
const classOf = (name) => (((fifthsOf(name) * 7) % 12) + 12) % 12;
// The share of the time in which two rows of chords agree: in root and kind, and in the bass too.
function share(asked, heard, seen) {
  for (const one of asked) {
    const end = one.end ?? one.onset + one.duration;
    const cuts = [one.onset, end, ...heard.flatMap((h) => [h.onset, h.end]).filter((at) => at > one.onset && at < end)].sort((a, b) => a - b);
    for (let i = 0; i + 1 < cuts.length; i++) {
      const middle = (cuts[i] + cuts[i + 1]) / 2, lasts = cuts[i + 1] - cuts[i];
      const other = heard.find((h) => h.onset <= middle && middle < h.end);
      seen.time += lasts;
      if (other?.root && one.root) seen.low += classOf(one.bass ?? one.root) === classOf(other.bass ?? other.root) ? lasts : 0;
      if (!other || !one.root || classOf(one.root) !== classOf(other.root)) continue;
      seen.root += lasts;
      if (kindOf(one.kind) !== kindOf(other.kind)) continue;
      seen.chord += lasts;
      seen.bass += classOf(one.bass ?? one.root) === classOf(other.bass ?? other.root) ? lasts : 0;
    }
  }
}
const none = () => ({ time: 0, root: 0, chord: 0, bass: 0, low: 0 }); // low: the bass whatever the chord
const percent = (part, whole) => (whole ? ((100 * part) / whole).toFixed(1) : '-');
const tell = (what, seen) => console.log(`${what}: root ${percent(seen.root, seen.time)}, root and kind ${percent(seen.chord, seen.time)}, with the bass ${percent(seen.bass, seen.time)} % of the time`);

// The textbook's chords over its basses, in each pattern.
const patterns = JSON.parse(run([mutanza, 'passes', 'realise', '--json']))[0].params.find((param) => param.name === 'as').choices;
const again = Object.fromEntries(patterns.map((pattern) => [pattern, none()]));
for (const name of names.filter((_, i) => i % 3 === 0)) {
  const labels = JSON.parse(readFileSync(join(book, `${name}.json`), 'utf8')).labels;
  if (labels.some((label) => !label.root || !label.bass || label.kind === 'other' || label.kind === 'power')) continue;
  const masters = judge(join(book, `${name}.mxl`), labels);
  if (masters.heard.some((at) => at.length !== 4)) continue;
  let at = 0;
  const own = labels.map((label) => { const onset = at; at += 4; return { ...label, duration: 4, onset, end: at }; });
  const file = join(folder, 'again.musicxml'), out = join(folder, 'again.out.musicxml');
  writeFileSync(file, lineOf(own, masters.heard.map((chord) => chord[3]), 'G'));
  for (const pattern of patterns) {
    run([mutanza, 'vary', file, 'realise', `as=${pattern}`, 'into=new', '-o', out]);
    withoutSymbols(out);
    share(own, study(out).chords, again[pattern]);
  }
}
const all = none();
for (const [pattern, seen] of Object.entries(again)) { tell(`textbook chords as ${pattern}, heard again`, seen); for (const key of Object.keys(all)) all[key] += seen[key]; }
tell('all of these', all);
check(all.chord >= 0.98 * all.time, 'realised chords are heard as what they are, 98 % of the time');

// ---- a master's tunes, alone, set as chorales: how often the chord and the bass are the master's ----

const chorales = join(corpus, 'chorales'), masters = none();
const onlyFirst = (xml) => { // score-wise: the first part of the list, and what belongs to it
  const ids = [...xml.matchAll(/<score-part id="([^"]*)"/g)].map((match) => match[1]);
  return ids.slice(1).reduce((text, id) => text.replace(new RegExp(`<score-part id="${id}"[\\s\\S]*?</score-part>`), '').replace(new RegExp(`<part id="${id}"[\\s\\S]*?</part>`), ''), xml.replace(/<part-group[\s\S]*?<\/part-group>|<part-group[^>]*\/>/g, ''));
};
let set = 0;
for (const name of existsSync(chorales) ? readdirSync(chorales).filter((name) => name.endsWith('.json')).filter((_, i) => i % 2 === 0) : []) {
  const score = join(chorales, name.replace('.json', '.mxl')), tune = join(folder, 'tune.musicxml'), out = join(folder, 'chorale.musicxml');
  if (study(score).parts.length !== 4) continue;
  run([mutanza, 'vary', score, 'transpose', 'by=P1', '-o', tune]);
  writeFileSync(tune, onlyFirst(readFileSync(tune, 'utf8')));
  run([mutanza, 'vary', tune, 'realise', 'as=chorale', '-o', out]);
  share(JSON.parse(readFileSync(join(chorales, name), 'utf8')).labels.filter((label) => label.root), study(out).chords, masters);
  set++;
}
tell(`the tunes of ${set} chorales set anew, against the master (whose bass note is ours for ${percent(masters.low, masters.time)} %)`, masters);
if (set) check(masters.root > masters.time / 3, 'a third of the roots under a tune are the master\'s');

// Chords go along with what was transposed, or got another mode, before they are realised.
for (const line of ['transpose by=M2', 'mode', 'transpose to=Eb']) {
  const tuneFile = join(process.env.MUTA_TOP, 'fixtures/lanterns.musicxml'), moved = join(folder, 'moved.musicxml'), both = join(folder, 'both.musicxml');
  const seen = none();
  run([mutanza, 'vary', tuneFile, ...line.split(' '), '-o', moved]);
  run([mutanza, 'vary', tuneFile, ...line.split(' '), 'then', 'realise', '-o', both]);
  withoutSymbols(both);
  share(study(moved).chords.filter((chord) => chord.from === 'symbols'), study(both).chords, seen);
  check(seen.chord >= 0.9 * seen.time, `${line} then realise: ${percent(seen.chord, seen.time)} % of the chords`);
}

// ---- published grounds, and the rule of the octave ----

const tune = (fifths, mode, notes, beats = 4, clef = 'G') => `<?xml version="1.0"?><score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Piano</part-name></score-part></part-list><part id="P1">${notes.map((note, i) => `<measure number="${i + 1}">${i ? '' : `<attributes><divisions>1</divisions><key><fifths>${fifths}</fifths><mode>${mode}</mode></key><time><beats>${beats}</beats><beat-type>4</beat-type></time><clef><sign>${clef}</sign><line>${clef === 'F' ? 4 : 2}</line></clef></attributes>`}<note><pitch><step>${note[0]}</step>${note.includes('#') ? '<alter>1</alter>' : note.includes('b') ? '<alter>-1</alter>' : ''}<octave>${note.at(-1)}</octave></pitch><duration>${beats}</duration></note></measure>`).join('')}</part></score-partwise>`;
const short = { major: '', minor: 'm', dominant: '7' };
const nameOf = (chord) => chord.root + (short[chord.kind] ?? `(${chord.kind})`);
// Sources: the pages on these grounds that print chords, or notes, in a key (see shared/grounds.txt). Behind the last
// round of those that end open stands their first chord, which closes (common practice).
const published = [
  ['folia', -1, 'minor', ['D4', 'A4', 'D4'], 'Dm A Dm C F C Dm A Dm A Dm C F C Dm A Dm', null],
  ['passamezzo-antico', 0, 'minor', ['A4', 'E4', 'A4'], 'Am G Am E C G Am E Am', 'A G A E C G A E A'],
  ['passamezzo-moderno', 1, 'major', ['G4', 'D4', 'G4'], 'G C G D G C G D G', null],
  ['romanesca', -2, 'minor', ['G4', 'D4', 'G4'], 'Bb F Gm D Bb F Gm D Gm', null],
  ['ruggiero', 1, 'major', ['G4', 'D4', 'G4'], null, 'G F# E D B C D G'],
  ['lament', 0, 'minor', ['A4', 'E4', 'A4'], null, 'A G F E A'],
  ['chromatic-lament', -2, 'minor', ['G4', 'D4', 'G4'], null, 'G F# F E Eb D G'],
  ['bergamasca', 0, 'major', ['C4', 'G4', 'C4'], 'C F G C', 'C F G C'],
];
for (const [name, fifths, mode, notes, chords, bass] of published) {
  const file = join(folder, 'ground.musicxml'), out = join(folder, 'ground.out.musicxml');
  writeFileSync(file, tune(fifths, mode, notes));
  run([mutanza, 'vary', file, 'ground', `from=${name}`, 'times=1', '-o', out]);
  const heardChords = study(out).chords.filter((chord) => chord.from === 'symbols');
  // Under a tune alone the ground is the lower staff of a part of its own.
  const lower = [...readFileSync(out, 'utf8').matchAll(/<note\b[\s\S]*?<\/note>/g)].map(([note]) => note).filter((note) => note.includes('<staff>2</staff>')).join('');
  const low = [...lower.matchAll(/<step>(.)<\/step>\s*(?:<alter>(-?1)<\/alter>)?/g)].map(([, step, alter]) => step + (alter ? (alter > 0 ? '#' : 'b') : ''));
  if (chords) check(heardChords.map(nameOf).join(' ') === chords, `${name}: ${heardChords.map(nameOf).join(' ')}`);
  if (bass) check(low.join(' ') === bass, `${name}: bass ${low.join(' ')}`);
}
// Hiles 1882: major, up and down, with the figures as chords.
const octave = [['C', 'major', 'C3'], ['G', 'dominant', 'D3'], ['C', 'major', 'E3'], ['D', 'minor-seventh', 'F3'], ['G', 'major', 'G3'], ['F', 'major', 'A3'], ['G', 'dominant', 'B3'], ['C', 'major', 'C4'],
  ['G', 'major', 'B3'], ['D', 'dominant', 'A3'], ['G', 'major', 'G3'], ['G', 'dominant', 'F3'], ['C', 'major', 'E3'], ['G', 'dominant', 'D3'], ['C', 'major', 'C3']];
{
  const tones = { major: [0, 4, 1], dominant: [0, 4, 1, -2], 'minor-seventh': [0, -3, 1, -2] };
  const nameAt = (fifths) => { const { step, alter } = stepOf(fifths); return step + (alter > 0 ? '#'.repeat(alter) : 'b'.repeat(-alter)); };
  const labels = octave.map(([root, kind, bass], i) => ({ onset: i * 4, duration: 4, key: 'C major', root, kind, bass: bass.slice(0, -1), tones: tones[kind].map((above) => nameAt(fifthsOf(root) + above)) }));
  const midi = (name) => ({ C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 })[name[0]] + 12 * (Number(name.at(-1)) + 1);
  const file = join(folder, 'octave.musicxml'), out = join(folder, 'octave.out.musicxml');
  writeFileSync(file, lineOf(labels, octave.map(([, , bass]) => midi(bass)), 'F'));
  run([mutanza, 'vary', file, 'realise', 'as=chorale', 'into=new', 'given=bass', '-o', out]);
  const ours = judge(out, labels);
  check(ours.pairs === octave.length - 1 && ours.faults.length === 0, `the rule of the octave: ${ours.faults.join(', ')}`);
}

// ---- songs: other chords under a tune ----

const songs = join(corpus, 'songs-labelled');
const songNames = readdirSync(songs).filter((name) => name.endsWith('.json')).map((name) => name.slice(0, -5));
const stay = none(), heard = none(), stray = none();
let cadences = 0, kept = 0, free = 0, freeBefore = 0;
for (const name of songNames) {
  const file = join(songs, `${name}.mxl`), out = join(folder, 'song.musicxml');
  const labels = JSON.parse(readFileSync(join(songs, `${name}.json`), 'utf8')).labels.map((label) => ({ ...label, end: label.onset + label.duration }));
  const before = study(file);
  share(labels, before.chords, heard);
  run([mutanza, 'vary', file, 'reharmonise', 'stray=0', 'figuration=leave', 'then', 'chords', '-o', out]);
  const after = study(out);
  share(labels, after.chords, stay);
  for (const phrase of before.phrases) { const one = before.chords.findLast((chord) => chord.onset < phrase.end), other = after.chords.findLast((chord) => chord.onset < phrase.end); cadences++; kept += one && other && classOf(one.root) === classOf(other.root); }
  run([mutanza, 'vary', file, 'reharmonise', 'stray=1', 'figuration=leave', '-o', out]);
  const far = study(out);
  const ofTune = (answer) => answer.nonchord.filter((one) => one.as === 'free' && one.in === 'tune').length;
  free += ofTune(far); freeBefore += ofTune(before);
  share(before.chords, far.chords, stray);
}
tell(`${songNames.length} songs as study hears them, against people`, heard);
tell('the same after reharmonise stray=0', stay);
console.log(`ends of phrases on the chord that was there: ${percent(kept, cadences)} % of ${cadences}`);
console.log(`tones of tunes that no rule names: ${free} under the chords of stray 1, ${freeBefore} before`);
check(free * 10 <= freeBefore, 'tones of tunes are named by no rule under the chords that stray');
tell('after stray=1, against what study heard before', stray);
check(stay.chord >= 0.97 * heard.chord, 'stray 0 stays as near to people as study is');

// ---- part-writing in all of them: the composers', and ours in their place ----

for (const kind of ['textbook', 'songs-labelled', 'quartets']) {
  const ways = ['composers', ...(kind === 'textbook' ? [] : ['realise']), 'reharmonise'];
  const scores = readdirSync(join(corpus, kind)).filter((name) => name.endsWith('.mxl'));
  for (const name of scores) {
    const file = join(corpus, kind, name), out = join(folder, 'parts.musicxml');
    for (const who of ways) {
      const at = who === 'composers' ? file : out;
      if (at === out) try { run([mutanza, 'vary', file, who, '-o', out]); } catch { continue; }
      const judged = judge(at, study(at).chords.filter((chord) => chord.root && chord.key));
      if (listed) for (const fault of judged.faults) console.log(`${kind} ${name} ${who}: ${fault}`);
      count(`${kind}, ${who}`, judged);
    }
  }
  for (const who of ways.map((name) => `${kind}, ${name}`)) {
    console.log(`${who}, ${scores.length} scores: ${sums[who].pairs} pairs of chords of as many tones, ${total(who).toFixed(1)} faults a hundred: ${JSON.stringify(sums[who].faults)}`);
    // What stays as it was keeps the masters' own; above, all of it is ours.
    if (kind !== 'textbook') check(total(who) <= total(`${kind}, composers`), `${who}: more faults than the composers`);
  }
}
rmSync(folder, { recursive: true });
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
