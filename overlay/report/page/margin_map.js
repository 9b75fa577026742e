"use strict";
// Pictures and table answer each other: whatever carries data-part belongs to that part.
(() => {
  const packed = JSON.parse(document.getElementById("details").textContent);
  const told = (value) => (Array.isArray(value) ? value.map(told) : packed.texts[value]);
  const details = packed.parts;
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
    if (!Object.hasOwn(details, part)) return;
    const [known, budget, why] = told(details[part]);
    const facts = document.createElement("dl");
    for (const [name, text] of known) facts.append(element("dt", name), element("dd", text));
    const content = [element("h2", part), facts];
    if (why.length) {
      const list = document.createElement("ul");
      for (const text of why) list.append(element("li", text));
      content.push(element("h2", "Remarks"), list);
    }
    if (budget.length) {
      const table = document.createElement("table");
      const body = table.createTBody();
      for (const [name, size] of budget) {
        const line = body.insertRow();
        line.append(element("td", name), element("td", `${size} K`));
        line.lastChild.className = "n";
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
    if (bring) show(rows.find((row) => row.dataset.part === kept && !row.hidden));
  };

  // Brings a row into sight within its table's own box: the page itself never jumps.
  const show = (row) => {
    const box = row?.closest(".scroll");
    if (!box) return;
    const [own, around] = [row.getBoundingClientRect(), box.getBoundingClientRect()];
    const head = box.querySelector("thead").offsetHeight;
    if (own.top < around.top + head) box.scrollTop += own.top - around.top - head;
    if (own.bottom > around.bottom) box.scrollTop += own.bottom - around.bottom;
  };

  const partOf = (target) => {
    const owner = target instanceof Element ? target.closest("[data-part]") : null;
    return owner && Object.hasOwn(details, owner.dataset.part) ? owner.dataset.part : null;
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
      const visible = [...row.parentElement.rows].filter((other) => !other.hidden);
      const next = visible[visible.indexOf(row) + (event.key === "ArrowDown" ? 1 : -1)];
      next?.focus({ preventScroll: true });
      show(next);
    }
  });

  // A heading sorts its table: once upwards, once downwards, then as the report has it. What is missing stays last.
  const figure = (text) => {
    const found = text.replace(/\u2212/g, "-").match(/-?\d+(\.\d+)?/);
    if (!found) return null;
    return Number(found[0]) + (/^[>\u2265]/.test(text) ? 1e-6 : /^[<\u2264]/.test(text) ? -1e-6 : 0);
  };
  const sorted = (lines, column, numeric, sense) => {
    const keys = new Map(
      lines.map((line) => {
        const text = line.cells[column].textContent.trim();
        return [line, numeric ? figure(text) : /^[\u2013]?$/.test(text) ? null : text];
      }),
    );
    return [...lines].sort((one, other) => {
      const [a, b] = [keys.get(one), keys.get(other)];
      if (a === null || b === null) return (a === null) - (b === null);
      return sense * (numeric ? a - b : a.localeCompare(b, "en", { numeric: true }));
    });
  };
  for (const table of document.querySelectorAll("main table")) {
    const body = table.tBodies[0];
    const given = [...body.rows];
    const heads = [...(table.tHead?.rows[0].cells ?? [])];
    heads.forEach((head, column) => {
      // no button in it: headings that hold one are not printed again on each page
      head.tabIndex = 0;
      head.title = "Sort by this column";
      head.addEventListener("keydown", (event) => {
        if (event.key !== "Enter" && event.key !== " ") return;
        event.preventDefault();
        head.click();
      });
      head.addEventListener("click", () => {
        const next = { none: "ascending", ascending: "descending", descending: "none" }[head.ariaSort ?? "none"];
        for (const other of heads) other.ariaSort = null;
        if (next !== "none") head.ariaSort = next;
        const sense = next === "descending" ? -1 : 1;
        body.append(...(next === "none" ? given : sorted(given, column, head.classList.contains("n"), sense)));
      });
    });
  }

  // A picture over the whole window; it goes back to its place when that is closed.
  const dialog = document.getElementById("enlarged");
  const place = document.createElement("div");
  document.addEventListener("click", (event) => {
    const button = event.target instanceof Element ? event.target.closest("button.enlarge") : null;
    if (!button) return;
    const picture = button.closest("figure");
    place.style.minHeight = `${picture.offsetHeight}px`;
    picture.replaceWith(place);
    dialog.append(picture);
    dialog.showModal();
  });
  dialog.addEventListener("close", () => {
    const picture = dialog.querySelector("figure");
    place.replaceWith(picture);
    picture.querySelector("button.enlarge").focus({ preventScroll: true });
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
