// phrases.mjs MUTANZA [FOLDER]: the phrases of the variations in the corpus are files of their own;
// joined again, study must find where they begin. Prints precision, recall and F1 beside a
// baseline: every four bars.
import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const mutanza = process.argv[2];
const corpus = (process.env.MUTA_CORPUS ?? '').split(':').find((folder) => existsSync(join(folder, 'tavern')));
if (!corpus) {
  console.log('skipped: no phrases to join\n0 passed, 0 failed, 1 skipped');
  process.exit(77);
}
const least = 0.49; // F1 that was reached, a little taken off
const folder = mkdtempSync(join(tmpdir(), 'phrases-'));

// How long each measure of a part lasts, in quarters.
function lengthsOf(part) {
  let divisions = 1;
  return [...part.matchAll(/<measure[\s\S]*?<\/measure>/g)].map(([measure]) => {
    let at = 0, end = 0;
    for (const [, tag, body] of measure.matchAll(/<(note|backup|forward|divisions)\b[^>]*>([\s\S]*?)<\/\1>/g)) {
      if (tag === 'divisions') { divisions = Number(body); continue; }
      const lasts = Number(/<duration>(\d+)/.exec(body)?.[1] ?? 0) / divisions;
      if (tag === 'note' && body.includes('<chord')) continue;
      at += tag === 'backup' ? -lasts : lasts;
      end = Math.max(end, at);
    }
    return end;
  });
}

const parts = (xml) => [...xml.matchAll(/<part id="[^"]*">([\s\S]*?)<\/part>/g)].map((match) => match[1]);

function join_(files) {
  const xmls = files.map((file) => readFileSync(file, 'utf8'));
  const all = xmls.map(parts);
  const starts = [];
  const bars = [];
  let at = 0, number = 0;
  for (const one of all) {
    starts.push(at);
    for (const length of lengthsOf(one[0])) { bars.push(at); at += length; }
  }
  let nth = 0;
  const xml = xmls[0].replace(/(<part id="[^"]*">)[\s\S]*?(<\/part>)/g, (_, open, close) => {
    const mine = nth++;
    number = 0;
    return open + all.map((one) => (one[mine] ?? '').replace(/<measure [^>]*>/g, () => `<measure number="${++number}">`)).join('') + close;
  });
  return { xml, starts, bars };
}

function count(found, wanted, sum) {
  sum.found += found.length;
  sum.wanted += wanted.length;
  sum.right += wanted.filter((start) => found.some((one) => Math.abs(one - start) <= 1)).length;
}

const f1 = (sum) => 2 * sum.right / (sum.found + sum.wanted || 1);
const print = (name, sum) => console.log(`| ${name} | ${(100 * sum.right / (sum.found || 1)).toFixed(1)} | ${(100 * sum.right / sum.wanted).toFixed(1)} | ${(100 * f1(sum)).toFixed(1)} |`);

// The skeleton by bars: what of the theme's tones, one a bar, a variation's tune still has there.
const steps = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };
const classOf = (pitch) => (steps[pitch[0]] + pitch.split('#').length - pitch.slice(1).split('b').length + 12) % 12;
function byBars(answer, bars, depth) {
  const found = bars.map(() => new Set());
  for (const tone of answer.skeleton)
    if (tone.depth >= depth) found[bars.findLastIndex((bar) => bar <= tone.onset + 1e-6)]?.add(classOf(tone.pitch));
  return found;
}
const themes = new Map();
let kept = 0, tones = 0;

