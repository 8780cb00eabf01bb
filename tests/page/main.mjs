// The page in a real browser, from disk: node main.mjs BROWSER FOLDER, the pages in the folder.
import { existsSync, mkdirSync } from "node:fs";
import path from "node:path";
import { browser } from "./browser.mjs";
import { job } from "./job.mjs";
import { lesson } from "./lesson.mjs";
import { looks } from "./looks.mjs";

const [, , executable, folder] = process.argv;
const page = (name) => path.join(folder, `${name}.html`);
const shots = path.join(folder, "shots");
if (!existsSync(shots)) mkdirSync(shots);

const checks = [
  ["the whole job", (tab) => job(tab, page("found"))],
  ["a lesson", (tab) => lesson(tab, page("lesson"))],
  ["its looks", (tab) => looks(tab, { file: page("open"), lesson: page("lesson"), shots })],
];
let failed = 0;
const began = Date.now();
const seconds = () => ((Date.now() - began) / 1000).toFixed(1);

async function run([name, check]) {
  const opened = await browser(executable, { width: 1280, height: 800 });
  try {
    const told = await check(opened.page);
    if (opened.faults.length > 0) throw new Error(`the browser tells of ${opened.faults.join("; ")}`);
    console.log(`page: ${name}: ${told} (${seconds()} s)`);
  } catch (error) {
    failed += 1;
    console.error(`page: ${name} FAILED after ${seconds()} s:`, error);
    await opened.page.screenshot({ path: path.join(shots, `failed-${failed}.png`) }).catch(() => {});
  }
  await opened.close();
}

// Beside each other: most of it is waiting for the bench's clock.
await Promise.all(checks.map(run));
process.exitCode = failed === 0 ? 0 : 1;
