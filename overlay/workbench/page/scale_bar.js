// The scale bar of a picture in false colour, told by two clicks on the picture and the two temperatures beside it.

import { el, say } from "./dom.js";

export class ScaleBar {
  constructor(form, look) {
    this.form = form;
    this.look = look;
    this.slot = form.querySelector("#bar-slot");
    this.ends = [];
  }

  field(name) {
    return this.form.querySelector(`[name=${name}]`);
  }

  show(file, { colours, problem }) {
    if (!colours) {
      this.slot.replaceChildren();
      this.file = null;
      return;
    }
    if (this.file !== file) this.begin(file, colours);
    const typed = this.field("scale_bar").value.split(",").map(Number);
    if (this.ends.length !== 1) this.ends = typed.length === 4 && typed.every(Number.isFinite) ? [typed.slice(0, 2), typed.slice(2)] : [];
    this.words.textContent = this.ends.length === 0
      ? "This is a picture in false colour. Click the middle of one end of its scale bar, inside the colours."
      : this.ends.length === 1
        ? "Now the middle of the other end."
        : !this.field("scale_c").value
          ? "Type the temperatures written at the two ends, in the order of the clicks:"
          : problem
            ? "Click two ends again where the bar is not well told."
            : "Read by its colours. Two more clicks tell the bar anew.";
    this.draw();
  }

  begin(file, colours) {
    this.file = file;
    this.colours = colours;
    this.ends = [];
    const [rows, cols] = colours.shape;
    this.canvas = el("canvas", { width: cols, height: rows, "aria-label": "Picture: click the two ends of its scale bar; or type their pixels under “Instrument, window, units”" });
    this.words = el("p", { class: "note" });
    const ends = ["first", "second"].map((name) => el("input", { type: "text", inputmode: "decimal", "aria-label": `°C at the ${name} end`, placeholder: `°C, ${name}`, size: 8 }));
    for (const end of ends) {
      end.addEventListener("input", (event) => {
        event.stopPropagation(); // the form looks once both are there
        if (ends.every((field) => field.value.trim())) {
          this.field("scale_c").value = ends.map((field) => field.value.replace(",", ".")).join(", ");
          this.field("scale_c").dispatchEvent(new Event("input", { bubbles: true }));
        }
      });
    }
    this.temperatures = ends;
    const image = new ImageData(cols, rows);
    const bytes = Uint8Array.from(atob(colours.rgb), (letter) => letter.charCodeAt(0));
    for (let index = 0; index < rows * cols; index += 1) image.data.set([bytes[3 * index], bytes[3 * index + 1], bytes[3 * index + 2], 255], 4 * index);
    this.image = image;
    this.canvas.addEventListener("click", (event) => this.clicked(event));
    this.slot.replaceChildren(el("div", { class: "scale-bar" }, this.words, el("div", { class: "row" }, ...ends), this.canvas));
    this.slot.scrollIntoView({ block: "end" });
  }

  clicked(event) {
    const box = this.canvas.getBoundingClientRect();
    const { step } = this.colours;
    // (0, 0) is the middle of the first pixel
    const pixel = [event.clientX - box.left, event.clientY - box.top].map((value) => Math.round(((value * this.canvas.width) / box.width - 0.5) * step));
    this.ends = this.ends.length === 1 ? [...this.ends, pixel] : [pixel];
    if (this.ends.length === 2) {
      this.field("scale_bar").value = this.ends.flat().join(", ");
      this.temperatures[0].focus();
      this.look();
    } else {
      this.words.textContent = "Now the middle of the other end.";
      this.draw();
    }
    say(`Scale bar: ${this.ends.length === 1 ? "first" : "second"} end at ${pixel.join(", ")}`);
  }

  draw() {
    const context = this.canvas.getContext("2d");
    context.putImageData(this.image, 0, 0);
    const places = this.ends.map((end) => end.map((value) => value / this.colours.step + 0.5));
    for (const [color, width] of [["#000000", 4], ["#ffffff", 1.5]]) {
      context.strokeStyle = color;
      context.lineWidth = width;
      context.beginPath();
      for (const [x, y] of places) context.rect(x - 4, y - 4, 8, 8);
      if (places.length === 2) {
        context.moveTo(...places[0]);
        context.lineTo(...places[1]);
      }
      context.stroke();
    }
  }
}
