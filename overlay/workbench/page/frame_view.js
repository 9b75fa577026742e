// The frame on a canvas: temperatures as colours, and what lies over them. Pixels are (column, row), (0, 0) the
// centre of the top-left one.

import * as draw from "./frame_draw.js";
import { contains, ringArea, ringsOf } from "./geometry.js";
import * as look from "./look_draw.js";

const ISOTHERM = [57, 217, 138]; // a green that no scale has
const NOTHING = [128, 128, 128]; // where there is no value
const REACH = 10; // how near a pointer must be to a point, in screen pixels

export class FrameView {
  constructor(canvas, on) {
    this.canvas = canvas;
    this.on = on;
    this.context = canvas.getContext("2d");
    this.picture = document.createElement("canvas");
    this.rows = this.cols = 0;
    this.zoom = 1;
    this.shift = [0, 0];
    this.mirrored = false;
    this.layers = { rings: [], stale: false, points: [], ghosts: [], spots: [], marks: [], looks: new Map() };
    this.isotherm = null; // the span whose pixels stand out: [low, high]
    this.crosshair = null;
    this.selected = null;
    this.pressed = null;
    this.magnify = null;
    this.asked = false;
    this.fitted = true;
    new ResizeObserver(() => this.resize()).observe(canvas);
    canvas.addEventListener("pointerdown", (event) => this.down(event));
    canvas.addEventListener("pointermove", (event) => this.move(event));
    canvas.addEventListener("pointerup", (event) => this.up(event));
    canvas.addEventListener("pointercancel", (event) => this.up(event, true));
    canvas.addEventListener("pointerleave", () => !this.pressed && this.on.leave());
    canvas.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    canvas.addEventListener("contextmenu", (event) => event.preventDefault());
    canvas.addEventListener("focus", () => this.draw());
    canvas.addEventListener("blur", () => this.draw());
  }

  // ---- the picture

  show(values, rows, cols) {
    const same = rows === this.rows && cols === this.cols;
    [this.values, this.rows, this.cols] = [values, rows, cols];
    this.picture.width = cols;
    this.picture.height = rows;
    if (!same) {
      this.crosshair = null;
      this.fit();
    }
  }

  clear() {
    this.values = null;
    this.rows = this.cols = 0;
    this.draw();
  }

  paint(colors, low, high) {
    if (!this.values) return;
    const context = this.picture.getContext("2d");
    const image = context.createImageData(this.cols, this.rows);
    const span = Math.max(high - low, 1e-6);
    for (let index = 0; index < this.values.length; index += 1) {
      const at = Math.round(((this.values[index] - low) / span) * 255);
      const value = this.values[index];
      const within = this.isotherm && value >= this.isotherm[0] && value <= this.isotherm[1];
      const color = within ? ISOTHERM : Number.isNaN(at) ? NOTHING : colors[Math.min(255, Math.max(0, at))];
      image.data[4 * index] = color[0];
      image.data[4 * index + 1] = color[1];
      image.data[4 * index + 2] = color[2];
      image.data[4 * index + 3] = 255;
    }
    context.putImageData(image, 0, 0);
    this.draw();
  }

  temperature([x, y]) {
    const [column, row] = [Math.round(x), Math.round(y)];
    if (!this.values || column < 0 || row < 0 || column >= this.cols || row >= this.rows) return null;
    return this.values[row * this.cols + column];
  }

  inside([x, y]) {
    return x >= -0.5 && y >= -0.5 && x <= this.cols - 0.5 && y <= this.rows - 0.5;
  }

  // ---- where things are

  resize() {
    const box = this.canvas.getBoundingClientRect();
    this.ratio = window.devicePixelRatio || 1;
    this.canvas.width = Math.max(1, Math.round(box.width * this.ratio));
    this.canvas.height = Math.max(1, Math.round(box.height * this.ratio));
    if (this.fitted) this.fit();
    else this.draw();
  }

  fit() {
    const box = this.canvas.getBoundingClientRect();
    this.fitted = true;
    if (!this.cols || !box.width) return;
    this.zoom = Math.min((box.width - 16) / this.cols, (box.height - 16) / this.rows);
    this.shift = [(box.width - this.zoom * (this.cols - 1)) / 2, (box.height - this.zoom * (this.rows - 1)) / 2];
    this.draw();
  }

  mirror(on) {
    this.mirrored = on;
    this.draw();
  }

  toScreen([x, y]) {
    return [(this.mirrored ? this.cols - 1 - x : x) * this.zoom + this.shift[0], y * this.zoom + this.shift[1]];
  }

  toPixel([x, y]) {
    const column = (x - this.shift[0]) / this.zoom;
    return [this.mirrored ? this.cols - 1 - column : column, (y - this.shift[1]) / this.zoom];
  }

  zoomAt([x, y], factor) {
    const zoom = Math.min(80, Math.max(0.2, this.zoom * factor));
    const by = zoom / this.zoom;
    this.shift = [x - (x - this.shift[0]) * by, y - (y - this.shift[1]) * by];
    this.zoom = zoom;
    this.fitted = false;
    this.draw();
  }

  zoomMiddle(factor) {
    const box = this.canvas.getBoundingClientRect();
    this.zoomAt(this.crosshair ? this.toScreen(this.crosshair) : [box.width / 2, box.height / 2], factor);
  }

