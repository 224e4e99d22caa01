// verovio.mjs: opens verovio, and loads a score of either kind into it.
import createVerovioModule from 'verovio/wasm';
import { VerovioToolkit } from 'verovio/esm';

export async function openToolkit(options) {
  const toolkit = new VerovioToolkit(await createVerovioModule());
  toolkit.setOptions(options);
  return toolkit;
}

export function loadScore(toolkit, bytes, name) {
  const compressed = bytes[0] === 0x50 && bytes[1] === 0x4b;
  const loaded = compressed
    ? toolkit.loadZipDataBuffer(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.length))
    : toolkit.loadData(bytes.toString('utf8'));
  if (!loaded) throw new Error(`verovio does not load ${name}`);
}
