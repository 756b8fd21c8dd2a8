// node encode.mjs SPECS FOLDER
// SPECS holds one JSON object a line: {name, bcid, text, options}. Writes
// FOLDER/name.png: the symbol with its quiet zone, `scale` pixels a module.
import { readFileSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
const bwipjs = createRequire(import.meta.url)('bwip-js');

const [, , specs, folder] = process.argv;
for (const line of readFileSync(specs, 'utf8').split('\n')) {
  if (!line) continue;
  const s = JSON.parse(line);
  const png = await bwipjs.toBuffer({ bcid: s.bcid, text: s.text, backgroundcolor: 'FFFFFF', ...s.options });
  writeFileSync(`${folder}/${s.name}.png`, png);
}
