// Tools: a rail of them, and what the one in the hand can do.
(() => {
  const { make, at, button, say, set } = Page;
  const does = (words, what, attributes) =>
    button(words, () => Bench.act(typeof what === "function" ? what() : what), attributes);
  const row = (label, ...children) => make("div", { class: "row", role: "group", "aria-label": label }, ...children);
  const field = (words, value, attributes, change) =>
    make(
      "label",
      {},
      words,
      make("input", {
        type: "number",
        value,
        ...attributes,
        on: { input: (event) => change(event.target.valueAsNumber) },
      }),
    );

  const STEPS = ["1/4", "1/8", "1/16", "1/32", "free"];
  const hand = { step: "1/16", free: 0.05, pedal: 10, lift: 5, play: 1, hours: 12 };
  const turns = () => (hand.step === "free" ? Math.abs(hand.free) : hand.step.split("/").reduce((a, b) => a / b));

  function hexKey(frame) {
    const own = field("Turns", hand.free, { min: 0, max: 2, step: 0.005 }, (value) => (hand.free = value));
    const choose = STEPS.map((each) => button(each, () => choice(each)));
    const choice = (each) => {
      hand.step = each;
      choose.forEach((one, i) => set(one, "aria-pressed", String(STEPS[i] === each)));
      own.hidden = each !== "free";
    };
    choice(hand.step);
    const { tool_in: isIn, turned } = frame.seen.screw;
    const now = turned === 0 ? "Now as found" : `Now ${Page.turns(turned)} from found`;
    return [
      row(
        "The screw",
        does(isIn ? "Take the key out" : "Put the key in", { act: "tool", in: !isIn }),
        does("Out: leaner", () => ({ act: "turn", turns: -turns() }), { disabled: !isIn }),
        does("In: richer", () => ({ act: "turn", turns: turns() }), { disabled: !isIn }),
      ),
      row("How far, in turns", make("span", { class: "soft" }, "By"), ...choose, own, make("span", {}, now)),
    ];
  }

  const pedal = () => [
    row(
      "Pedal",
      does("Blip to 3000 rpm", { act: "blip", rpm: 3000 }),
      field("Hold at %", hand.pedal, { min: 0, max: 100, step: 1 }, (value) => (hand.pedal = value)),
      does("Hold", () => ({ act: "pedal", percent: hand.pedal })),
      does("Let go", { act: "pedal", percent: 0 }),
    ),
  ];
  const lift = () => [
    row(
      "The air plate",
      field("By mm", hand.lift, { min: 0, max: 60, step: 0.5 }, (value) => (hand.lift = value)),
      does("Lift", () => ({ act: "lift", mm: hand.lift })),
      does("Let go", { act: "lift", mm: 0 }),
      does("Feel its free play", { act: "feel", what: "plate" }),
    ),
    row(
      "The plate's stop",
      does("Stop up 0.1 mm", { act: "rest", mm: 0.1 }),
      does("Stop down 0.1 mm", { act: "rest", mm: -0.1 }),
    ),
  ];
  const throttle = () => [
    row(
      "Throttle",
      does("Feel the throttle", { act: "feel", what: "throttle" }),
      does("Feel the linkage", { act: "feel", what: "linkage" }),
    ),
    row(
      "Linkage",
      field("Free play, mm", hand.play, { min: -2, max: 3, step: 0.5 }, (value) => (hand.play = value)),
      does("Set the linkage", () => ({ act: "linkage", play_mm: hand.play })),
    ),
  ];
  const HOUSING = [
    ["Down a lot", -0.2],
    ["Down a little", -0.02],
    ["Up a little", 0.02],
    ["Up a lot", 0.2],
  ];
  const potentiometer = (frame) => {
    const { loose } = frame.seen.housing;
    return [
      row(
        "Its screws",
        does(loose ? "Tighten its four screws" : "Loosen its four screws", { act: "screws", loose: !loose }),
      ),
      row(
        "Volts",
        make("span", { class: "soft" }, "Volts"),
        ...HOUSING.map(([words, mm]) =>
          does(words, { act: "housing", mm }, { disabled: !loose, "aria-label": `Volts ${words.toLowerCase()}` }),
        ),
      ),
    ];
  };
  const connectors = (frame) => [
    row(
      "Connectors",
      ...Object.entries(frame.seen.connectors).map(([part, on]) =>
        does(`${on ? "Unplug" : "Plug in"} ${part.replaceAll("-", " ")}`, { act: "connector", part, on: !on }),
      ),
    ),
  ];
  const key = () => [
    row(
      "Key",
      does("Off", { act: "key", to: "off" }),
      does("On", { act: "key", to: "on" }),
      does("Start", { act: "key", to: "start" }),
    ),
  ];
  const jumper = (frame) => [
    row("Jumper", does(frame.seen.jumper ? "Take it out" : "Put it in", { act: "jumper", in: !frame.seen.jumper })),
  ];
  const lines = (frame) => {
    const open = frame.seen.lines === "glasses";
    return [
      row(
        "Lines",
        does(open ? "Put the lines back on" : "Open the lines into glasses", {
          act: "lines",
          into: open ? "engine" : "glasses",
        }),
      ),
    ];
  };
  const hoses = () => [
    row(
      "Hoses",
      does("Push every hose home", { act: "hose", on: true }),
      does("Pull one off", { act: "hose", on: false }),
    ),
  ];
  const battery = (frame) => [
    row(
      "Battery lead",
      does(frame.seen.battery ? "Take it off" : "Put it on", { act: "battery", on: !frame.seen.battery }),
    ),
  ];
  const leave = () => [
    row(
      "Leave the car standing",
      field("Hours", hand.hours, { min: 0, max: 72, step: 1 }, (value) => (hand.hours = value)),
      does("Leave it standing", () => ({ act: "stand", hours: hand.hours })),
    ),
  ];

  // Name, what it offers, the act whose caution goes with it, what of the frame it shows.
  const TOOLS = [
    ["Key", key, "key"],
    ["Pump jumper", jumper, "jumper", (seen) => seen.jumper],
    ["Lines, glasses", lines, "lines", (seen) => seen.lines],
    ["Air plate", lift, "lift"],
    ["Hex key", hexKey, "tool", (seen) => `${seen.screw.tool_in} ${seen.screw.turned}`],
    ["Pedal", pedal, "blip"],
    ["Throttle", throttle, "linkage"],
    ["Potentiometer", potentiometer, "screws", (seen) => seen.housing.loose],
    ["Connectors", connectors, "connector", (seen) => JSON.stringify(seen.connectors)],
    ["Hoses", hoses, "hose"],
    ["Battery lead", battery, "battery", (seen) => seen.battery],
    ["Leave it", leave, "stand"],
  ];
  let held = TOOLS[0];
  let drawn = null;

  // With the keyboard the focus goes to what is in the hand; Escape brings it back to the rail.
  const rail = TOOLS.map((tool) =>
    button(tool[0], (event) => {
      take(tool);
      if (event.detail === 0) inside.querySelector("button:enabled, input")?.focus();
      at("hand").scrollIntoView({ block: "nearest" });
    }),
  );
  at("hand").addEventListener("keydown", (event) => {
    if (event.key === "Escape") rail[TOOLS.indexOf(held)].focus();
  });
  at("rail").append(...rail);
  const caution = make("p", { id: "caution", role: "alert" });
  const inside = make("div", { class: "row" });

  function take(tool) {
    held = tool;
    drawn = null;
    show(Bench.frame());
    say(caution, Bench.caution(tool[2]));
  }

  function show(frame) {
    const [name, offers, , state] = held;
    const now = `${name} ${state ? state(frame.seen) : ""}`;
    if (now === drawn) return;
    drawn = now;
    rail.forEach((one, i) => set(one, "aria-pressed", String(TOOLS[i] === held)));
    const before = [...inside.querySelectorAll("button, input")].indexOf(document.activeElement);
    inside.replaceChildren(make("h2", {}, name), ...offers(frame));
    const controls = [...inside.querySelectorAll("button, input")];
    if (before >= 0) controls[Math.min(before, controls.length - 1)].focus({ preventScroll: true });
  }

  Bench.onFrame((frame, act) => {
    if (drawn === null) {
      at("hand").replaceChildren(inside, caution);
      say(caution, Bench.caution(held[2]));
    }
    show(frame);
    // The caution of an act stays until the next act of a hand.
    if (act && act.act !== "wait" && frame.caution) say(caution, frame.caution);
  });
})();
