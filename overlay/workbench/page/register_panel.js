// What the panel beside the frame says of the control points, and the list of places to choose from.

import { $, el, fixed } from "./dom.js";
import { typedPlace } from "./register_targets.js";

const CERTAIN_PX = 0.5; // as well as a hand can place a point

export function tell(step) {
  const { state } = step;
  const { fit } = state;
  const panel = $("#fit");
  if (fit) {
    panel.replaceChildren(
      el("div", {}, el("b", { id: "rms" }, fixed(fit.rms_px, 2)), el("span", {}, " px rms")),
      el("div", {}, el("b", {}, fixed(fit.rms_mm, 3)), el("span", {}, " mm rms")),
      el("div", {}, el("b", {}, fixed(fit.mm_per_px, 3)), el("span", {}, " mm/px")),
      el("span", {}, `${fit.model}, ${state.points.length} points, arrows ×${arrowScale(state.points)}`),
    );
  } else panel.replaceChildren(...state.problems.map((text) => el("p", { class: state.points.length < 2 ? "note" : "note bad" }, text)));
  const follow = $("#follow");
  follow.hidden = !state.leader;
  follow.textContent = state.leader ? `Points from “${state.leader}”` : "";
  $("#clear").disabled = !state.points.length;
  $("#snap-all").disabled = !fit;
  $("#find").classList.toggle("strong", !fit);
  const remarks = [];
  if (step.opinion) remarks.push(note(step.opinion, step.opinion.startsWith("The frame agrees") ? "" : "warn"));
  if (state.unread) remarks.push(note(`The file could not be read: ${state.unread}`, "bad"));
  for (const point of state.points.filter((item) => item.suspect)) {
    const out = point.left_out ? " It is left out of the fit." : "";
    remarks.push(note(`${nameOf(point, step.targets)} is suspect: ${point.remark || "it disagrees with the others"}.${out}`, "bad"));
  }
  if (state.advice) {
    const { advice } = state;
    const enough = advice.u_px < CERTAIN_PX;
    const words = enough
      ? `No place is less certain than ${fixed(advice.u_px, 1)} px: the points will do.`
      : `One more point helps most at ${advice.name}, whose place is uncertain by ${fixed(advice.u_px, 1)} px.`;
    const target = step.targets.find((item) => (advice.at ? item.at === advice.at : !item.at && near(item.board_mm, advice.board_mm)));
    const item = note(words, "");
    if (target && !enough) item.append(el("button", { type: "button", onclick: () => step.arm(target.name, true) }, "Place it"));
    remarks.push(item);
  }
  for (const text of fit?.warnings ?? []) remarks.push(note(`${text[0].toUpperCase()}${text.slice(1)}.`, "warn"));
  $("#remarks").replaceChildren(...remarks);
  table(step);
  list(step, step.option);
}

export function table(step) {
  const focused = document.activeElement?.closest?.("#points tr")?.dataset.index;
  const rows = step.state.points.map((point, index) =>
    el(
      "tr",
      { tabindex: 0, "data-index": index, class: [point.suspect ? "suspect" : "", index === step.bench.frame.selected ? "kept" : ""].join(" ") },
      el("th", { scope: "row" }, nameOf(point, step.targets).replace(/ mm$/, "")),
      el("td", { class: "number" }, `${fixed(point.pixel[0], 1)}, ${fixed(point.pixel[1], 1)}`),
      el("td", { class: "number" }, fixed(point.residual_px, 2)),
      el("td", { class: "number" }, fixed(point.left_out_px, 2)),
      el(
        "td",
        { class: "acts" },
        step.state.fit ? el("button", { type: "button", "data-do": "snap", "aria-label": `Snap ${point.name}` }, "Snap") : null,
        point.clicked_px ? el("button", { type: "button", "data-do": "unsnap", title: "Back to the click", "aria-label": `Back to the click for ${point.name}` }, "↺") : null,
        el("button", { type: "button", "data-do": "remove", "aria-label": `Remove ${point.name}` }, "✕"),
      ),
    ),
  );
  $("#points tbody").replaceChildren(...rows);
  $("#points").hidden = !rows.length;
  if (focused !== undefined) (rows[Math.min(Number(focused), rows.length - 1)] ?? $("#target")).focus();
}

export function list(step, option) {
  const wanted = $("#target").value.trim().toLowerCase();
  const fits = (target) => `${target.name} ${target.words}`.toLowerCase().includes(wanted);
  const rank = (target) => (target.name.toLowerCase() === wanted ? 0 : target.name.toLowerCase().startsWith(wanted) ? 1 : 2);
  // corners and edges are many: they come with their part's name
  const wide = (target) => !target.part || wanted.startsWith(target.part.toLowerCase());
  const place = typedPlace(wanted);
  step.listed = place ? [place] : step.targets.filter((target) => wide(target) && fits(target)).sort((one, other) => rank(one) - rank(other) || one.name.localeCompare(other.name, "en", { numeric: true })).slice(0, 200);
  step.option = Math.min(Math.max(option, 0), Math.max(step.listed.length - 1, 0));
  const used = new Set((step.state?.points ?? []).map((point) => nameOf(point, step.targets)));
  $("#targets").replaceChildren(
    ...step.listed.map((target, index) =>
      el(
        "li",
        { role: "option", id: `target-${index}`, "data-target": target.name, "aria-selected": String(index === step.option) },
        el("span", {}, target.name),
        el("small", {}, [used.has(target.name) ? "has a point" : "", target.words].filter(Boolean).join(", ")),
      ),
    ),
  );
  const active = $(`#target-${step.option}`);
  $("#target").setAttribute("aria-activedescendant", active ? active.id : "");
  if (active && document.activeElement === $("#target")) active.scrollIntoView({ block: "nearest" });
}

function note(text, kind) {
  return el("p", { class: `note ${kind}` }, text);
}

// residuals are small: arrows show them larger, by a round factor
export function arrowScale(points) {
  const largest = Math.max(0, ...points.map((point) => point.residual_px ?? 0));
  return largest > 0 ? [1, 2, 5, 10, 20, 50].filter((by) => largest * by <= 14).at(-1) ?? 1 : 1;
}

export function placeOf(target) {
  return target.at ? { at: target.at } : { board_mm: target.board_mm, z_mm: target.z_mm ?? 0 };
}

function near(one, other) {
  return Math.hypot(one[0] - other[0], one[1] - other[1]) < 0.01;
}

// a point on a corner or hole is called by it
export function nameOf(point, targets) {
  if (point.at) return point.at;
  const z = point.z_mm ?? 0;
  return targets.find((target) => !target.at && near(target.board_mm, point.board_mm) && Math.abs((target.z_mm ?? 0) - z) < 0.01)?.name ?? point.name;
}
