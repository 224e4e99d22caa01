// tones.mjs MEANT [all]: another reader, verovio, loads what the program wrote and must find the
// tones that were meant: onset, duration, sound. Repeats are not unfolded. What it reads otherwise
// than the XML says is listed by score, and must stay rare.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openToolkit, loadScore } from './verovio.mjs';

const folder = mkdtempSync(join(tmpdir(), 'tones-'));
console.log(execFileSync(process.argv[2], [folder, process.argv[3] ?? 'tenth'], { encoding: 'utf8' }).trim());
const toolkit = await openToolkit({});
const round = (time) => (Math.round(time * 1000) / 1000).toFixed(3);

// The tones that verovio finds: an element of the time map starts at one moment and ends at another.
function tonesOf(file) {
  loadScore(toolkit, readFileSync(file), file);
  const started = new Map();
  const tones = [];
  for (const { qstamp, on = [], off = [] } of toolkit.renderToTimemap({ includeRests: false })) {
    for (const id of off) if (started.has(id)) started.get(id).end = qstamp;
    for (const id of on) {
      const tone = { id, onset: qstamp, pitch: toolkit.getMIDIValuesForElement(id).pitch };
      started.set(id, tone);
      tones.push(tone);
    }
  }
  return tones;
}

function takeAway(from, what) {
  const left = new Map();
  for (const key of what) left.set(key, (left.get(key) ?? 0) + 1);
  return from.filter((key) => {
    const count = left.get(key) ?? 0;
    if (count > 0) left.set(key, count - 1);
    return count === 0;
  });
}

let scores = 0, same = 0, unread = 0, meant = 0, missing = 0, lasting = 0;
for (const name of readdirSync(folder).filter((name) => name.endsWith('.tones')).sort()) {
  scores++;
  const lines = readFileSync(join(folder, name), 'utf8').trim().split('\n').filter(Boolean).map((line) => line.split(' ').map(Number));
  let found;
  try {
    found = tonesOf(join(folder, name.replace(/\.tones$/, '.musicxml')));
  } catch (error) {
    unread++;
    console.log(`not loaded: ${name}`);
    continue;
  }
  const ours = lines.map(([onset, , pitch]) => `${round(onset)} ${pitch}`);
  const theirs = found.map(({ onset, pitch }) => `${round(onset)} ${pitch}`);
  const absent = takeAway(ours, theirs);
  const long = takeAway(
    lines.map(([onset, duration, pitch]) => `${round(onset)} ${round(onset + duration)} ${pitch}`),
    found.map(({ onset, end, pitch }) => `${round(onset)} ${round(end ?? 0)} ${pitch}`),
  ).length - absent.length;
  meant += ours.length;
  missing += absent.length;
  lasting += Math.max(long, 0);
  if (absent.length === 0) same++;
  else console.log(`${name}: ${absent.length} of ${ours.length} not found, first ${absent[0]}`);
}
rmSync(folder, { recursive: true });
console.log(`${scores} scores, ${unread} not loaded, ${same} the same in every onset and pitch; of ${meant} tones ${missing} not found, ${lasting} found that last otherwise`);
if (scores === 0) process.exit(77);
process.exit(unread > scores / 50 || missing > meant / 100 ? 1 : 0);
