// Engraves a MusicXML file with webmscore: node engrave.cjs MODULE SCORE.musicxml OUT.pdf
"use strict";
const fs = require("node:fs");

// With it the library takes this for a browser.
delete globalThis.fetch;
const [, , module_, source, target] = process.argv;
const WebMscore = require(module_);

async function main() {
  await WebMscore.ready;
  const score = await WebMscore.load("musicxml", fs.readFileSync(source));
  fs.writeFileSync(target, await score.savePdf());
  // Its worker threads would keep the process alive.
  process.exit(0);
}

main().catch((error) => {
  console.error(error);
  process.exit(1);
});
