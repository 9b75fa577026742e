// The frame on a canvas: temperatures as colours, and what lies over them. Pixels are (column, row), (0, 0) the
// centre of the top-left one.

const NOWHERE = -(2 ** 31);
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
    this.layers = { rings: [], stale: false, points: [], ghosts: [], spots: [], looks: new Map() };
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
      const color = colors[Math.min(255, Math.max(0, Number.isNaN(at) ? 0 : at))];
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
        this.magnify = wish.from ?? pixel;
        this.on.drag(wish, this.magnify, false);
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
      this.magnify = to;
      if (pressed.moved) this.on.drag(pressed.wish, to, true);
      this.draw();
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

  rings(sizes, names, cells) {
    this.layers.rings = ringsOf(sizes, names, cells);
    this.layers.stale = false;
    this.draw();
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
    if (!this.values) return;
    this.drawPicture(context, this.picture);
    this.drawRings(context);
    for (const ghost of this.layers.ghosts) this.drawGhost(context, ghost);
    for (const spot of this.layers.spots) this.drawSpot(context, spot);
    this.layers.points.forEach((point, index) => this.drawPoint(context, point, index === this.selected));
    if (this.crosshair && !this.pressed?.wish) this.drawCrosshair(context, this.crosshair, box);
    if (this.magnify) this.drawLens(context, this.magnify, box);
    this.on.drawn?.();
  }

  drawPicture(context, picture) {
    const [x, y] = this.toScreen([this.mirrored ? this.cols - 0.5 : -0.5, -0.5]);
    context.save();
    context.imageSmoothingEnabled = false;
    if (this.mirrored) {
      context.translate(x + this.cols * this.zoom, y);
      context.scale(-1, 1);
    } else {
      context.translate(x, y);
    }
    context.drawImage(picture, 0, 0, this.cols * this.zoom, this.rows * this.zoom);
    context.restore();
  }

  trace(context, points) {
    points.forEach((point, index) => {
      const [x, y] = this.toScreen(point);
      if (index) context.lineTo(x, y);
      else context.moveTo(x, y);
    });
    context.closePath();
  }

  drawRings(context) {
    const plain = new Path2D();
    const strong = [];
    for (const ring of this.layers.rings) {
      const look = ring.name ? this.layers.looks.get(ring.name) : null;
      if (look) strong.push([ring, look]);
      this.trace(plain, ring.points);
    }
    context.lineJoin = "round";
    context.setLineDash(this.layers.stale ? [3, 3] : []);
    context.strokeStyle = "rgb(0 0 0 / 0.45)";
    context.lineWidth = 2.2;
    context.stroke(plain);
    context.strokeStyle = "rgb(255 255 255 / 0.9)";
    context.lineWidth = 1;
    context.stroke(plain);
    context.setLineDash([]);
    for (const [ring, look] of strong) {
      const path = new Path2D();
      this.trace(path, ring.points);
      context.strokeStyle = "#10202f";
      context.lineWidth = look === "kept" ? 5 : 4;
      context.stroke(path);
      context.strokeStyle = "#7fe3ff";
      context.lineWidth = look === "kept" ? 3 : 2;
      context.stroke(path);
    }
  }

  drawPoint(context, point, selected) {
    const [x, y] = this.toScreen(point.pixel);
    const color = point.suspect ? "#ffb15c" : selected ? "#7fe3ff" : "#ffffff";
    if (point.clicked_px) {
      const [cx, cy] = this.toScreen(point.clicked_px);
      halo(context, color, 1, () => {
        context.setLineDash([2, 2]);
        context.moveTo(cx, cy);
        context.lineTo(x, y);
        context.rect(cx - 2.5, cy - 2.5, 5, 5);
      });
      context.setLineDash([]);
    }
    const off = point.residual_xy_px;
    if (off && this.arrows) {
      const by = this.arrows * this.zoom;
      const [dx, dy] = [(this.mirrored ? 1 : -1) * off[0] * by, -off[1] * by];
      if (Math.hypot(dx, dy) > 3) halo(context, "#ffe08a", 1.6, () => arrow(context, x, y, x + dx, y + dy));
    }
    const arm = selected ? 11 : 8;
    halo(context, color, selected ? 2 : 1.5, () => {
      for (const [ux, uy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
        context.moveTo(x + 3 * ux, y + 3 * uy);
        context.lineTo(x + arm * ux, y + arm * uy);
      }
      if (selected) context.rect(x - 7, y - 7, 14, 14);
    });
    label(context, point.name + (point.suspect ? "  suspect" : ""), x + 9, y - 9, color);
  }

  drawGhost(context, ghost) {
    const [x, y] = this.toScreen(ghost.pixel);
    halo(context, "#b8f5c8", 1.5, () => {
      context.setLineDash([3, 3]);
      context.rect(x - 9, y - 9, 18, 18);
      context.moveTo(x - 4, y);
      context.lineTo(x + 4, y);
      context.moveTo(x, y - 4);
      context.lineTo(x, y + 4);
    });
    context.setLineDash([]);
    label(context, ghost.name, x + 11, y + 16, "#b8f5c8");
  }

  drawSpot(context, spot) {
    const [x, y] = this.toScreen(spot.pixel);
    halo(context, spot.kept ? "#7fe3ff" : "#ffffff", spot.kept ? 2.2 : 1.4, () => context.rect(x - 5, y - 5, 10, 10));
    if (this.layers.spots.length <= 25 || spot.kept) label(context, String(spot.rank), x + 7, y - 6, "#ffffff");
  }

  drawCrosshair(context, pixel, box) {
    const [x, y] = this.toScreen(pixel);
    const live = document.activeElement === this.canvas;
    halo(context, live ? "#7fe3ff" : "#d8dde2", 1, () => {
      context.moveTo(0, y);
      context.lineTo(Math.max(0, x - 6), y);
      context.moveTo(x + 6, y);
      context.lineTo(box.width, y);
      context.moveTo(x, 0);
      context.lineTo(x, Math.max(0, y - 6));
      context.moveTo(x, y + 6);
      context.lineTo(x, box.height);
    });
  }

  drawLens(context, pixel, box) {
    const size = 150;
    const by = Math.max(10, this.zoom * 3);
    const [px, py] = this.toScreen(pixel);
    const x = px + 28 + size > box.width ? px - 28 - size : px + 28;
    const y = Math.min(Math.max(8, py - 28 - size), box.height - size - 8);
    context.save();
    context.beginPath();
    context.rect(x, y, size, size);
    context.clip();
    const kept = [this.zoom, [...this.shift]];
    this.zoom = by;
    this.shift = [0, 0];
    const [cx, cy] = this.toScreen(pixel);
    this.shift = [x + size / 2 - cx, y + size / 2 - cy];
    context.fillStyle = "#101214";
    context.fillRect(x, y, size, size);
    this.drawPicture(context, this.picture);
    this.drawRings(context);
    [this.zoom, this.shift] = kept;
    const [mx, my] = [x + size / 2, y + size / 2];
    halo(context, "#7fe3ff", 1, () => {
      context.moveTo(x, my);
      context.lineTo(mx - 5, my);
      context.moveTo(mx + 5, my);
      context.lineTo(x + size, my);
      context.moveTo(mx, y);
      context.lineTo(mx, my - 5);
      context.moveTo(mx, my + 5);
      context.lineTo(mx, y + size);
    });
    context.restore();
    context.strokeStyle = "#ffffff";
    context.lineWidth = 1.5;
    context.strokeRect(x, y, size, size);
  }
}

