// tonal.mjs SPELL: compares each interval from each spelling with the library tonal.
import { execFileSync } from 'node:child_process';
import { Note } from 'tonal';

const lines = execFileSync(process.argv[2], { encoding: 'utf8' }).trim().split('\n');
let wrong = 0;
for (const line of lines) {
  const [from, by, to] = line.split(' ');
  // tonal writes the number first: 3M, -2m.
  const [, minus, quality, number] = /^(-?)([PMmAd])(\d+)$/.exec(by);
  const expected = Note.transpose(from, `${minus}${number}${quality}`);
  if (expected !== to) {
    console.log(`${from} ${by}: ${to}, tonal says ${expected}`);
    wrong++;
  }
}
console.log(`${lines.length - wrong} intervals as tonal has them, ${wrong} not`);
process.exit(wrong || lines.length < 1900 ? 1 : 0);
