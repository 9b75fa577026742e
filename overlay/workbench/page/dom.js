// Elements and words on the page: text goes in as text, never as markup.

export const $ = (selector) => document.querySelector(selector);

export function el(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (value === true) made.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) made.setAttribute(name, value);
  }
  made.append(...children.filter((child) => child !== null && child !== undefined));
  return made;
}

const SVG = "http://www.w3.org/2000/svg";

export function svg(tag, attributes = {}) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  return made;
}

export const fixed = (value, digits) =>
  value === null || value === undefined || !Number.isFinite(value) ? "–" : value.toFixed(digits).replace("-", "−");

export function say(text, bad = false) {
  const status = $("#status");
  status.textContent = text;
  status.title = text;
  status.classList.toggle("bad", bad);
}

// One question with named answers; resolves to the answer's name, or "" when closed.
export function ask(words, answers) {
  const dialog = $("#ask");
  $("#ask-words").textContent = words;
  const form = dialog.querySelector("form");
  form.replaceChildren(...answers.map(([value, text]) => el("button", { value }, text)));
  dialog.returnValue = "";
  dialog.showModal();
  return new Promise((resolve) => dialog.addEventListener("close", () => resolve(dialog.returnValue), { once: true }));
}
