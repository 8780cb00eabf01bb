// The head of the page: beat, clock, pace, class view; and the line at the bottom.
(() => {
  const { draw, make, at, button, say, set } = Page;
  const PACES = [
    [0, "Stop", "Stop the clock"],
    [1, "x1", "x1, the clock as it is"],
    [10, "x10", "x10, ten times as fast, without sound"],
    [60, "x60", "x60, sixty times as fast, without sound"],
  ];
  const DOTS = 8;
  const LOST = 0.2;

  const dots = [];
  const row = draw(
    "svg",
    { viewBox: "0 0 152 26", "aria-hidden": "true" },
    draw("path", { d: "M4 13H148", stroke: "#6e675d", "stroke-width": 1.5 }),
  );
  for (let i = 0; i < DOTS; i += 1) {
    const dot = draw("circle", {
      cx: 10 + i * 18.5,
      cy: 13,
      r: 5,
      fill: "#d8d3ca",
      stroke: "#2a2825",
      "stroke-width": 1.6,
    });
    dots.push(dot);
    row.append(dot);
  }
  const word = make("b");
  at("beat").append(make("span", { class: "soft" }, "Beat"), row, word);
  let works = [];

  const paces = PACES.map(([pace, words, label]) => button(words, () => Bench.setPace(pace), { "aria-label": label }));
  at("paces").append(...paces);
  const mark = (now) => PACES.forEach(([pace], i) => set(paces[i], "aria-pressed", String(pace === now)));
  Bench.onPace(mark);
  mark(1);

  at("large").addEventListener("click", () => {
    const large = document.documentElement.classList.toggle("large");
    set(at("large"), "aria-pressed", String(large));
  });

  at("speak").addEventListener("click", () => {
    const frame = Bench.frame();
    const words = Object.entries(frame.clipped).map(
      ([name, value]) => `${Meters.title(name)}: ${Meters.reading(name, value)}`,
    );
    const heard = frame.heard.evenness
      ? `The engine runs ${frame.heard.evenness}, ${frame.heard.speed}.`
      : `The engine is ${frame.heard.engine}.`;
    const told = `${words.join(", ") || "No meter is clipped on"}. ${heard}`;
    // The same words twice are spoken twice.
    say(at("spoken"), "");
    setTimeout(() => say(at("spoken"), told), 50);
    Bench.tell(told);
  });

  // A beat: as large as its work; a lost one is an empty ring of short strokes.
  function beats(heard) {
    works = heard.engine === "silent" ? [] : works.concat(heard.beats.map((beat) => beat[2])).slice(-DOTS);
    dots.forEach((dot, i) => {
      const work = works[works.length - DOTS + i];
      const lost = work !== undefined && work < LOST;
      const radius = work === undefined ? 2 : lost ? 6 : Math.max(2.5, Math.min(9, 6 * work));
      set(dot, "r", radius.toFixed(1));
      set(dot, "fill", lost ? "#fbfaf6" : i === DOTS - 1 && work !== undefined ? "#0d5a66" : "#d8d3ca");
      set(dot, "stroke-dasharray", lost ? "3 2" : "none");
    });
    const pitch = heard.speed && heard.speed !== "steady" ? `, ${heard.speed}` : "";
    say(word, heard.engine === "running" ? `${heard.evenness}${pitch}` : heard.engine);
  }

  let told = "";
  Bench.onFrame((frame, act) => {
    say(at("clock"), Page.clock(frame.time_s));
    beats(frame.heard);
    const byHand = !act || act.act !== "wait";
    if (frame.sentence && (byHand || frame.sentence !== told)) Bench.tell(frame.sentence);
    told = frame.sentence;
  });
})();
