// A lesson: nothing moves until a prediction is written; then everything does.
import assert from "node:assert/strict";
import { go, open, press, until } from "./browser.mjs";

const text = (page, selector) => page.evaluate((each) => document.querySelector(each).textContent, selector);

export async function lesson(page, file) {
  await open(page, file);
  assert.match(await text(page, "#question"), /Lesson 5.*write your prediction first/s);
  await press(page, "Key", "Start");
  assert.match(await text(page, "#sentence"), /prediction first/);
  await page.waitForTimeout(300);
  assert.equal(await text(page, "#clock"), "0:00");
  assert.equal(await text(page, "#beat b"), "silent");

  // As words, and as what a meter will show.
  await go(page, "What it is about");
  await page.keyboard.type("Duty");
  await go(page, "What it will show");
  await page.keyboard.type("40");
  await page.keyboard.press("Enter");
  assert.match(await text(page, "#notes"), /Duty.*predicted.*40 %/s);
  await press(page, "Duty", "Key", "Start");
  const running = () => document.querySelector("#beat b").textContent;
  await until(page, "it runs", running, (word) => !/silent|cranking/.test(word));
  await press(page, "Note: Duty");
  assert.match(await text(page, "#notes li"), /predicted.*read.*differs by/s);
  const section = await page.evaluate(() => document.querySelector("#lever").getAttribute("transform"));
  assert.match(section, /rotate\(-?\d+\.\d+ \d/);
  const slit = () => Number(document.querySelector("#slit").getAttribute("data-mm"));
  await until(page, "the slit opens", slit, (mm) => mm > 0.02);
  return "prediction first, then reading and difference; the section moves";
}