const groups = new Map();
const walk = (at) => readdirSync(at, { withFileTypes: true }).forEach((entry) => {
  const path = join(at, entry.name);
  if (entry.isDirectory()) return walk(path);
  const name = /^(M\d+_\d+)_\d+\w*\.musicxml$/.exec(entry.name)?.[1];
  if (name) groups.set(name, [...(groups.get(name) ?? []), path]);
});
walk(join(corpus, 'tavern'));
const none = () => ({ found: 0, wanted: 0, right: 0 });
const ours = none(), fours = none(), halves = [none(), none()];
// FNV-1a of the name: two halves, as in hearing.mjs.
function half(name) {
  let hash = 2166136261;
  for (const byte of Buffer.from(name)) hash = Math.imul(hash ^ byte, 16777619) >>> 0;
  return (hash >>> 8) & 1;
}
for (const [name, files] of [...groups].sort()) {
  if (files.length < 2) continue;
  const { xml, starts, bars } = join_(files.sort());
  const file = join(folder, `${name}.musicxml`);
  writeFileSync(file, xml);
  const answer = JSON.parse(execFileSync(mutanza, ['study', file, '--json'], { encoding: 'utf8', maxBuffer: 1 << 28, stdio: ['ignore', 'pipe', 'ignore'] }));
  const [work, variation] = name.split('_');
  if (variation === '00') themes.set(work, byBars(answer, bars, 3));
  const theme = themes.get(work);
  if (variation !== '00' && theme?.length === bars.length) {
    const mine = byBars(answer, bars, 2);
    theme.forEach((bar, i) => bar.forEach((tone) => { tones++; kept += mine[i].has(tone); }));
  }
  const wanted = starts.slice(1), found = answer.phrases.slice(1).map((phrase) => phrase.onset);
  count(found, wanted, halves[half(name)]);
  count(found, wanted, ours);
  count(bars.filter((_, i) => i > 0 && i % 4 === 0), wanted, fours);
}
// Chorales without their fermatas, all voices and the tune alone: phrases must begin behind those.
const chorale = { voices: none(), alone: none() };
const strip = (xml) => xml.replace(/<fermata\b[^>]*\/>|<fermata\b[\s\S]*?<\/fermata>/g, '');
function startsBehind(part) {
  let divisions = 1, at = 0;
  const starts = [];
  for (const [measure] of part.matchAll(/<measure[\s\S]*?<\/measure>/g)) {
    let top = at, here = at;
    for (const [, tag, body] of measure.matchAll(/<(note|backup|forward|divisions)\b[^>]*>([\s\S]*?)<\/\1>/g)) {
      if (tag === 'divisions') { divisions = Number(body); continue; }
      if (body.includes('<chord') || body.includes('<grace')) continue;
      here += (tag === 'backup' ? -1 : 1) * Number(/<duration>(\d+)/.exec(body)?.[1] ?? 0) / divisions;
      if (tag === 'note' && body.includes('<fermata')) starts.push(here);
      top = Math.max(top, here);
    }
    at = top;
  }
  return [...new Set(starts)].filter((start) => start < at);
}
const studyPhrases = (file) => JSON.parse(execFileSync(mutanza, ['study', file, '--json'], { encoding: 'utf8', maxBuffer: 1 << 28, stdio: ['ignore', 'pipe', 'ignore'] })).phrases.slice(1).map((phrase) => phrase.onset);
for (const name of readdirSync(join(corpus, 'chorales')).filter((one) => one.endsWith('.mxl')).sort()) {
  const path = join(corpus, 'chorales', name);
  const entry = execFileSync('unzip', ['-Z1', path], { encoding: 'utf8' }).split('\n').find((one) => one.endsWith('xml') && !one.startsWith('META'));
  const xml = execFileSync('unzip', ['-p', path, entry], { encoding: 'utf8', maxBuffer: 1 << 28 });
  const wanted = startsBehind(parts(xml)[0]);
  if (wanted.length < 2) continue;
  const voices = strip(xml);
  const seen = { 'score-part': 0, part: 0 };
  const alone = voices.replace(/<part-group[\s\S]*?(\/>|<\/part-group>)/g, '')
    .replace(/<(score-part|part) id="[^"]*">[\s\S]*?<\/\1>/g, (text, tag) => seen[tag]++ > 0 ? '' : text);
  for (const [kind, text] of [['voices', voices], ['alone', alone]]) {
    const file = join(folder, 'chorale.musicxml');
    writeFileSync(file, text);
    count(studyPhrases(file), wanted, chorale[kind]);
  }
}
console.log(`${groups.size} variations\n| | precision | recall | F1 |\n| --- | --- | --- | --- |`);
print('study, first half', halves[0]);
print('study, other half', halves[1]);
print('study, all', ours);
print('every four bars', fours);
print('chorales', chorale.voices);
print('their tunes alone', chorale.alone);
console.log('published, single melodies (Pearce, Müllensiefen and Wiggins 2008, from memory): Grouper F1 66, LBDM 63, rests and slurs alone 58');
console.log(`of the theme's skeleton, a tone a bar, ${(100 * kept / tones).toFixed(1)} % stands in the same bar of its variations' tunes (${tones} tones)`);
rmSync(folder, { recursive: true });
const good = f1(ours) >= least && f1(chorale.voices) >= 0.75 && f1(chorale.alone) >= 0.75;
console.log(`${good ? 1 : 0} passed, ${good ? 0 : 1} failed, 0 skipped`);
process.exit(good ? 0 : 1);
