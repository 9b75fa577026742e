// One side of the board as SVG, in millimetres with y up, as a person sees it who holds that side up.

import { svg } from "./dom.js";

export class BoardView {
  constructor(element, on) {
    this.element = element;
    this.world = element.querySelector("#world");
    this.on = on;
    this.marks = new Map();
    this.pressed = null;
    element.addEventListener("pointerdown", (event) => this.down(event));
    element.addEventListener("pointermove", (event) => this.move(event));
    element.addEventListener("pointerup", (event) => this.up(event));
    element.addEventListener("pointerleave", () => this.on.hover(null));
    element.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    new ResizeObserver(() => this.view && this.apply()).observe(element);
  }

  // `through`: the bottom as it lies under the top, the way drawings have it
  show(board, side, through = false) {
    [this.board, this.side, this.through] = [board, side, through];
    this.marks.clear();
    const flip = side === "bottom" && !through ? -1 : 1;
    this.world.setAttribute("transform", `scale(${flip} -1)`);
    this.flip = flip;
    const shapes = [svg("path", { class: "edge", d: board.outline.map(pathOf).join("") })];
    const parts = board.parts.filter((part) => part.side === side);
    const order = [...parts].sort((one, other) => areaOf(other.ring) - areaOf(one.ring));
    for (const part of order) {
      if (part.mechanical && !part.known) continue;
      const shape = svg("path", { class: "part", d: pathOf(part.ring), "data-target": part.refdes });
      shape.classList.toggle("unknown", !part.known);
      shape.classList.toggle("mechanical", part.mechanical);
      const title = svg("title");
      title.textContent = [part.refdes, part.kind, part.package].filter(Boolean).join(", ");
      shape.append(title);
      shapes.push(shape);
      this.marks.set(part.refdes, [shape]);
    }
    const texts = svg("g", { class: "names" });
    for (const part of order) {
      const [width, height] = extent(part.ring);
      const size = Math.min(2.4, height * 0.6, (width / Math.max(part.refdes.length, 1)) * 1.6);
      if (size < 0.35) continue;
      const text = svg("text", {
        transform: `translate(${part.center[0]} ${part.center[1]}) scale(${flip} -1)`,
        "font-size": size.toFixed(2),
        "data-name": part.refdes,
      });
      text.textContent = part.refdes;
      texts.append(text);
    }
    this.landmarks = svg("g");
    for (const mark of board.landmarks) {
      const [x, y] = mark.center;
      const shape =
        mark.kind === "hole"
          ? svg("circle", { cx: x, cy: y, r: 1, class: "landmark", "data-target": mark.name })
          : svg("rect", { x: x - 0.8, y: y - 0.8, width: 1.6, height: 1.6, class: "landmark", "data-target": mark.name });
      const title = svg("title");
      title.textContent = mark.name;
      shape.append(title);
      this.landmarks.append(shape);
      this.marks.set(mark.name, [shape]);
    }
    this.hatches = svg("g");
    this.points = svg("g");
    this.handles = svg("g");
    this.frames = svg("g");
    this.around = null;
    this.world.replaceChildren(...shapes, this.hatches, texts, this.landmarks, this.points, this.handles, this.frames);
    this.element.setAttribute("aria-label", `Board, ${side} side`);
    this.fit();
  }

  judge(verdicts) {
    // a verdict is a fill and, besides, a hatch
    this.hatches.replaceChildren();
    for (const part of this.board.parts) {
      const shape = this.marks.get(part.refdes)?.[0];
      if (!shape || part.side !== this.side) continue;
      const verdict = verdicts?.get(part.refdes);
      for (const name of ["over", "undecided", "near", "clear", "unseen", "unrated"]) {
        shape.classList.toggle(name, name === verdict);
      }
      if (["over", "undecided", "near", "unrated"].includes(verdict)) {
        this.hatches.append(svg("path", { class: "hatch", d: pathOf(part.ring), fill: `url(#hatch-${verdict})` }));
      }
      const text = this.world.querySelector(`text[data-name="${CSS.escape(part.refdes)}"]`);
      text?.classList.toggle("judged", Boolean(verdict));
      text?.classList.toggle("on-over", verdict === "over");
      text?.classList.toggle("on-unseen", verdict === "unseen");
    }
  }

  // corners and edges' middles of one body, to be pointed at
  handle(targets) {
    this.handles.replaceChildren(
      ...targets.map((target) => {
        const [x, y] = target.board_mm;
        const size = target.size;
        const shape = svg("rect", { x: x - size / 2, y: y - size / 2, width: size, height: size, class: "handle", "data-target": target.name });
        const title = svg("title");
        title.textContent = target.name;
        shape.append(title);
        return shape;
      }),
    );
  }