  reveal(pixel) {
    const box = this.canvas.getBoundingClientRect();
    const [x, y] = this.toScreen(pixel);
    const edge = 24;
    if (x < edge) this.shift[0] += edge - x;
    if (y < edge) this.shift[1] += edge - y;
    if (x > box.width - edge) this.shift[0] -= x - box.width + edge;
    if (y > box.height - edge) this.shift[1] -= y - box.height + edge;
    this.draw();
  }

  // ---- the pointer

  place(event) {
    const box = this.canvas.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  pointNear(screen) {
    let best = null;
    let least = REACH;
    this.layers.points.forEach((point, index) => {
      const [x, y] = this.toScreen(point.pixel);
      const distance = Math.hypot(x - screen[0], y - screen[1]);
      if (distance <= least) [best, least] = [index, distance];
    });
    return best;
  }

  ringAt(pixel) {
    // small bodies lie over large ones
    let best = null;
    let least = Infinity;
    for (const ring of this.layers.rings) {
      if (!ring.name) continue;
      const area = ringArea(ring.points);
      if (area < least && contains(ring.points, pixel)) [best, least] = [ring.name, area];
    }
    return best;
  }

  down(event) {
    if (!this.cols) return;
    this.canvas.focus({ preventScroll: true });
    const screen = this.place(event);
    const pixel = this.toPixel(screen);
    this.canvas.setPointerCapture(event.pointerId);
    const pan = event.button === 1 || event.button === 2 || event.shiftKey;
    this.pressed = { screen, shift: [...this.shift], moved: false, wish: null, offset: [0, 0] };
    if (!pan && event.button === 0) {
      const wish = this.on.grab(pixel, this.pointNear(screen));
      if (wish) {
        this.pressed.wish = wish;
        // a point keeps its distance to the pointer that took it
        if (wish.from) this.pressed.offset = [wish.from[0] - pixel[0], wish.from[1] - pixel[1]];
        this.magnify = wish.plain ? null : wish.from ?? pixel;
        this.on.drag(wish, wish.from ?? pixel, false);
        this.draw();
      }
    }
  }

  move(event) {
    const screen = this.place(event);
    const pixel = this.toPixel(screen);
    if (!this.pressed) {
      this.on.hover(this.inside(pixel) ? pixel : null);
      return;
    }
    const pressed = this.pressed;
    const [dx, dy] = [screen[0] - pressed.screen[0], screen[1] - pressed.screen[1]];
    pressed.moved ||= Math.hypot(dx, dy) > 3;
    if (pressed.wish) {
      const to = this.kept([pixel[0] + pressed.offset[0], pixel[1] + pressed.offset[1]]);
      this.magnify = pressed.wish.plain ? null : to;
      // where outlines will follow, one drawing shows both
      if (!pressed.moved || !this.on.drag(pressed.wish, to, true)) this.draw();
    } else if (pressed.moved) {
      this.shift = [pressed.shift[0] + dx, pressed.shift[1] + dy];
      this.fitted = false;
      this.draw();
    }
  }

  up(event, cancelled = false) {
    const pressed = this.pressed;
    if (!pressed) return;
    this.pressed = this.magnify = null;
    const pixel = this.toPixel(this.place(event));
    if (pressed.wish) {
      const to = this.kept([pixel[0] + pressed.offset[0], pixel[1] + pressed.offset[1]]);
      this.on.drop(pressed.wish, to, pressed.moved, cancelled);
    } else if (!pressed.moved && !cancelled && event.button === 0 && this.inside(pixel)) {
      this.on.click(pixel);
    }
    this.draw();
  }

  kept([x, y]) {
    return [Math.min(this.cols - 0.5, Math.max(-0.5, x)), Math.min(this.rows - 0.5, Math.max(-0.5, y))];
  }

  wheel(event) {
    event.preventDefault();
    this.zoomAt(this.place(event), Math.exp(-event.deltaY * (event.deltaMode === 1 ? 0.05 : 0.0016)));
  }

  // ---- drawing

  // drawn at once: an answer comes between two pictures of the screen, and waiting for the next would lose one
  follow(sizes, names, cells) {
    this.layers.rings = ringsOf(sizes, names, cells);
    this.layers.stale = false;
    this.drawNow();
  }

  draw() {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      this.drawNow();
    });
  }

  drawNow() {
    const context = this.context;
    context.setTransform(this.ratio ?? 1, 0, 0, this.ratio ?? 1, 0, 0);
    const box = this.canvas.getBoundingClientRect();
    context.clearRect(0, 0, box.width, box.height);
    this.names = []; // boxes of the names drawn so far
    if (!this.values) return;
    draw.picture(this, context);
    draw.rings(this, context);
    for (const ghost of this.layers.ghosts) draw.ghost(this, context, ghost);
    for (const spot of this.layers.spots) draw.spot(this, context, spot);
    // the selected point has the first choice of room for its name
    const order = this.layers.points.map((_, index) => index).sort((one, other) => (other === this.selected) - (one === this.selected));
    for (const index of order) draw.point(this, context, this.layers.points[index], index === this.selected);
    for (const mark of this.layers.marks) look.mark(this, context, mark, mark === this.layers.chosenMark);
    if (this.crosshair && !this.pressed?.wish) draw.crosshair(this, context, this.crosshair, box);
    if (this.magnify) draw.lens(this, context, this.magnify, box);
  }
}
