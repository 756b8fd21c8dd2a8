// node read.mjs LIST OUT
// LIST names one picture a line. Writes to OUT one JSON object a line:
// {file, ms, symbols: [{symbology, text}]}, read by the C++ reader built as
// WebAssembly, with everything that makes it try harder; ms is processor time.
import { readFileSync, writeFileSync } from 'node:fs';
import { readBarcodes, prepareZXingModule } from 'zxing-wasm/reader';

const wasm = readFileSync('node_modules/zxing-wasm/dist/reader/zxing_reader.wasm');
await prepareZXingModule({
  overrides: { wasmBinary: wasm.buffer.slice(wasm.byteOffset, wasm.byteOffset + wasm.length) },
  fireImmediately: true,
});
const options = {
  tryHarder: true, tryRotate: true, tryInvert: true, tryDownscale: true, tryDenoise: true,
  maxNumberOfSymbols: 255, textMode: 'Plain',
  formats: ['DataMatrix', 'QRCode', 'Code128', 'Code39Std', 'EAN13', 'EAN8', 'UPCA', 'UPCE', 'ITF', 'DataBar', 'DataBarExpanded', 'DataBarLimited'],
};
const [, , list, out] = process.argv;
const lines = [];
for (const file of readFileSync(list, 'utf8').split('\n').filter(Boolean)) {
  const data = readFileSync(file);
  const start = process.cpuUsage();
  const found = await readBarcodes(data, options);
  const used = process.cpuUsage(start);
  const ms = (used.user + used.system) / 1000;
  const symbols = found.filter((s) => s.isValid).map((s) => ({ symbology: s.symbologyIdentifier, text: s.text }));
  lines.push(JSON.stringify({ file, ms, symbols }));
}
writeFileSync(out, lines.join('\n') + '\n');
