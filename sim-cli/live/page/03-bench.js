// The bench: sends acts, keeps the clock, hands each frame to whoever shows something.
const Bench = (() => {
  const data = JSON.parse(Page.at("data").textContent);
  const shows = [];
  const KEPT = `quarterturn bench ${data.mark}`;
  const FRAME_S = 0.05;
  const CATCH_UP_S = 1;
  const KEEP_EVERY_MS = 5000;
  const reduced = matchMedia("(prefers-reduced-motion: reduce)");
  let help = null;
  let frame = null;
  let pace = 1;
  let last = null;
  let due = 0;
  let saved = 0;

  const ask = (act) => JSON.parse(Module.answer(JSON.stringify(act)));
  const tell = (words) =>
    Page.say(Page.at("sentence"), `${frame ? `${Page.clock(frame.time_s)} ` : ""}${Meters.plain(words)}`);

  function show(next, act) {
    frame = next;
    for (const each of shows) each(frame, act);
  }

  // Does an act of a hand. An answer that is an error is told, nothing else changes.
  function act(what) {
    const answer = ask(what);
    if (answer.error) {
      tell(answer.error);
      return false;
    }
    show(answer, what);
    keep();
    return true;
  }

  // A browser that keeps nothing lets the bench work all the same, but not over a reload.
  function keep() {
    saved = performance.now();
    try {
      localStorage.setItem(KEPT, JSON.stringify(ask({ act: "session" })));
    } catch {
      saved += 60 * KEEP_EVERY_MS;
    }
  }

  function kept() {
    try {
      return JSON.parse(localStorage.getItem(KEPT));
    } catch {
      return null;
    }
  }

  function begin() {
    const first = ask({ ...data.begin, act: "begin" });
    show(first.error ? ask({ act: "look" }) : first, null);
    if (first.error) tell(first.error);
  }

  function anew() {
    begin();
    keep();
  }

  function start() {
    help = ask({ act: "help" });
    const before = kept();
    const again = before && before.acts.length > 0 ? ask({ act: "replay", session: before }) : null;
    if (again && !again.error) {
      show(again, null);
      tell("Your notebook is as you left it, and so is the car.");
    } else begin();
    requestAnimationFrame(run);
    addEventListener("pagehide", keep);
  }

  function run(now) {
    const passed = last === null ? 0 : (now - last) / 1000;
    last = now;
    if (pace > 0 && !(frame.task && frame.task.prediction_due)) {
      // A hidden page has its clock held back: it catches up a second at most.
      due += Math.min(passed, CATCH_UP_S);
      if (due >= (reduced.matches ? 4 : 1) * FRAME_S) {
        const wait = { act: "wait", seconds: Math.min(due, CATCH_UP_S) * pace };
        due = 0;
        const answer = ask(wait);
        if (answer.error) {
          setPace(0);
          tell(answer.error);
        } else show(answer, wait);
        if (passed > 3 * CATCH_UP_S) tell("The page was out of sight: the bench stood still meanwhile.");
        if (now - saved > KEEP_EVERY_MS) keep();
      }
    } else due = 0;
    requestAnimationFrame(run);
  }

  const onPace = [];
  function setPace(to) {
    pace = to;
    due = 0;
    for (const each of onPace) each(pace);
  }

  return {
    data,
    act,
    ask,
    start,
    anew,
    tell,
    setPace,
    onFrame: (each) => shows.push(each),
    onPace: (each) => onPace.push(each),
    frame: () => frame,
    help: () => help,
    pace: () => pace,
    meter: (name) => help.meters.find((meter) => meter.meter === name),
    caution: (name) => help.acts.find((one) => one.act === name)?.caution || "",
  };
})();
