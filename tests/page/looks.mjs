// How it looks, at three sizes: nothing sticks out, controls are large enough, no accessibility violation.
import assert from "node:assert/strict";
import fs from "node:fs";
import { createRequire } from "node:module";
import path from "node:path";
import { open, press } from "./browser.mjs";

const axe = fs.readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const SIZES = [
  ["bench", 1280, 800],
  ["class", 1920, 1080],
  ["phone", 390, 844],
];

/** What is too small for a finger, or sticks out of the window or of its control. */
function faults() {
  const found = [];
  const wide = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth > wide) found.push(`${document.documentElement.scrollWidth} px wide`);
  for (const one of document.querySelectorAll("button, select, input:not(.unseen)")) {
    const box = one.getBoundingClientRect();
    if (box.width === 0) continue;
    const name = one.getAttribute("aria-label") || one.textContent;
    if (box.height < 43.5 || (one.tagName === "BUTTON" && box.width < 43.5)) found.push(`small: ${name}`);
    if (one.scrollWidth > one.clientWidth + 1) found.push(`clipped: ${name}`);
    if (!one.closest("#rail") && (box.left < -1 || box.right > wide + 1)) found.push(`outside: ${name}`);
  }
  const holders = [...document.querySelectorAll(".meter, #hand, #notebook, #scene, #strip, header, footer")];
  for (const one of holders)
    if (one.scrollWidth > one.clientWidth + 1) found.push(`too narrow: ${one.id || one.className}`);
  for (const one of document.querySelectorAll("body *")) {
    const own = [...one.childNodes].some((node) => node.nodeType === Node.TEXT_NODE && node.textContent.trim());
    if (own && !one.closest("svg, script, style, noscript") && parseFloat(getComputedStyle(one).fontSize) < 18)
      found.push(`small type: ${one.textContent.slice(0, 30)}`);
  }
  return found;
}

export async function looks(page, { file, lesson, shots }) {
  const shoot = async (name, all) => page.screenshot({ path: path.join(shots, `${name}.png`), fullPage: all });
  const check = async (name) => {
    assert.deepEqual(await page.evaluate(faults), [], name);
    await page.evaluate(axe);
    const { violations } = await page.evaluate(() => globalThis.axe.run(document));
    const told = violations.map((one) => `${one.id}: ${one.nodes.map((node) => node.html.slice(0, 120)).join(" | ")}`);
    assert.deepEqual(told, [], `accessibility, ${name}`);
  };
  await page.setViewportSize({ width: 1280, height: 800 });
  await open(page, lesson);
  await shoot("lesson");
  await check("lesson");
  await open(page, file);
  await press(page, "Lines, glasses", "Open the lines into glasses", "Pump jumper", "Put it in", "Air plate", "Lift");
  await page.waitForTimeout(1200);
  await page.evaluate(() => scrollTo(0, 0));
  await shoot("glasses");
  await check("glasses");
  await press(page, "Let go", "Pump jumper", "Take it out", "Lines, glasses", "Put the lines back on");
  await press(page, "Needle V", "Duty", "Speed", "CO", "Key", "Start", "x60, sixty times as fast, without sound");
  await page.waitForTimeout(2500);
  await press(page, "x1, the clock as it is", "Hex key", "Put the key in", "In: richer", "Note: Duty");
  await page.waitForTimeout(600);
  const others = ["Digits V", "Actuator mA", "System bar", "Chamber bar", "Vacuum", "Lambda V", "Idle air"];
  await press(page, ...others);
  await shoot("every-meter", true);
  await check("every meter");
  await press(page, ...others);
  for (const [name, width, height] of SIZES) {
    await page.setViewportSize({ width, height });
    if (name === "class") await press(page, "Class view");
    if (name === "phone") await press(page, "Class view");
    await page.waitForTimeout(250);
    await page.evaluate(() => scrollTo(0, 0));
    await shoot(name);
    await check(name);
  }
  await shoot("phone-whole", true);
  return "no violation at 1280x800, 1920x1080 (class view) and 390x844";
}
