"use strict";
// The engine: a WebAssembly module without imports. A text goes in, a text comes back.
const Module = (() => {
  const bytesOf = (base64) => Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
  const encoder = new TextEncoder();
  const decoder = new TextDecoder();
  let exports = null;

  async function start() {
    const bytes = bytesOf(document.getElementById("module").textContent.trim());
    exports = (await WebAssembly.instantiate(bytes, {})).instance.exports;
  }

  function answer(text) {
    const given = encoder.encode(text);
    const place = exports.allocate(given.length);
    new Uint8Array(exports.memory.buffer, place, given.length).set(given);
    let back;
    try {
      back = exports.answer(place, given.length);
    } catch {
      // The model broke off. The bench stands as before the act; it tells so when it is next asked.
      return answer('{"act":"look"}');
    }
    const length = new DataView(exports.memory.buffer).getUint32(back, true);
    const words = decoder.decode(new Uint8Array(exports.memory.buffer, back + 4, length));
    exports.free(place, given.length);
    exports.free(back, length + 4);
    return words;
  }

  return { start, answer };
})();
