"use strict";

// A bare bench: shows the frame as it is. It computes nothing.
(async function () {
  const ask = await loadModule();
  window.quarterturn = { answer: ask };

  function show(frame) {
    if (frame.error) {
      document.getElementById("sentence").textContent = frame.error;
      return;
    }
    document.getElementById("sentence").textContent = frame.sentence;
    document.getElementById("caution").textContent = frame.caution ? "Caution: " + frame.caution : "";
    document.getElementById("frame").textContent = JSON.stringify(frame, null, 1);
  }

  function act(words) {
    show(JSON.parse(ask(JSON.stringify(words))));
  }

  const tools = [
    ["Key on", { act: "key", to: "on" }],
    ["Start", { act: "key", to: "start" }],
    ["Key off", { act: "key", to: "off" }],
    ["Wait 10 s", { act: "wait", seconds: 10 }],
  ];
  for (const [label, words] of tools) {
    const button = document.createElement("button");
    button.textContent = label;
    button.addEventListener("click", () => act(words));
    document.getElementById("tools").append(button);
  }
  act(JSON.parse(document.getElementById("begin").textContent));
  document.documentElement.dataset.ready = "";
})();
