// Reads a score with MuseScore's importer, saves it again and draws it:
//   node reader.cjs SCORE.musicxml STEM   ->   STEM.musicxml, STEM-1.svg, STEM-2.svg ...
"use strict";
const fs = require("node:fs");

// With it the library takes this for a browser.
delete globalThis.fetch;
const WebMscore = require("webmscore");

const [, , source, stem] = process.argv;

async function main() {
  await WebMscore.ready;
  const score = await WebMscore.load("musicxml", fs.readFileSync(source));
  fs.writeFileSync(`${stem}.musicxml`, await score.saveXml());
  const pages = await score.npages();
  for (let page = 0; page < pages; page++) {
    fs.writeFileSync(`${stem}-${page + 1}.svg`, await score.saveSvg(page, false));
  }
  // Its worker threads would keep the process alive.
  process.exit(0);
}

main().catch((error) => {
  console.error(error);
  process.exit(1);
});
