// Meters: on their hooks, or clipped on. Each shows only what a frame carries.
const Meters = (() => {
  const { make, draw, at, button, say, set } = Page;
  // Words on the hook, words on the meter.
  const NAMES = {
    needle_v: ["Needle V", "Needle, V"],
    digital_v: ["Digits V", "Digits, V"],
    speed_rpm: ["Speed", "Speed, rpm"],
    actuator_ma: ["Actuator mA", "Actuator, mA"],
    duty_percent: ["Duty", "Duty, %"],
    system_bar: ["System bar", "System, bar"],
    lower_chamber_bar: ["Chamber bar", "Chamber, bar"],
    co_percent: ["CO", "CO, %"],
    vacuum_bar: ["Vacuum", "Vacuum, bar"],
    sensor_v: ["Lambda V", "Lambda, V"],
    idle_valve_percent: ["Idle air", "Idle air, %"],
  };
  const NEEDLES = new Set(["needle_v", "duty_percent", "system_bar", "lower_chamber_bar", "vacuum_bar"]);
  const [LEFT, RIGHT, OVER] = [-50, 50, 0.03];
  const title = (name) => NAMES[name]?.[0] || name.replaceAll("_", " ");
  const onCase = (name) => NAMES[name]?.[1] || title(name);
  // The bench's words, with the names of meters as they stand on them.
  const plain = (words) => Object.keys(NAMES).reduce((text, name) => text.replaceAll(name, title(name)), words);
  const places = (meter) => Math.max(0, Math.ceil(-Math.log10(meter.step) - 1e-9));
  const reading = (name, value) => {
    const meter = Bench.meter(name);
    return value === null ? "nothing" : `${Page.number(value, places(meter))} ${meter.unit}`;
  };
  const cards = new Map();

  // A bent scale with its hand. Few numbers, so that they can be large.
  function needle(meter) {
    const [low, high] = meter.scale;
    const beyond = OVER * (high - low);
    const whole = high === 2.5 ? [0, 1, 2] : [low, (low + high) / 2, high];
    const clamped = (value) => Math.min(Math.max(value, low - beyond), high + beyond);
    const angle = (value) => LEFT + ((RIGHT - LEFT) * (clamped(value) - low)) / (high - low);
    const point = (degrees, r) => {
      const rad = ((degrees - 90) * Math.PI) / 180;
      return [(120 + r * Math.cos(rad)).toFixed(1), (148 + r * Math.sin(rad)).toFixed(1)];
    };
    const tick = (value, r, width) => {
      const ends = [point(angle(value), 96), point(angle(value), r)].map((end) => end.join(" "));
      return draw("path", { d: `M${ends.join("L")}`, stroke: "#2a2825", "stroke-width": width });
    };
    // The outermost stand beside the ends of the scale, the others over it.
    const number = (value) => {
      const end = value === low ? "end" : value === high ? "start" : "middle";
      const [x, y] = point(angle(value), end === "middle" ? 123 : 112).map(Number);
      const words = String(Number(value.toFixed(2)));
      return draw("text", { x, y: y + 11, "text-anchor": end, "font-size": 32, fill: "#2a2825" }, words);
    };
    const face = draw("svg", { viewBox: "-30 4 300 108", "aria-hidden": "true" });
    const parts = 25;
    for (let i = 0; i <= parts; i += 1)
      face.append(tick(low + ((high - low) * i) / parts, i % 5 === 0 ? 105 : 101, 1.4));
    for (const value of whole) face.append(tick(value, 107, 3), number(value));
    const arc = `M${point(LEFT, 96).join(" ")}A96 96 0 0 1 ${point(RIGHT, 96).join(" ")}`;
    const hand = draw("path", { d: "M120 148V46", stroke: "#0d5a66", "stroke-width": 4 });
    face.append(draw("path", { d: arc, fill: "none", stroke: "#2a2825", "stroke-width": 1.6 }), hand);
    return {
      face: make("div", { class: "face" }, face),
      show: (value) => set(hand, "transform", `rotate(${angle(value === null ? low : value).toFixed(2)} 120 148)`),
    };
  }

  function digits(meter) {
    const number = make("b");
    return {
      face: make("div", { class: "face digits" }, number),
      show: (value) => say(number, Page.number(value, places(meter))),
    };
  }

  function card(name) {
    const meter = Bench.meter(name);
    const dial = NEEDLES.has(name) ? needle(meter) : digits(meter);
    const text = make("span", { class: "unseen" });
    const note = button("Note", () => Bench.act({ act: "read", meter: name }), {
      "aria-label": `Note: ${title(name)}`,
    });
    const element = make(
      "section",
      { class: "meter", "aria-label": `Meter: ${title(name)}`, title: meter.about },
      dial.face,
      make("div", { class: "row" }, make("h2", {}, onCase(name), text), note),
    );
    const show = (value) => {
      dial.show(value);
      // Only for a reader that goes there: it is not spoken by itself.
      if (NEEDLES.has(name)) say(text, ` ${reading(name, value)}`);
    };
    return { element, show };
  }

  const hooks = new Map();
  function hook(meter) {
    const name = meter.meter;
    const one = button(title(name), () => Bench.act({ act: cards.has(name) ? "unclip" : "clip", meter: name }), {
      title: meter.about,
      "aria-pressed": "false",
    });
    hooks.set(name, one);
    return one;
  }

  Bench.onFrame((frame) => {
    const names = Object.keys(frame.clipped);
    if (hooks.size === 0) at("hooks").append(...Bench.help().meters.map(hook));
    for (const [name, one] of hooks) set(one, "aria-pressed", String(names.includes(name)));
    for (const [name, one] of cards) {
      if (!names.includes(name)) {
        one.element.remove();
        cards.delete(name);
      }
    }
    for (const name of names) {
      if (!cards.has(name)) {
        cards.set(name, card(name));
        at("meters").append(cards.get(name).element);
      }
      cards.get(name).show(frame.clipped[name]);
    }
  });

  return { title, plain, places, reading };
})();
