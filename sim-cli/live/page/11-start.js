// The page is ready once the first frame stands.
(async () => {
  try {
    await Module.start();
  } catch {
    Page.say(
      Page.at("sentence"),
      "This browser cannot run the engine: it needs WebAssembly. Any browser of the last years has it.",
    );
    return;
  }
  window.quarterturn = { answer: (text) => Module.answer(text), level: Sound.level, played: Sound.played };
  Bench.start();
  document.documentElement.setAttribute("data-ready", "");
})();
