// Holds the module against the native bench.
//
//   node compare.mjs session                              writes a session of 1500 frames
//   node compare.mjs frames MODULE SESSION NATIVE_LINES   runs it in the module and compares
import { readFileSync } from "node:fs";

const RELATIVE = 1e-11;
// A value below a tenth of its unit counts as a tenth: a slit's opening is a small difference
// between two heights, and no better known than they are.
const LEAST = 0.1;

function session() {
  const wait = (count, seconds = 0.05) => Array(count).fill({ act: "wait", seconds });
  const meters = ["needle_v", "digital_v", "speed_rpm", "actuator_ma", "duty_percent"];
  const others = ["system_bar", "lower_chamber_bar", "co_percent", "vacuum_bar", "sensor_v"];
  const clips = [...meters, ...others].map((meter) => ({ act: "clip", meter }));
  const acts = [
    ...clips,
    { act: "lines", into: "glasses" },
    { act: "jumper", in: true },
    ...wait(60),
    { act: "lift", mm: 12 },
    ...wait(100),
    { act: "lift", mm: 0 },
    ...wait(40),
    { act: "jumper", in: false },
    { act: "lines", into: "engine" },
    { act: "key", to: "start" },
    ...wait(300),
    { act: "snapshot", name: "runs" },
    { act: "wait", seconds: 300 },
    ...wait(150),
    { act: "tool", in: true },
    { act: "turn", turns: "1/32" },
    ...wait(150),
    { act: "turn", turns: "-1/16" },
    { act: "tool", in: false },
    ...wait(150),
    { act: "blip", rpm: 2500 },
    ...wait(150),
    { act: "connector", part: "lambda-sensor", on: false },
    { act: "pedal", percent: 6, brake_rpm: 2000 },
    ...wait(100),
    { act: "pedal", percent: 0 },
    ...wait(100),
    { act: "back", name: "runs" },
    { act: "connector", part: "coolant-sensor", on: false },
    ...wait(100),
    { act: "key", to: "off" },
    ...wait(100),
  ];
  return { begin: { found: 4, seed: 2, view: "teaching" }, acts };
}

async function load(file) {
  const { instance } = await WebAssembly.instantiate(readFileSync(file), {});
  const { allocate, answer, free, memory } = instance.exports;
  return (text) => {
    const given = new TextEncoder().encode(text);
    const place = allocate(given.length);
    new Uint8Array(memory.buffer, place, given.length).set(given);
    const found = answer(place, given.length);
    free(place, given.length);
    const length = new DataView(memory.buffer).getUint32(found, true);
    const said = new TextDecoder().decode(new Uint8Array(memory.buffer, found + 4, length));
    free(found, length + 4);
    return said;
  };
}

// The largest relative difference of the numbers; anything else must be the same.
function difference(a, b, where) {
  if (typeof a === "number" && typeof b === "number") {
    return a === b ? 0 : Math.abs(a - b) / Math.max(Math.abs(a), Math.abs(b), LEAST);
  }
  if (a === null || typeof a !== "object" || b === null || typeof b !== "object") {
    if (a !== b) {
      throw new Error(`${where}: ${JSON.stringify(a)} here, ${JSON.stringify(b)} in the module`);
    }
    return 0;
  }
  const keys = Object.keys(a);
  if (keys.join() !== Object.keys(b).join()) {
    throw new Error(`${where}: other keys`);
  }
  return Math.max(0, ...keys.map((key) => difference(a[key], b[key], `${where}.${key}`)));
}

async function frames(module, sessionFile, nativeFile) {
  const { begin, acts } = JSON.parse(readFileSync(sessionFile, "utf8"));
  const native = readFileSync(nativeFile, "utf8").trimEnd().split("\n");
  const ask = await load(module);
  ask(JSON.stringify({ ...begin, act: "begin" }));
  let most = 0;
  let spent = 0;
  let lasted = 0;
  acts.forEach((act, i) => {
    const text = JSON.stringify(act);
    const from = performance.now();
    const said = ask(text);
    spent += performance.now() - from;
    lasted += act.act === "wait" ? act.seconds : 0;
    const [here, there] = [JSON.parse(native[i]), JSON.parse(said)];
    if (here.error) {
      throw new Error(`act ${i} ${text}: ${here.error}`);
    }
    most = Math.max(most, difference(here, there, `act ${i} ${text}`));
  });
  const perMinute = (60 * spent) / lasted;
  console.log(
    `${acts.length} frames: largest relative difference ${most.toExponential(1)}, ` +
      `${perMinute.toFixed(0)} ms a simulated minute`,
  );
  if (!(most <= RELATIVE)) {
    console.error(`more than ${RELATIVE}`);
    process.exit(1);
  }
}

const [what, ...files] = process.argv.slice(2);
if (what === "session") {
  console.log(JSON.stringify(session()));
} else {
  await frames(...files);
}
