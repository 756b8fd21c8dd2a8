// npm install bwip-js@4.11.4 && node encode.mjs
// Draws the symbols of this folder and writes symbols.json: what each holds.
// Everything here is invented; the GTINs begin with GS1's documentation
// prefixes 0950 and 0952.
import { writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
const bwip = createRequire(process.cwd() + '/')('bwip-js');

const GS = '\u001d';
const predefined = ['01', '11', '17', '3102', '3103', '3203']; // those of the elements used here
// carried is the element string of a bracketed text: a separator behind each
// element of variable length that is not the last (GS1 General
// Specifications 7.8.4).
function carried(bracketed) {
  const parts = [...bracketed.matchAll(/\((\d+)\)([^(]*)/g)];
  return parts.map((p, i) => p[1] + p[2] + (predefined.includes(p[1]) || i === parts.length - 1 ? '' : GS)).join('');
}

// The code words that the encoder drew, as patterns of six widths; the last
// before the stop pattern is the check character.
function words128(text) {
  const [{ sbs }] = bwip.raw('gs1-128', text, '');
  const w = sbs.map(Math.round);
  const out = [];
  for (let i = 0; i + 6 < w.length; i += 6) out.push(w.slice(i, i + 6).join(''));
  return out;
}
// ISO/IEC 15417 table 1, values 0 to 105.
const WIDTHS = ('212222 222122 222221 121223 121322 131222 122213 122312 132212 221213 221312 231212 112232 122132 122231 ' +
  '113222 123122 123221 223211 221132 221231 213212 223112 312131 311222 321122 321221 312212 322112 322211 212123 212321 ' +
  '232121 111323 131123 131321 112313 132113 132311 211313 231113 231311 112133 112331 132131 113123 113321 133121 313121 ' +
  '211331 231131 213113 213311 213131 311123 311321 331121 312113 312311 332111 314111 221411 431111 111224 111422 121124 ' +
  '121421 141122 141221 112214 112412 122114 122411 142112 142211 241211 221114 413111 241112 134111 111242 121142 121241 ' +
  '114212 124112 124211 411212 421112 421211 212141 214121 412121 111143 111341 131141 114113 114311 411113 411311 113141 ' +
  '114131 311141 411131 211412 211214 211232').split(' ');

// withCheck searches lots until the symbol's check character has the value.
function withCheck(value, make) {
  for (let n = 0; n < 100000; n++) {
    const text = make(n);
    const words = words128(text).map((p) => WIDTHS.indexOf(p)).filter((v) => v >= 0);
    if (words[words.length - 1] === value) return text;
  }
  throw new Error(`no lot gives check value ${value}`);
}

const G = '(01)09521234543213';
const H = '(01)09501101530003';
const lot = (n) => 'L' + String(n).padStart(5, '0') + 'K';
const specs = [];
const gs1 = (name, bcid, symbology, text, options = {}) =>
  specs.push({ name, bcid, symbology, drawn: text, text: carried(text), options });
const plain = (name, bcid, symbology, text, options = {}, read = text) =>
  specs.push({ name, bcid, symbology, drawn: text, text: read, options });
const dmre = (version) => ({ dmre: true, version });

gs1('dm', 'gs1datamatrix', ']d2', `${G}(17)280531(10)A7F42(21)00417`);
gs1('dm-separators', 'gs1datamatrix', ']d2', `${G}(10)b/7.F(21)x-9(240)REF_7(17)280531`);
gs1('dm-small', 'gs1datamatrix', ']d2', G);
gs1('dm-big', 'gs1datamatrix', ']d2', `${G}(17)280531(10)LONGLOT0123456789ABC(21)SERIAL0123456789ABCD(240)ADDITIONAL-REFERENCE-0123456`);
gs1('dm-rect', 'gs1datamatrixrectangular', ']d2', `${H}(17)290131(10)K1`, { version: '16x36' });
gs1('dm-rect-long', 'gs1datamatrixrectangular', ']d2', `${H}(17)290131(10)K1B2C3(21)7`, { version: '16x48' });
gs1('dmre-12x64', 'gs1datamatrixrectangular', ']d8', `${H}(17)290131(10)K1B2C3(21)77`, dmre('12x64'));
gs1('dmre-20x44', 'gs1datamatrixrectangular', ']d8', `${H}(17)290131(10)K1B2C3(21)77`, dmre('20x44'));
gs1('dmre-24x48', 'gs1datamatrixrectangular', ']d8', `${H}(17)290131(10)K1B2C3(21)77`, dmre('24x48'));
gs1('dmre-26x40', 'gs1datamatrixrectangular', ']d8', `${H}(17)290131(10)K1B2C3(21)77`, dmre('26x40'));
gs1('dmre-8x64', 'gs1datamatrixrectangular', ']d8', `${H}(17)290131`, dmre('8x64'));
gs1('dmre-8x96', 'gs1datamatrixrectangular', ']d8', `${H}(17)290131(10)K1`, dmre('8x96'));
gs1('dmre-8x144', 'gs1datamatrixrectangular', ']d8', `${H}(17)290131(10)K1B2C3(21)77`, dmre('8x144'));
// In UTF-8, in Cyrillic (ISO 8859-5), and both after another: an ECI says which.
const bytes = (s, set) => [...(set ? Uint8Array.from([...s].map((c) => c.charCodeAt(0) < 128 ? c.charCodeAt(0) : c.charCodeAt(0) - 0x360)) : new TextEncoder().encode(s))].map((b) => '^' + String(b).padStart(3, '0')).join('');
const eci = { parse: true, parsefnc: true };
plain('dm-eci-utf8', 'datamatrix', ']d4', '^ECI000026' + bytes('Größe 7 µm'), eci, 'Größe 7 µm');
plain('dm-eci-cyrillic', 'datamatrix', ']d4', '^ECI000007' + bytes('Партия 12', true), eci, 'Партия 12');
plain('dm-eci-two', 'datamatrix', ']d4', 'A^ECI000007' + bytes('Партия', true) + '^ECI000026' + bytes('Größe'), eci, 'AПартияGröße');
plain('dm-latin1', 'datamatrix', ']d1', 'M' + '^252' + 'nze 5' + '^181' + 'g', { parse: true }, 'Münze 5µg');
plain('dm-c40', 'datamatrix', ']d1', 'INVENTED TEXT IN CAPITALS, 3 X 4!');
plain('dm-text', 'datamatrix', ']d1', 'invented text in small letters, Three By four~');
plain('dm-x12', 'datamatrix', ']d1', 'AB*CD>EF*GHIJKLM>NOP');
plain('dm-edifact', 'datamatrix', ']d1', 'A.B-C:D/E;F+G?H=I.J,K.L');
plain('dm-base256', 'datamatrix', ']d1', '^200^201^202^203^204^205^206^207^208^209^210', { parse: true }, '\u00c8\u00c9\u00ca\u00cb\u00cc\u00cd\u00ce\u00cf\u00d0\u00d1\u00d2');
// Every other size (ISO/IEC 16022 table 7, ISO/IEC 21471 table 7).
for (const v of ['10x10', '12x12', '14x14', '16x16', '18x18', '20x20', '22x22', '24x24', '26x26', '32x32', '36x36', '40x40', '44x44', '48x48',
  '52x52', '64x64', '72x72', '80x80', '88x88', '96x96', '104x104', '120x120', '132x132', '144x144'])
  plain(`dm-${v}`, 'datamatrix', ']d1', v.slice(0, 3), { version: v, scale: parseInt(v) > 50 ? 2 : 1 });
for (const v of ['8x18', '8x32', '12x26', '12x36']) plain(`dm-${v}`, 'datamatrixrectangular', ']d1', v, { version: v, scale: 1 });
for (const v of ['8x48', '8x80', '8x120', '12x88', '16x64', '20x36', '20x64', '22x48', '24x64', '26x48', '26x64'])
  plain(`dmre-${v}`, 'datamatrixrectangularextension', ']d7', v, { version: v, scale: 1 });
plain('dm-plain', 'datamatrix', ']d1', '+A123BJC5D6E71G');

gs1('128', 'gs1-128', ']C1', `${G}(17)280531(10)A7F42`);
gs1('128-separators', 'gs1-128', ']C1', `${H}(10)b7.F(21)x-9(240)R7`);
gs1('128-digits', 'gs1-128', ']C1', '(01)09521234543213(11)260115(10)123456');
gs1('128-lot-only', 'gs1-128', ']C1', '(10)123456(21)987654');
gs1('128-check102', 'gs1-128', ']C1', withCheck(102, (n) => `${G}(10)${lot(n)}`));
gs1('128-check97', 'gs1-128', ']C1', withCheck(97, (n) => `${G}(10)${lot(n)}`));
gs1('128-check102-c', 'gs1-128', ']C1', withCheck(102, (n) => `${G}(10)${String(n).padStart(6, '0')}`));
gs1('128-check102-separator', 'gs1-128', ']C1', withCheck(102, (n) => `${G}(10)${lot(n)}(21)7a`));
gs1('128-check97-separator', 'gs1-128', ']C1', withCheck(97, (n) => `${G}(10)${lot(n)}(21)7a`));
plain('128-plain', 'code128', ']C0', 'Station 12/B');
plain('128-hibc', 'code128', ']C0', '+A123BJC5D6E71G');
plain('39-hibc', 'code39', ']A0', '+A123BJC5D6E71G');
plain('39', 'code39', ']A0', 'SHELF-07.B');
plain('ean13', 'ean13', ']E0', '9521234543213');
plain('upca', 'upca', ']E0', '012345678905', {}, '0012345678905');
plain('upce', 'upce', ']E0', '01234565', {}, '0012345000065');
plain('ean8', 'ean8', ']E4', '95012346');
plain('itf14', 'itf14', ']I1', '09521234543213');
plain('itf14-bearer', 'itf14', ']I1', '19501101530000', { borderwidth: 4 });
gs1('databar', 'databaromni', ']e0', G);
gs1('databar-upside-down', 'databaromni', ']e0', '(01)09527596231744'); // turned over, its halves would pass for another's
gs1('databar-stacked', 'databarstackedomni', ']e0', G);
gs1('databar-truncated', 'databartruncated', ']e0', G);
gs1('databar-stacked-short', 'databarstacked', ']e0', G);
gs1('databar-limited', 'databarlimited', ']e0', H);
gs1('databar-expandedstacked-two', 'databarexpandedstacked', ']e0', `${G}(17)280531(10)A7F42`, { segments: 2 });
gs1('databar-limited-1', 'databarlimited', ']e0', '(01)19501101530000');
for (const [name, text, more] of [
  ['', `${G}(17)280531(10)A7F42(21)x-9`],
  ['-lot', '(10)b7.F(21)x-9(240)REF7', { dontlint: true }],
  ['-capitals', '(10)LOT47B(21)77AB12(240)REF7', { dontlint: true }],
  ['-digits', `${G}(10)123456789(21)12345`],
  ['-gtin', H],
  ['-weight-kg', '(01)99501101530006(3103)001750'],
  ['-weight-date', '(01)99501101530006(3103)001750(17)290131'],
  ['-weight-long', '(01)99501101530006(3103)123456'],
  ['-pounds', '(01)99501101530006(3203)012345'],
  ['-weight-made', '(01)99501101530006(3102)001750(11)290131'],
  ['-price', '(01)99501101530006(3922)1234', { dontlint: true }],
  ['-currency', '(01)99501101530006(3932)97812345', { dontlint: true }],
  ['-gtin-only-9', '(01)99501101530006'],
  ['-letters', `${G}(21)Ab/c-7.Z?x`],
]) {
  gs1(`databar-expanded${name}`, 'databarexpanded', ']e0', text, more);
  if (['', '-lot', '-gtin'].includes(name)) gs1(`databar-expandedstacked${name}`, 'databarexpandedstacked', ']e0', text, { ...more, segments: 4 });
}
gs1('qr', 'gs1qrcode', ']Q3', `${G}(17)280531(10)A7F42(21)00417`, { eclevel: 'M' });
gs1('qr-separators', 'gs1qrcode', ']Q3', `${H}(10)b7.F(21)x-9(240)REF7`, { eclevel: 'Q' });
plain('qr-plain', 'qrcode', ']Q1', 'https://id.example/01/09521234543213/10/A7F42?17=280531', { eclevel: 'M' });
plain('qr-big', 'qrcode', ']Q1', 'Invented text for a large code. '.repeat(12).trim(), { eclevel: 'H' });

const out = [];
for (const s of specs) {
  const matrix = /datamatrix|qrcode/.test(s.bcid);
  const quiet = /qr/.test(s.bcid) ? 4 : matrix ? 2 : 11;
  const scale = 2; // pixels a module; the encoder draws two-dimensional symbols twice as large
  const options = { scale, includetext: false, backgroundcolor: 'FFFFFF', paddingwidth: quiet * scale, paddingheight: (matrix ? quiet : 3) * scale };
  if (!matrix && !/databar/.test(s.bcid)) options.height = 8;
  try {
    const png = await bwip.toBuffer({ bcid: s.bcid, text: s.drawn, ...options, ...s.options });
    writeFileSync(`symbols/${s.name}.png`, png);
    out.push({ name: s.name, encoder: s.bcid, drawn: s.drawn, options: s.options, symbology: s.symbology, text: s.text, scale: matrix ? 2 * (s.options.scale ?? scale) : scale });
  } catch (e) { console.error(s.name, e.message ?? e); }
}
writeFileSync('symbols.json', '[\n' + out.map((o) => JSON.stringify(o)).join(',\n') + '\n]\n');
