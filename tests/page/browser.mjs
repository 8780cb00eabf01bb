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

/**
 * How many Tabs lead to what has a name, backwards below 0; null if none should. A name is what a
 * screen reader has: the label, else the words.
 */
function tabs({ name, pattern }) {
  const named = (element) => element.getAttribute("aria-label") ?? (element.labels?.[0] ?? element).textContent.trim();
  const is = (element) => (pattern ? new RegExp(pattern).test(named(element)) : named(element) === name);
  const stops = [...document.querySelectorAll("a, button, input, select, summary, [tabindex='0']")].filter(
    (one) => !one.disabled && one.getClientRects().length > 0,
  );
  if (is(document.activeElement)) return 0;
  const from = stops.indexOf(document.activeElement);
  const found = stops.findIndex(is);
  return found < 0 ? null : found - from;
}

/** Goes by Tab to what has this name. */
export async function go(page, name) {
  const what = typeof name === "string" ? { name } : { pattern: name.source };
  for (let tries = 0; tries < 6; tries += 1) {
    const far = await page.evaluate(tabs, what);
    if (far === 0) return;
    const steps = far ?? 1;
    for (let i = 0; i < Math.abs(steps); i += 1) await page.keyboard.press(steps > 0 ? "Tab" : "Shift+Tab");
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
