// The machine: cut open and moving (teaching view), or what eye and hand reach (exercise).
(() => {
  const { make, draw, at, button, say, set } = Page;
  const INK = { stroke: "#2a2825", "stroke-width": 1.6 };
  const svg = at("machine").querySelector("svg");
  const part = (id) => svg && svg.getElementById(id);
  const scale = svg ? Number(svg.getAttribute("data-px-per-mm")) : 1;

  // Where a part turns: the last two numbers of the rotation it was drawn with.
  const turning = new Map();
  for (const id of ["lever", "arm", "wiper", "screw-head"]) {
    const element = part(id);
    const found = element && /rotate\(\S+ (\S+) (\S+)\)/.exec(element.getAttribute("transform") || "");
    if (found) turning.set(id, { element, centre: `${found[1]} ${found[2]}` });
  }
  const slide = (id, mm) => {
    const element = part(id);
    if (!element) return;
    const own = Number(element.getAttribute("data-px-per-mm")) || scale;
    set(element, "transform", `translate(0 ${(mm * own).toFixed(3)})`);
    if (element.hasAttribute("data-mm")) set(element, "data-mm", Math.abs(mm).toFixed(6));
  };
  const turn = (id, degrees) => {
    const one = turning.get(id);
    if (one) set(one.element, "transform", `rotate(${degrees.toFixed(4)} ${one.centre})`);
  };

  function cutOpen(section, pumps) {
    slide("plate", -section.plate_above_rest_mm);
    slide("rim-plate", -section.plate_above_rest_mm);
    slide("plunger", -section.plunger_mm);
    slide("screw", section.screw_mm);
    slide("stop", -section.stop_mm);
    slide("slit-plunger", -section.slit_above_mm);
    slide("gap-roller", section.roller_gap_mm);
    turn("lever", -section.lever_deg);
    turn("arm", -section.arm_deg);
    turn("wiper", -section.lever_deg);
    turn("screw-head", 360 * section.screw_turns);
    const slit = part("slit");
    if (slit) set(slit, "data-mm", section.slit_opening_mm.toFixed(6));
    const out = part("fuel-out");
    if (out) set(out, "visibility", pumps && section.slit_opening_mm > 0 ? "visible" : "hidden");
    set(at("machine"), "data-flows", String(section.slit_opening_mm > 0));
  }

  const told = (section) => [
    `Screw ${Page.turns(section.screw_turns)}.`,
    section.slit_opening_mm > 0 ? `Slit open ${section.slit_opening_mm.toFixed(2)} mm.` : "Slit shut.",
    section.roller_gap_mm > 0 ? `Roller ${section.roller_gap_mm.toFixed(2)} mm off the plunger.` : null,
  ];

  // The drawing is shown in windows: the machine, and beside it what is too small in it.
  const WINDOWS = ["screw", "roller", "slit"];
  function windows() {
    if (!svg) return;
    [...svg.querySelectorAll(":scope > g")].pop().id = "drawing";
    set(svg, "role", "img");
    set(svg, "aria-label", "The machine cut open: plate, lever, plunger, slit, screw");
    const view = make("div", { class: "view", role: "group", "aria-label": "The drawing" });
    // Where it is wider than its window, a keyboard can scroll it.
    const scrolls = () =>
      view.scrollWidth > view.clientWidth ? set(view, "tabindex", "0") : view.removeAttribute("tabindex");
    new ResizeObserver(scrolls).observe(view);
    svg.replaceWith(view);
    view.append(svg);
    const insets = make("div", { class: "insets" });
    WINDOWS.forEach((name, i) => {
      const rect = part(`inset-${i}`).querySelector("rect");
      const box = ["x", "y", "width", "height"].map((each) => rect.getAttribute(each)).join(" ");
      insets.append(
        draw("svg", { viewBox: box, class: name, "aria-hidden": "true" }, draw("use", { href: "#drawing" })),
      );
    });
    at("machine").prepend(insets);
  }
  windows();

  // From outside: the screw's head, the plate from above.
  const head = draw("g");
  const ticks = [];
  for (let i = 0; i < 32; i += 1) {
    const long = i % 8 === 0 ? 12 : i % 2 === 0 ? 8 : 5;
    ticks.push(
      draw("path", {
        d: `M0 -62V${-62 - long}`,
        transform: `rotate(${(360 * i) / 32})`,
        stroke: "#2a2825",
        "stroke-width": 1.2,
      }),
    );
  }
  const corner = (i) =>
    `${(27 * Math.sin((i * Math.PI) / 3)).toFixed(1)},${(-27 * Math.cos((i * Math.PI) / 3)).toFixed(1)}`;
  head.append(
    draw("circle", { r: 58, fill: "#d8d3ca", ...INK }),
    draw("polygon", { points: [0, 1, 2, 3, 4, 5].map(corner).join(" "), fill: "#fbfaf6", ...INK }),
    draw("path", { d: "M0 -30V-57", stroke: "#0d5a66", "stroke-width": 5 }),
  );
  const turned = make("figcaption");
  const plate = make("figcaption");
  const shade = draw("circle", { r: 58, fill: "#b3aca0", ...INK });
  const window = () => draw("svg", { viewBox: "-80 -80 160 160", "aria-hidden": "true" });
  const screw = window();
  const funnel = window();
  screw.append(...ticks, head);
  funnel.append(
    draw("circle", { r: 70, fill: "#fbfaf6", ...INK }),
    shade,
    draw("circle", { r: 7, fill: "#d8d3ca", ...INK }),
  );
  at("outside").append(make("figure", {}, screw, turned), make("figure", {}, funnel, plate));

  // Cut open or closed, where the car is no exercise.
  const cut = button("", () => Bench.act({ act: "view", to: Bench.frame().seen.section ? "exercise" : "teaching" }));
  cut.id = "opens";
  const mayCut = svg !== null && (Bench.data.begin.found ?? null) === null;
  set(at("scene"), "data-cut", String(mayCut));
  if (mayCut) at("scene").prepend(cut);

  const glasses = make("figure", { class: "glasses", hidden: true, "aria-label": "Glasses under the lines" });
  at("scene").append(glasses);
  const SIZES = [25, 50, 100, 250, 500, 1000];
  const [WIDE, TOP, FLOOR] = [62, 16, 96];
  let fills = [];
  function pour(lines) {
    glasses.hidden = !lines;
    if (!lines) return;
    const count = lines.ml.length;
    const full = SIZES.find((ml) => Math.max(...lines.ml) <= ml) || SIZES.at(-1);
    if (fills.length !== count) {
      const face = draw("svg", { viewBox: `0 0 ${count * WIDE} 118`, "aria-hidden": "true" });
      fills = lines.ml.map((_, i) => {
        const x = 8 + i * WIDE;
        const fill = draw("rect", { x: x + 1, y: FLOOR, width: 44, height: 0, fill: "#a9cfd2" });
        const glass = draw("path", { d: `M${x} ${TOP}V${FLOOR}H${x + 46}V${TOP}`, fill: "none", ...INK });
        const marks = draw("path", {
          d: [0.25, 0.5, 0.75, 1].map((part) => `M${x} ${FLOOR - 72 * part}h9`).join(""),
          ...INK,
        });
        const falls = draw("path", { d: `M${x + 23} 2V${FLOOR}`, stroke: "#0d5a66", "stroke-width": 3 });
        const number = draw(
          "text",
          { x: x + 23, y: 114, "text-anchor": "middle", "font-size": 17, fill: "#2a2825" },
          String(i + 1),
        );
        face.append(fill, falls, glass, marks, number);
        return { fill, falls };
      });
      glasses.replaceChildren(face, make("figcaption"));
    }
    lines.ml.forEach((ml, i) => {
      const high = Math.min(78, (72 * ml) / full);
      set(fills[i].fill, "y", (FLOOR - high).toFixed(1));
      set(fills[i].fill, "height", high.toFixed(1));
      set(fills[i].falls, "visibility", lines.flows[i] === "dry" ? "hidden" : "visible");
      set(fills[i].falls, "stroke-dasharray", lines.flows[i] === "drops" ? "3 12" : "none");
    });
    const flows = new Set(lines.flows);
    const word =
      flows.size === 1 ? `all ${lines.flows[0]}` : lines.flows.map((flow, i) => `${i + 1} ${flow}`).join(", ");
    say(
      glasses.lastChild,
      `Lines: ${word}. In the glasses (full mark ${full} ml): ${lines.ml.map((ml) => Page.number(ml, 1)).join(", ")} ml`,
    );
  }

  Bench.onFrame((frame) => {
    const { seen, heard } = frame;
    const open = seen.section !== null && svg !== null;
    at("machine").hidden = !open;
    at("outside").hidden = open;
    say(cut, open ? "Close it" : "Cut open");
    set(cut, "aria-label", open ? "Close it: the section" : "Cut open: the section");
    if (open) cutOpen(seen.section, heard.pump);
    set(head, "transform", `rotate(${(360 * seen.screw.turned).toFixed(2)})`);
    set(shade, "r", (58 - Math.min(14, 0.5 * seen.plate_by_eye_mm)).toFixed(1));
    say(
      turned,
      `Mixture screw: ${seen.screw.turned === 0 ? "as found" : `${Page.turns(seen.screw.turned)} from found`}`,
    );
    say(plate, `Air plate from above: ${seen.plate_by_eye_mm > 0 ? `about ${seen.plate_by_eye_mm} mm up` : "at rest"}`);
    pour(seen.glasses);
    const words = [
      ...(open ? told(seen.section) : []),
      `Key ${seen.key === "start" ? "at start" : seen.key}.`,
      seen.battery ? null : "Battery lead off.",
      seen.jumper ? "Jumper in: the pump runs." : heard.pump ? "The pump hums." : null,
      seen.fan_turns ? "The fan turns." : null,
      seen.screw.tool_in ? "Hex key in the screw." : null,
      seen.housing.loose ? "Potentiometer loose." : null,
      seen.pedal_percent > 0 ? `Pedal at ${seen.pedal_percent} %.` : null,
      seen.coolant ? `Coolant ${seen.coolant}.` : null,
      heard.hiss ? "Something hisses." : null,
      seen.dripping ? "Petrol runs from the lines." : null,
      seen.smoke === "none" ? null : `Smoke: ${seen.smoke}.`,
      seen.smell === "none" ? null : `It smells of ${seen.smell}.`,
      ...Object.entries(seen.connectors)
        .filter(([, on]) => !on)
        .map(([name]) => `Unplugged: ${name.replaceAll("-", " ")}.`),
    ];
    say(at("senses"), words.filter(Boolean).join(" "));
  });
})();
