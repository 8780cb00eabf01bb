// The whole job on a car with a hidden state, by keyboard alone: from standing to centred.
import assert from "node:assert/strict";
import { go, open, press, until } from "./browser.mjs";

const text = (selector) => `document.querySelector(${JSON.stringify(selector)}).textContent`;
const beat = (page) => page.evaluate(text("#beat b"));
const clock = (page) => page.evaluate(text("#clock"));
const sentence = (page) => page.evaluate(text("#sentence"));
const lines = (page) => page.evaluate(text(".glasses figcaption"));
const FAST = "x60, sixty times as fast, without sound";
const FASTER = "x10, ten times as fast, without sound";
const AS_IT_IS = "x1, the clock as it is";
const TARGET_V = 0.7;

/** Lets the bench's clock pass, fast. */
async function pass(page, seconds, pace = FASTER) {
  const from = (await page.evaluate(() => JSON.parse(window.quarterturn.answer('{"act":"look"}')))).time_s;
  await press(page, pace);
  const now = () => JSON.parse(window.quarterturn.answer('{"act":"look"}')).time_s;
  await until(page, "the clock", now, (time) => time >= from + seconds);
  await press(page, AS_IT_IS);
}

export async function job(page, file) {
  await open(page, file);
  const told = [];
  const tell = (words) => told.push(words);
  assert.match(await page.evaluate(text("#senses")), /Key off/);

  // Where the first fuel shows, and a quarter turn back.
  await press(page, "Lines, glasses", "Open the lines into glasses");
  assert.match(await page.evaluate(text("#caution")), /relieve the pressure/);
  await press(page, "Pump jumper", "Put it in");
  await press(page, "Hex key", "Put the key in");
  await pass(page, 5);
  const dry = (words) => words.includes("all dry");
  let turned = 0;
  if (!dry(await lines(page))) {
    await press(page, "1/8");
    while (!dry(await lines(page))) {
      await press(page, "Out: leaner");
      await pass(page, 3);
      turned -= 1 / 8;
    }
  }
  await press(page, "1/16");
  while (dry(await lines(page)) && turned < 1.5) {
    await press(page, "In: richer");
    await pass(page, 3);
    turned += 1 / 16;
  }
  assert.match(await lines(page), /drops|stream/);
  await press(page, "1/4", "Out: leaner");
  turned -= 1 / 4;
  await press(page, "Take the key out");
  await press(page, "Pump jumper", "Take it out");
  await press(page, "Lines, glasses", "Put the lines back on");
  tell(`first fuel ${turned + 0.25} turn from found, then a quarter back`);

  // A reload mid-way keeps notebook, clock and car.
  const notes = () => [...document.querySelectorAll("#notes li")].map((note) => note.textContent);
  const before = { notes: await page.evaluate(notes), screw: await page.evaluate(text("#outside figcaption")) };
  assert.ok(before.notes.length > 8);
  await page.reload();
  await page.waitForSelector("html[data-ready]");
  assert.deepEqual(await page.evaluate(notes), before.notes);
  assert.equal(await page.evaluate(text("#outside figcaption")), before.screw);
  assert.match(await sentence(page), /as you left it/);

  // Start, and warm with the clock sixty times as fast.
  await press(page, "Duty", "Digits V", "Sound");
  await press(page, "Key", "Start");
  await until(page, "it runs", text("#beat b"), (word) => !/silent|cranking/.test(word));
  await page.waitForTimeout(400);
  assert.ok((await page.evaluate(() => window.quarterturn.level())) > 0.01, "the engine is heard");
  await press(page, FAST);
  await until(page, "it is warm", text("#senses"), (words) => words.includes("Coolant warm."), 25);
  await press(page, AS_IT_IS);

  // A moment is kept; too far in, and back to it.
  await press(page, "Keep this moment", "Hex key", "Put the key in", "1/4", "In: richer");
  const kept = await clock(page);
  await pass(page, 4);
  await press(page, /^Back to/);
  assert.ok((await clock(page)) <= kept, "the clock is back");
  assert.match(await sentence(page), /Went back/);

  // Both edges with the loop open, by the beat alone.
  await press(page, "Connectors", "Unplug lambda sensor");
  await press(page, "Hex key", "Put the key in", "1/32");
  const edge = async (way, sign) => {
    for (let steps = 0; steps < 24; steps += 1) {
      await press(page, way);
      turned += sign / 32;
      await press(page, FASTER);
      let uneven = 0;
      for (let looks = 0; looks < 16; looks += 1) {
        await page.waitForTimeout(40);
        const word = await beat(page);
        assert.notEqual(word, "silent", `it died ${turned} turn from found`);
        if (word !== "even") uneven += 1;
      }
      await press(page, AS_IT_IS);
      if (uneven > 5) return turned;
    }
    throw new Error(`no edge ${way}`);
  };
  const rich = await edge("In: richer", 1);
  const lean = await edge("Out: leaner", -1);
  // A little beyond the lean edge beats are lost, and are heard as lost.
  let heard = await page.evaluate(() => window.quarterturn.played());
  for (let steps = 0; steps < 3 && heard.lost === 0; steps += 1) {
    await press(page, "Out: leaner");
    turned -= 1 / 32;
    for (let looks = 0; looks < 30 && heard.lost === 0; looks += 1) {
      await page.waitForTimeout(100);
      heard = await page.evaluate(() => window.quarterturn.played());
    }
  }
  assert.ok(heard.lost > 0, "a lost beat is heard");
  tell(`edges ${lean} to ${rich} turn; ${heard.beats} beats played, ${heard.lost} lost`);
  assert.ok(rich - lean > 1 / 16 && rich - lean < 0.5, `${lean} to ${rich}`);

  // The middle, and a little leaner: a fifth of the width.
  const back = Math.round(((rich + lean) / 2 - (rich - lean) / 5 - turned) * 64) / 64;
  await press(page, "free");
  await go(page, "Turns");
  await page.keyboard.press("Control+A");
  await page.keyboard.type(String(back));
  await press(page, "In: richer", "Take the key out", "Connectors", "Plug in lambda sensor");
  await press(page, "Pedal", "Blip to 3000 rpm");
  await pass(page, 20);
  assert.match(await beat(page), /even/);

  // Volts.
  await press(page, "Potentiometer", "Loosen its four screws");
  const volts = async () => Number(await page.evaluate(text('[aria-label="Meter: Digits V"] .digits')));
  for (let steps = 0; steps < 60; steps += 1) {
    const off = TARGET_V - (await volts());
    if (Math.abs(off) < 0.012) break;
    const much = Math.abs(off) > 0.08 ? "a lot" : "a little";
    await press(page, `Volts ${off > 0 ? "up" : "down"} ${much}`);
    await pass(page, 1.5);
  }
  await press(page, "Tighten its four screws", "Note: Digits V", "Note: Duty");
  assert.ok(Math.abs((await volts()) - TARGET_V) < 0.03, `${await volts()} V`);

  // The battery lead clears what was learned; the car starts again and runs even.
  await press(page, "Key", "Off");
  await until(page, "it runs down", text("#beat b"), (word) => word === "silent");
  await press(page, "Battery lead", "Take it off", "Put it on");
  await press(page, "Key", "Start");
  await until(page, "it runs again", text("#beat b"), (word) => !/silent|cranking/.test(word));
  await pass(page, 20);
  assert.match(await beat(page), /even/);
  const duty = Number.parseInt((await page.evaluate(text('[aria-label="Meter: Duty"] h2'))).split("%")[1], 10);
  assert.ok(duty > 15 && duty < 85, `duty ${duty} %`);
  tell(`${await volts()} V, duty ${duty} %`);

  // Sound off is silence.
  await press(page, "Sound");
  await page.waitForTimeout(300);
  assert.ok((await page.evaluate(() => window.quarterturn.level())) < 1e-3, "muted");
  return told.join("; ");
}
