"use strict";
// Pictures and table answer each other: whatever carries data-part belongs to that part.
(() => {
  const details = JSON.parse(document.getElementById("details").textContent);
  const panel = document.getElementById("detail");
  const rows = [...document.querySelectorAll("#parts tbody tr")];
  const marks = new Map();
  for (const element of document.querySelectorAll("[data-part]")) {
    const part = element.dataset.part;
    if (!marks.has(part)) marks.set(part, []);
    marks.get(part).push(element);
  }
  let pointed = null;
  let kept = null;

  const set = (part, name, on) => {
    for (const element of marks.get(part) ?? []) element.classList.toggle(name, on);
  };

  const element = (tag, text) => {
    const made = document.createElement(tag);
    made.textContent = text;
    return made;
  };

  const tell = (part) => {
    const detail = details[part];
    if (!detail) return;
    const facts = document.createElement("dl");
    for (const [name, text] of detail.facts) facts.append(element("dt", name), element("dd", text));
    const content = [element("h2", part), facts];
    if (detail.why.length) {
      const list = document.createElement("ul");
      for (const text of detail.why) list.append(element("li", text));
      content.push(element("h2", "Remarks"), list);
    }
    if (detail.budget.length) {
      const table = document.createElement("table");
      const body = table.createTBody();
      for (const [name, size] of detail.budget) {
        const line = body.insertRow();
        line.append(element("td", name), element("td", `${size} K`));
        line.lastChild.className = "number";
      }
      content.push(element("h2", "Uncertainty, standard (k = 1)"), table);
    }
    panel.replaceChildren(...content);
  };

  const point = (part) => {
    if (part === pointed) return;
    if (pointed !== null) set(pointed, "pointed", false);
    pointed = part;
    if (part !== null) set(part, "pointed", true);
    if (part !== null || kept !== null) tell(part ?? kept);
  };

  const keep = (part, bring) => {
    if (kept !== null) set(kept, "kept", false);
    kept = part === kept ? null : part;
    if (kept === null) return;
    set(kept, "kept", true);
    tell(kept);
    if (bring) rows.find((row) => row.dataset.part === kept)?.scrollIntoView({ block: "nearest" });
  };

  const partOf = (target) => {
    const owner = target instanceof Element ? target.closest("[data-part]") : null;
    return owner && owner.dataset.part in details ? owner.dataset.part : null;
  };

  document.addEventListener("pointerover", (event) => point(partOf(event.target)));
  document.addEventListener("focusin", (event) => point(partOf(event.target)));
  document.addEventListener("click", (event) => {
    const part = partOf(event.target);
    if (part !== null) keep(part, event.target.closest("svg") !== null);
  });
  document.addEventListener("keydown", (event) => {
    const row = event.target instanceof Element ? event.target.closest("tr[data-part]") : null;
    if (row && (event.key === "Enter" || event.key === " ")) {
      event.preventDefault();
      keep(row.dataset.part, false);
    }
    if (row && (event.key === "ArrowDown" || event.key === "ArrowUp")) {
      event.preventDefault();
      const visible = rows.filter((other) => !other.hidden);
      visible[visible.indexOf(row) + (event.key === "ArrowDown" ? 1 : -1)]?.focus();
    }
  });

  const words = document.getElementById("words");
  const side = document.getElementById("side");
  const choices = [...document.querySelectorAll("input[name=verdict]")];
  const sift = () => {
    const wanted = words.value.trim().toLowerCase();
    const verdicts = new Set(choices.filter((choice) => choice.checked).map((choice) => choice.value));
    let count = 0;
    for (const row of rows) {
      const fits =
        verdicts.has(row.dataset.verdict) &&
        (!side.value || row.dataset.side === side.value) &&
        (!wanted || row.textContent.toLowerCase().includes(wanted));
      row.hidden = !fits;
      count += fits ? 1 : 0;
    }
    document.getElementById("shown").textContent = `${count} of ${rows.length} parts`;
  };
  const form = document.getElementById("filter");
  form.addEventListener("input", sift);
  form.addEventListener("submit", (event) => event.preventDefault());
  sift();
})();
