// tones.mjs MEANT [all]: another reader, verovio, loads what the program wrote, a fourth higher than
// it was, and must find the tones that were meant: onset, duration, sound, as it plays them. Repeats
// are not unfolded. Where it does not, it may be that it reads the score otherwise to begin with (it
// takes durations from note types and loses some ties across voices): then it does not find the tone
// a fourth lower in the score as it came either. What is left is a fault, ours or its.
import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openToolkit, loadScore } from './verovio.mjs';

const folder = mkdtempSync(join(tmpdir(), 'tones-'));
console.log(execFileSync(process.argv[2], [folder, process.argv[3] ?? 'tenth'], { encoding: 'utf8' }).trim());
const toolkit = await openToolkit({ breaks: 'none', expandNever: true });

// The notes of a standard MIDI file: onset, end (in quarters) and sound.
function notesOf(midi) {
  const perQuarter = midi.readUInt16BE(12);
  const notes = [];
  let at = 14;
  while (at + 8 <= midi.length) {
    const end = at + 8 + midi.readUInt32BE(at + 4);
    const open = new Map();
    let tick = 0, status = 0;
    at += 8;
    const number = () => {
      let value = 0, byte;
      do { byte = midi[at++]; value = value * 128 + (byte & 127); } while (byte & 128);
      return value;
    };
    while (at < end) {
      tick += number();
      if (midi[at] & 128) status = midi[at++];
      const kind = status >> 4;
      if (status === 0xff || status >= 0xf0) {
        if (status === 0xff) at++;
        const length = number();
        at += length;
      } else if (kind === 0xc || kind === 0xd) {
        at++;
      } else {
        const [sound, force] = [midi[at], midi[at + 1]];
        const key = `${status & 15} ${sound}`;
        at += 2;
        if (kind === 9 && force > 0) {
          const note = { onset: tick / perQuarter, sound };
          open.set(key, [...(open.get(key) ?? []), note]);
          notes.push(note);
        } else if (kind === 8 || kind === 9) {
          const note = (open.get(key) ?? []).shift();
          if (note) note.end = tick / perQuarter;
        }
      }
    }
    at = end;
  }
  return notes;
}

// Takes each of ours that theirs has, within a hundredth of a quarter, away; the rest is left.
function unmatched(ours, theirs, fits) {
  const bySound = new Map();
  for (const note of theirs) bySound.set(note.sound, [...(bySound.get(note.sound) ?? []), note]);
  return ours.filter((tone) => {
    const notes = bySound.get(tone.sound) ?? [];
    const i = notes.findIndex((note) => fits(tone, note));
    if (i >= 0) notes.splice(i, 1);
    return i < 0;
  });
}
function played(file) {
  loadScore(toolkit, readFileSync(file), file);
  return notesOf(Buffer.from(toolkit.renderToMIDI(), 'base64'));
}

const FOURTH = 5; // semitones
const near = (a, b) => Math.abs(a - b) < 0.02;

const starts = (tone, note) => near(tone.onset, note.onset);
const lasts = (tone, note) => starts(tone, note) && near(tone.end, note.end ?? 0);
let scores = 0, same = 0, unread = 0, meant = 0, missing = 0, unexplained = 0, lasting = 0;

function meantIn(file) {
  return readFileSync(file, 'utf8').trim().split('\n').filter(Boolean).map((line) => {
    const [onset, duration, sound] = line.split(' ').map(Number);
    return { onset, end: onset + duration, sound };
  });
}

// Where the score was read tone for tone, so must it be when its time has moved.
const moved = { slower: [0, 0, 0], backwards: [0, 0, 0] };
function lookAtMoved(file) {
  for (const kind of Object.keys(moved)) {
    if (!existsSync(`${file}.${kind}.tones`)) continue;
    const ours = meantIn(`${file}.${kind}.tones`);
    const absent = unmatched(ours, played(`${file}.${kind}.musicxml`), starts);
    moved[kind][0]++;
    moved[kind][1] += ours.length;
    moved[kind][2] += absent.length;
    if (absent.length > 0) console.log(`${file.split('/').pop()} ${kind}: ${absent.length} of ${ours.length} not found, first ${absent[0].sound} at ${absent[0].onset}`);
  }
}
for (const name of readdirSync(folder).filter((name) => name.endsWith('.tones') && !/\.(slower|backwards)\.tones$/.test(name)).sort()) {
  scores++;
  const ours = meantIn(join(folder, name));
  const file = join(folder, name.replace(/\.tones$/, ''));
  let theirs, before;
  try {
    theirs = played(`${file}.musicxml`);
    before = played(`${file}.before`);
  } catch (error) {
    unread++;
    console.log(`not loaded: ${name}: ${error.message ?? error}`);
    continue;
  }
  const absent = unmatched(ours, theirs, starts);
  const lower = absent.map((tone) => ({ ...tone, sound: tone.sound - FOURTH }));
  const absentBefore = unmatched(ours.map((tone) => ({ ...tone, sound: tone.sound - FOURTH })), before, starts);
  const faults = unmatched(lower, absentBefore, starts);
  meant += ours.length;
  missing += absent.length;
  unexplained += faults.length;
  lasting += unmatched(ours, theirs, lasts).length - absent.length;
  if (absent.length === 0) {
    same++;
    lookAtMoved(file);
  }
  if (absent.length > 0) console.log(`${name}: ${absent.length} of ${ours.length} not found, first ${absent[0].sound} at ${absent[0].onset}; ${faults.length} of them were there before`);
}
rmSync(folder, { recursive: true });
console.log(`${scores} scores, ${unread} not loaded, ${same} the same in every onset and pitch; of ${meant} tones ${missing} not found, ${unexplained} of them were there before, ${lasting} found that last otherwise`);
for (const [kind, [count, tones, absent]] of Object.entries(moved)) console.log(`${kind}: of ${count} scores that were read tone for tone, ${absent} of ${tones} tones are not found`);
const lost = Object.values(moved).some(([, tones, absent]) => absent > tones / 200);
if (scores === 0) process.exit(77);
process.exit(unread > scores / 50 || same < scores / 2 || unexplained > meant / 400 || lost ? 1 : 0);
