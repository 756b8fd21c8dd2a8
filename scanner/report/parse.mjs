// Times two parsers on the text of argv[2] and prints, as one line of JSON,
// parses a second for each, the best of argv[3] rounds, and what they read.
import bark from "bark-js";
import { parseBarcode } from "gs1-barcode-parser-mod";

const [text, rounds] = [process.argv[2], Number(process.argv[3])];
const parsers = {
  "bark-js": () => bark("]d2" + text).elements,
  "gs1-barcode-parser-mod": () => parseBarcode("]d2" + text).parsedCodeItems,
};

const answer = {};
for (const [name, parse] of Object.entries(parsers)) {
  let best = 0;
  for (let n = 100, round = 0; round < rounds; ) {
    const start = process.hrtime.bigint();
    for (let i = 0; i < n; i++) if (parse().length !== 5) throw new Error(name + " read something else");
    const ns = Number(process.hrtime.bigint() - start);
    if (ns < 1e8) {
      n *= 2; // a round that is long enough to be timed, and warm
    } else {
      best = Math.max(best, (n * 1e9) / ns);
      round++;
    }
  }
  answer[name] = { perSecond: best, elements: parse().map((e) => e.ai + e.raw) };
}
console.log(JSON.stringify(answer));