  // what is in each planned shot's frame, with the cross under its lens
  fields(shots) {
    this.frames?.replaceChildren(
      ...shots.flatMap((shot) => {
        const [x, y] = shot.aim_mm;
        const name = `shot ${shot.number}`;
        const shape = svg("path", { class: "field", d: `${pathOf(shot.corners_mm)}M${x - 1.6} ${y}h3.2M${x} ${y - 1.6}v3.2` });
        this.marks.set(name, [shape]);
        const west = Math.min(...shot.corners_mm.map((corner) => corner[0] * this.flip)) * this.flip;
        const north = Math.max(...shot.corners_mm.map((corner) => corner[1]));
        const text = svg("text", { class: "field-name", transform: `translate(${west} ${north}) scale(${this.flip} -1)`, x: 2.6, y: 3, "font-size": 4 });
        text.textContent = String(shot.number);
        return [shape, text];
      }),
    );
    const corners = shots.flatMap((shot) => shot.corners_mm);
    this.around = corners.length ? corners : null;
    if (this.view) this.fit();
  }

  used(places) {
    this.points.replaceChildren(
      ...places.map(([x, y]) => svg("path", { class: "used", d: `M${x - 1.1} ${y}h2.2M${x} ${y - 1.1}v2.2` })),
      ...(this.seen ? [this.seen] : []),
    );
  }

  // the place the pointer shows in the frame
  spot(place) {
    this.seen?.remove();
    this.seen = place && svg("circle", { class: "seen", cx: place[0], cy: place[1], r: 0.9 });
    if (this.seen) this.points?.append(this.seen);
  }

  look(name, looks) {
    for (const shape of this.world.querySelectorAll(`.${name}`)) shape.classList.remove(name);
    for (const target of looks) for (const shape of this.marks.get(target) ?? []) shape.classList.add(name);
  }

  // ---- pan and zoom

  fit() {
    let [west, south, east, north] = this.board.bounds;
    for (const [x, y] of this.around ?? []) [west, south, east, north] = [Math.min(west, x), Math.min(south, y), Math.max(east, x), Math.max(north, y)];
    const edge = 3;
    const x = this.flip === 1 ? west : -east;
    this.view = [x - edge, -north - edge, east - west + 2 * edge, north - south + 2 * edge];
    this.apply();
  }

  apply() {
    this.element.setAttribute("viewBox", this.view.join(" "));
  }

  toWorld(event) {
    const matrix = this.element.getScreenCTM();
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
    return [point.x, point.y];
  }

  zoomAt([x, y], factor) {
    const width = Math.min(2000, Math.max(1, this.view[2] / factor));
    const by = width / this.view[2];
    this.view = [x - (x - this.view[0]) * by, y - (y - this.view[1]) * by, width, this.view[3] * by];
    this.apply();
  }

  zoomMiddle(factor) {
    this.zoomAt([this.view[0] + this.view[2] / 2, this.view[1] + this.view[3] / 2], factor);
  }

  wheel(event) {
    if (!this.view) return;
    event.preventDefault();
    this.zoomAt(this.toWorld(event), Math.exp(-event.deltaY * (event.deltaMode === 1 ? 0.05 : 0.0016)));
  }

  targetOf(event) {
    const under = document.elementFromPoint(event.clientX, event.clientY);
    return under?.closest?.("[data-target]")?.dataset.target ?? null;
  }

  down(event) {
    if (!this.view) return;
    this.pressed = { at: [event.clientX, event.clientY], view: [...this.view], moved: false };
    this.element.setPointerCapture(event.pointerId);
  }

  move(event) {
    if (!this.pressed) {
      this.on.hover(this.targetOf(event));
      return;
    }
    const [dx, dy] = [event.clientX - this.pressed.at[0], event.clientY - this.pressed.at[1]];
    this.pressed.moved ||= Math.hypot(dx, dy) > 4;
    if (this.pressed.moved) {
      const matrix = this.element.getScreenCTM();
      this.view = [this.pressed.view[0] - dx / matrix.a, this.pressed.view[1] - dy / matrix.d, this.view[2], this.view[3]];
      this.apply();
    }
  }

  up(event) {
    const pressed = this.pressed;
    this.pressed = null;
    if (pressed && !pressed.moved) this.on.click(this.targetOf(event));
  }
}

function pathOf(ring) {
  return `M${ring.map(([x, y]) => `${x} ${y}`).join("L")}Z`;
}

function extent(ring) {
  return [0, 1].map((axis) => {
    const values = ring.map((point) => point[axis]);
    return Math.max(...values) - Math.min(...values);
  });
}

function areaOf(ring) {
  const [width, height] = extent(ring);
  return width * height;
}
