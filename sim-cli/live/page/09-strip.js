// Strips: what the clipped meters showed over the last minutes, with the acts marked.
(() => {
  const { make, draw, at, say, set } = Page;
  const LASTS_S = 240;
  const EVERY_S = 0.5;
  const [HIGH, EDGE, HEAD, LOW] = [98, 8, 22, 76];
  let wide = 640;
  const LOOKS = [
    ["#0d5a66", "none"],
    ["#2a2825", "9 4"],
    ["#0d5a66", "3 3"],
    ["#2a2825", "12 3 3 3"],
    ["#0d5a66", "14 5"],
    ["#2a2825", "2 5"],
  ];
  const UNMARKED = ["wait", "look", "clip", "unclip", "predict", "read", "note", "snapshot", "view"];
  const kept = new Map();
  let marks = [];
  let last = -1;

  const face = draw("svg", { viewBox: `0 0 ${wide} ${HIGH}`, "aria-hidden": "true" });
  const legend = make("ul");
  at("strip").append(face, legend);

  // A word beside the mark of an act.
  function word(act) {
    if (act.act === "turn") return Page.turns(typeof act.turns === "number" ? act.turns : 0).replace(" turn", "");
    if (act.act === "key") return `key ${act.to}`;
    if (act.act === "tool") return act.in ? "key in" : "key out";
    return act.act;
  }

  function range(name, points) {
    const meter = Bench.meter(name);
    const values = points.map((point) => point[1]);
    let [low, high] = [Math.min(...values), Math.max(...values)];
    const least = 0.04 * (meter.scale[1] - meter.scale[0]);
    if (high - low < least) [low, high] = [(low + high - least) / 2, (low + high + least) / 2];
    return {
      low,
      high,
      least: Math.min(...values),
      most: Math.max(...values),
      places: Meters.places(meter),
      unit: meter.unit,
    };
  }

  // As many units as the strip has px of the page's usual type: its words are as large as others.
  function fit() {
    const type = parseFloat(getComputedStyle(document.documentElement).fontSize);
    const now = Math.round((face.clientWidth * 18) / type);
    if (now === 0 || now === wide) return;
    wide = now;
    set(face, "viewBox", `0 0 ${wide} ${HIGH}`);
  }

  function paint(now) {
    at("strip").hidden = kept.size === 0;
    fit();
    const from = Math.max(0, now - LASTS_S);
    const x = (time) => EDGE + ((wide - 2 * EDGE) * (time - from)) / LASTS_S;
    const inside = [];
    for (let minute = Math.ceil(from / 60) * 60; minute < from + LASTS_S; minute += 60) {
      const anchor = x(minute) < 20 ? "start" : "middle";
      inside.push(
        draw("path", { d: `M${x(minute)} ${HEAD}V${LOW}`, stroke: "#cbc4b9" }),
        draw(
          "text",
          { x: x(minute), y: HIGH - 3, "font-size": 18, fill: "#57524b", "text-anchor": anchor },
          Page.clock(minute),
        ),
      );
    }
    let free = 0;
    for (const mark of marks) {
      if (mark.time < from) continue;
      const place = x(mark.time);
      inside.push(
        draw("path", { d: `M${place} ${LOW}V4l9 5l-9 5`, fill: "#2a2825", stroke: "#2a2825", "stroke-width": 1.2 }),
      );
      const long = 10 * mark.word.length;
      if (place < free || place + 12 + long > wide) continue;
      inside.push(draw("text", { x: place + 12, y: 16, "font-size": 18, fill: "#2a2825" }, mark.word));
      free = place + 18 + long;
    }
    const names = [...kept.keys()];
    names.forEach((name, i) => {
      const [stroke, dash] = LOOKS[i % LOOKS.length];
      const points = kept.get(name).filter(([time, value]) => time >= from && value !== null);
      let words = `${Meters.title(name)}: nothing`;
      if (points.length > 0) {
        const of = range(name, points);
        const y = (value) => LOW - 3 - ((LOW - HEAD - 8) * (value - of.low)) / (of.high - of.low);
        const path = points
          .map(([time, value], k) => `${k ? "L" : "M"}${x(time).toFixed(1)} ${y(value).toFixed(1)}`)
          .join("");
        inside.push(draw("path", { d: path, fill: "none", stroke, "stroke-width": 2, "stroke-dasharray": dash }));
        words = `${Meters.title(name)} ${Page.number(of.least, of.places)} to ${Page.number(of.most, of.places)}`;
      }
      if (!legend.children[i])
        legend.append(
          make(
            "li",
            {},
            draw(
              "svg",
              { viewBox: "0 0 34 8", "aria-hidden": "true" },
              draw("path", { d: "M0 4H34", stroke, "stroke-width": 2, "stroke-dasharray": dash }),
            ),
            make("span"),
          ),
        );
      say(legend.children[i].lastChild, words);
    });
    while (legend.children.length > names.length) legend.lastChild.remove();
    face.replaceChildren(...inside);
    set(at("strip"), "data-strips", String(names.length));
  }

  Bench.onFrame((frame, act) => {
    const now = frame.time_s;
    // Another car, another session, or back to a moment: what came after it is gone.
    if (!act || act.act === "replay") {
      kept.clear();
      marks = [];
      last = -1;
    } else if (now < last) {
      marks = marks.filter((mark) => mark.time <= now);
      for (const [name, points] of kept)
        kept.set(
          name,
          points.filter(([time]) => time <= now),
        );
      last = -1;
    }
    if (act && !UNMARKED.includes(act.act)) marks.push({ time: now, word: word(act) });
    for (const name of kept.keys()) if (!(name in frame.clipped)) kept.delete(name);
    if (now - last < EVERY_S && act && act.act === "wait") return;
    last = now;
    for (const [name, value] of Object.entries(frame.clipped)) {
      const points = kept.get(name) || kept.set(name, []).get(name);
      points.push([now, value]);
      while (points.length > 0 && points[0][0] < now - LASTS_S) points.shift();
    }
    marks = marks.filter((mark) => mark.time >= now - LASTS_S);
    paint(now);
  });
})();
