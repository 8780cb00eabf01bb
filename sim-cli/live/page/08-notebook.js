// The notebook: the lesson's task, a prediction first, then what was done and read.
(() => {
  const { make, at, button, say } = Page;

  const choose = make("select", { "aria-label": "What it is about" });
  const value = make("input", { type: "number", step: "any", "aria-label": "What it will show" });
  const words = make("input", { type: "text", "aria-label": "In words" });
  const unit = make("span");
  const number = make("div", { class: "row" }, choose, value, unit);
  const asNote = button("Note", () => {
    if (words.value.trim() && Bench.act({ act: "note", text: words.value.trim() })) words.value = "";
    else if (!words.value.trim()) Bench.tell("Write the words of your note first.");
  });
  at("predict").append(
    make("h3", {}, "Your prediction"),
    number,
    words,
    make("div", { class: "row" }, make("button", { type: "submit" }, "Write it down"), asNote),
  );
  const shown = () => {
    const meter = Bench.meter(choose.value);
    say(unit, meter ? meter.unit : "");
    value.hidden = !meter;
  };
  choose.addEventListener("change", shown);
  at("predict").addEventListener("submit", (event) => {
    event.preventDefault();
    const act = { act: "predict" };
    if (words.value.trim()) act.text = words.value.trim();
    if (choose.value && value.value !== "") Object.assign(act, { meter: choose.value, value: value.valueAsNumber });
    if (Bench.act(act)) [words.value, value.value] = ["", ""];
  });

  let moments = 0;
  at("keep").addEventListener("click", () => Bench.act({ act: "snapshot", name: `moment ${(moments += 1)}` }));
  at("back").addEventListener("click", () => Bench.act({ act: "back" }));

  const open = make("input", { type: "file", accept: ".json,application/json", hidden: true });
  open.addEventListener("change", async () => {
    const [file] = open.files;
    open.value = "";
    if (!file) return;
    try {
      Bench.act({ act: "replay", session: JSON.parse(await file.text()) });
    } catch {
      Bench.tell("This file holds no session.");
    }
  });
  function save() {
    const text = JSON.stringify(Bench.ask({ act: "session" }));
    const url = URL.createObjectURL(new Blob([text], { type: "application/json" }));
    make("a", { href: url, download: "bench-session.json" }).click();
    setTimeout(() => URL.revokeObjectURL(url), 10000);
    Bench.tell("The session is saved as bench-session.json.");
  }
  let sure = false;
  const anew = button("Begin anew", () => {
    if (sure) Bench.anew();
    sure = !sure;
    say(anew, sure ? "Really? All is wiped" : "Begin anew");
  });
  anew.addEventListener("blur", () => {
    sure = false;
    say(anew, "Begin anew");
  });
  at("keeping").append(
    button("Save session", save),
    button("Open session", () => open.click()),
    open,
    anew,
  );

  function line(note) {
    const item = make("li", { "data-kind": note.kind }, make("span", { class: "soft" }, `${Page.clock(note.time_s)} `));
    const meter = note.meter && Bench.meter(note.meter);
    if (!meter) {
      item.append(note.kind === "prediction" ? `Prediction: ${note.text}` : Meters.plain(note.text));
      return item;
    }
    const columns = [
      ["predicted", note.predicted, ""],
      ["read", note.reading, ""],
      ["differs by", note.difference, "+"],
    ];
    const filled = columns.filter(([, number]) => number !== null);
    const text = ([, number, plus]) =>
      `${number > 0 ? plus : ""}${Page.number(number, Meters.places(meter))} ${note.unit}`;
    item.append(
      Meters.title(note.meter),
      make("dl", {}, ...filled.flatMap((column) => [make("dt", {}, column[0]), make("dd", {}, text(column))])),
    );
    return item;
  }

  let written = 0;
  function add(note) {
    if (note.n <= written) return;
    written = note.n;
    at("notes").prepend(line(note));
  }

  // Bold and list marks of a lesson's text as elements; its blanks stay.
  const plain = (text) =>
    text.split(/\*\*/).map((piece, i) => (i % 2 ? make("b", {}, piece) : piece.replaceAll("`", "")));
  let told = null;
  function lesson(task) {
    const now = task ? JSON.stringify(task) : "";
    if (now === told) return;
    told = now;
    if (!task) {
      for (const id of ["question", "task"]) at(id).replaceChildren();
      return;
    }
    const due = task.prediction_due;
    const question = make("p", {}, ...plain(task.question || ""));
    at("question").replaceChildren(
      make("p", { class: "soft" }, `Lesson ${task.lesson}: ${task.title}`),
      due ? question : make("details", {}, make("summary", {}, "What was to be predicted"), question),
      ...(due ? [make("p", {}, make("b", {}, "The car waits: write your prediction first."))] : []),
    );
    const bench = Bench.data.begin.lesson?.bench;
    at("task").replaceChildren(
      make("p", {}, make("b", {}, "Try it. "), ...plain(task.task)),
      ...(bench
        ? [make("details", { open: due }, make("summary", {}, "At the bench"), make("p", {}, ...plain(bench)))]
        : []),
    );
  }

  Bench.onFrame((frame, act) => {
    if (choose.options.length === 0) {
      choose.append(
        make("option", { value: "" }, "in words"),
        ...Bench.help().meters.map((meter) => make("option", { value: meter.meter }, Meters.title(meter.meter))),
      );
      shown();
    }
    if (!act || act.act === "replay") {
      written = 0;
      at("notes").replaceChildren();
      for (const note of Bench.ask({ act: "notes" }).notes) add(note);
    }
    for (const note of frame.notes) add(note);
    const last = frame.kept.at(-1);
    moments = frame.kept.length ? Math.max(...frame.kept.map((name) => Number(/\d+$/.exec(name)?.[0]) || 0)) : 0;
    at("back").disabled = !last;
    say(at("back"), last ? `Back to ${last}` : "Go back");
    lesson(frame.task);
  });
})();
