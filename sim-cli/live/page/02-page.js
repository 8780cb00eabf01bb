// Small helpers for elements. Texts are set as text, never as markup.
const Page = (() => {
  const SVG = "http://www.w3.org/2000/svg";
  const put = (element, attributes, children) => {
    for (const [name, value] of Object.entries(attributes)) {
      if (value === null || value === undefined || value === false) continue;
      if (name === "on") for (const [event, act] of Object.entries(value)) element.addEventListener(event, act);
      else element.setAttribute(name, value === true ? "" : value);
    }
    element.append(...children.flat().filter((child) => child !== null && child !== undefined));
    return element;
  };
  const make = (tag, attributes = {}, ...children) => put(document.createElement(tag), attributes, children);
  const draw = (tag, attributes = {}, ...children) => put(document.createElementNS(SVG, tag), attributes, children);
  const at = (id) => document.getElementById(id);
  const button = (words, act, attributes = {}) =>
    make("button", { type: "button", on: { click: act }, ...attributes }, words);
  const say = (element, words) => {
    if (element.textContent !== words) element.textContent = words;
  };
  const set = (element, name, value) => {
    if (element.getAttribute(name) !== value) element.setAttribute(name, value);
  };
  const clock = (seconds) => {
    const whole = Math.floor(seconds + 1e-6);
    const minutes = Math.floor(whole / 60);
    const two = (number) => String(number).padStart(2, "0");
    return minutes < 60
      ? `${minutes}:${two(whole % 60)}`
      : `${Math.floor(minutes / 60)}:${two(minutes % 60)}:${two(whole % 60)}`;
  };
  const minus = (text) => text.replace("-", "\u2212");
  const number = (value, places) => (value === null || value === undefined ? "\u2013" : minus(value.toFixed(places)));
  // Turns of the screw as a hand counts them: sixty-fourths, else three decimals.
  const turns = (value) => {
    const sign = value > 0 ? "+" : value < 0 ? "\u2212" : "";
    const size = Math.abs(value);
    let above = Math.round(size * 64);
    if (Math.abs(size * 64 - above) > 1e-6) return `${sign}${size.toFixed(3)} turn`;
    let below = 64;
    while (above > 0 && above % 2 === 0 && below > 1) [above, below] = [above / 2, below / 2];
    if (above === 0) return "0 turn";
    const whole = Math.floor(above / below);
    const rest = above % below ? `${above % below}/${below}` : "";
    return `${sign}${[whole || "", rest].filter(Boolean).join(" ")} turn`;
  };
  return { make, draw, at, button, say, set, clock, number, turns };
})();
