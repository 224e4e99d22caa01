// render.mjs SCORE FOLDER: draws a score with verovio, a page a file, as SVG.
import { readFileSync, writeFileSync, mkdirSync } from 'node:fs';
import { basename, join } from 'node:path';
import { openToolkit, loadScore } from './verovio.mjs';

const [score, folder] = process.argv.slice(2);
const toolkit = await openToolkit({ scale: 40, adjustPageHeight: true, footer: 'none' });
loadScore(toolkit, readFileSync(score), score);
mkdirSync(folder, { recursive: true });
const name = basename(score).replace(/\.[^.]*$/, '');
for (let page = 1; page <= toolkit.getPageCount(); page++) {
  const file = join(folder, `${name}-${page}.svg`);
  writeFileSync(file, toolkit.renderToSVG(page));
  console.log(file);
}
