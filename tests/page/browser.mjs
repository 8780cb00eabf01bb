// A browser with an empty profile, and hands on its keyboard.
import { chromium } from "playwright-core";
import fs from "node:fs";
import os from "node:os";
import path from "node:path";
import { pathToFileURL } from "node:url";

const FLAGS = [
  "--headless",
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
];

/** Opens a browser, at nothing yet. */
export async function browser(executablePath, viewport) {
  const profile = fs.mkdtempSync(path.join(os.tmpdir(), "bench-page-"));
  const context = await chromium.launchPersistentContext(profile, {
    executablePath,
    args: FLAGS,
    viewport,
    serviceWorkers: "block",
  });
  const page = context.pages()[0] ?? (await context.newPage());
  const faults = [];
  page.on("console", (message) => message.type() === "error" && faults.push(message.text()));
  page.on("pageerror", (error) => faults.push(error.stack));
  page.on("request", (request) => /^(file|data|blob):/.test(request.url()) || faults.push(`asks for ${request.url()}`));
  const close = async () => {
    await context.close();
    fs.rmSync(profile, { recursive: true, force: true });
  };
  return { page, faults, close };
}

/** Opens a page from disk and waits for its first frame. */
export async function open(page, file) {
  await page.goto(pathToFileURL(file).href);
  await page.waitForSelector("html[data-ready]", { timeout: 20000 });
}

/** What has the focus: its name as a screen reader has it. */
const focused = () => {
  const element = document.activeElement;
  return element.getAttribute("aria-label") ?? (element.labels?.[0] ?? element).textContent.trim();
};

/** Goes by Tab to what has this name. */
export async function go(page, name) {
  const is = typeof name === "string" ? (found) => found === name : (found) => name.test(found);
  for (let i = 0; i < 120; i += 1) {
    if (is(await page.evaluate(focused))) return;
    await page.keyboard.press("Tab");
  }
  throw new Error(`no Tab leads to "${name}"`);
}

/** Goes there and presses it. */
export async function press(page, ...names) {
  for (const name of names) {
    await go(page, name);
    await page.keyboard.press("Enter");
  }
}

/** Waits until something of the page is so; tells what it was last. */
export async function until(page, what, look, is, seconds = 15) {
  const last = Date.now() + 1000 * seconds;
  for (;;) {
    const found = await page.evaluate(look);
    if (is(found)) return found;
    if (Date.now() > last) throw new Error(`${what}: still ${JSON.stringify(found)}`);
    await page.waitForTimeout(40);
  }
}
