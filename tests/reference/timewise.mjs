// timewise.mjs: turns a partwise score on standard input into a timewise one, bar by bar, to see that
// both are varied alike. Made for scores that are laid out as the demo tune is.
import { readFileSync } from 'node:fs';

const xml = readFileSync(0, 'utf8');
const parts = [...xml.matchAll(/<part id="([^"]*)">([\s\S]*?)<\/part>/g)].map(([, id, text]) => ({
  id,
  bars: [...text.matchAll(/<measure( [^>]*)>([\s\S]*?)<\/measure>/g)].map(([, attributes, content]) => ({ attributes, content })),
}));
const start = xml.indexOf('<part id=');
const end = xml.lastIndexOf('</part>') + '</part>'.length;
const bars = parts[0].bars.map(({ attributes }, i) =>
  `<measure${attributes}>${parts.map(({ id, bars }) => `<part id="${id}">${bars[i].content}</part>`).join('')}</measure>`);
process.stdout.write((xml.slice(0, start) + bars.join('\n') + xml.slice(end))
  .replaceAll('score-partwise', 'score-timewise').replaceAll('Partwise', 'Timewise').replaceAll('partwise.dtd', 'timewise.dtd'));