export function ringsOf(sizes, names, cells) {
  const rings = [];
  let at = 0;
  sizes.forEach((size, index) => {
    const points = [];
    let whole = true;
    for (let corner = 0; corner < size; corner += 1, at += 2) {
      whole &&= cells[at] !== NOWHERE && cells[at + 1] !== NOWHERE;
      points.push([cells[at] / 100, cells[at + 1] / 100]);
    }
    if (whole) rings.push({ name: names[index] ?? "", points });
  });
  return rings;
}

export function middleOf(points) {
  return [0, 1].map((axis) => points.reduce((sum, point) => sum + point[axis], 0) / points.length);
}

function ringArea(points) {
  let sum = 0;
  points.forEach(([x, y], index) => {
    const [nx, ny] = points[(index + 1) % points.length];
    sum += x * ny - nx * y;
  });
  return Math.abs(sum) / 2;
}

function contains(points, [x, y]) {
  let within = false;
  points.forEach(([ax, ay], index) => {
    const [bx, by] = points[(index + 1) % points.length];
    if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) within = !within;
  });
  return within;
}

function halo(context, color, width, path) {
  context.beginPath();
  path();
  context.lineCap = "butt";
  context.strokeStyle = "rgb(0 0 0 / 0.65)";
  context.lineWidth = width + 2;
  context.stroke();
  context.strokeStyle = color;
  context.lineWidth = width;
  context.stroke();
}

function arrow(context, x, y, tx, ty) {
  const angle = Math.atan2(ty - y, tx - x);
  context.moveTo(x, y);
  context.lineTo(tx, ty);
  for (const turn of [2.6, -2.6]) {
    context.moveTo(tx, ty);
    context.lineTo(tx + 6 * Math.cos(angle + turn), ty + 6 * Math.sin(angle + turn));
  }
}

function label(context, text, x, y, color) {
  context.font = "600 12px system-ui, 'Segoe UI', 'DejaVu Sans', sans-serif";
  context.lineJoin = "round";
  context.lineWidth = 3;
  context.strokeStyle = "rgb(0 0 0 / 0.75)";
  context.strokeText(text, x, y);
  context.fillStyle = color;
  context.fillText(text, x, y);
}
