// scales.mjs: compares the scales of shared/scales.txt, way up, with those of the library tonal.
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Note, Scale } from 'tonal';

// Where tonal calls a scale otherwise.
const names = {
  'natural-minor': 'aeolian', 'harmonic-minor': 'harmonic minor', 'melodic-minor': 'melodic minor', minor: 'melodic minor',
  'major-pentatonic': 'major pentatonic', 'minor-pentatonic': 'minor pentatonic', 'whole-tone': 'whole tone',
  octatonic: 'diminished', 'octatonic-half': 'dominant diminished', 'hungarian-minor': 'hungarian minor',
  'double-harmonic': 'double harmonic major', 'phrygian-dominant': 'phrygian dominant', blues: 'minor blues',
  bhupali: 'major pentatonic', malkauns: 'malkos raga', kafi: 'dorian', bhairavi: 'phrygian', bhairav: 'double harmonic major',
};
const major = [0, 2, 4, 5, 7, 9, 11];
const semitones = (degree) => {
  const [, signs, number] = /^([b#]*)([1-7])$/.exec(degree);
  return (major[number - 1] + [...signs].reduce((sum, sign) => sum + (sign === '#' ? 1 : -1), 0) + 12) % 12;
};
let same = 0, wrong = 0;
for (const line of readFileSync(join(process.env.MUTA_TOP, 'shared/scales.txt'), 'utf8').split('\n')) {
  if (!line.trim() || line.startsWith('#')) continue;
  const [name, up] = line.split('|').map((cell) => cell.trim());
  const scale = Scale.get(`C ${names[name] ?? name}`);
  if (scale.empty) continue;
  const ours = up.split(' ').map(semitones).sort((a, b) => a - b).join(' ');
  const theirs = scale.notes.map((note) => Note.chroma(note)).sort((a, b) => a - b).join(' ');
  if (ours === theirs) same++;
  else {
    wrong++;
    console.log(`${name}: ${ours}, tonal says ${theirs}`);
  }
}
console.log(`${same} scales as tonal has them, ${wrong} not`);
process.exit(wrong || same < 18 ? 1 : 0);
