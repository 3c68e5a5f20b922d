// The disc as a map that can be enlarged: marks come as columns, are drawn into a pixel buffer and found by their time.
// At its own size the drawing of the server stands (with off-centre and labels); enlarged, the canvas takes its place.

const TURN = Math.PI / 180;
export const FAILS = 1;
const MANY = 2000; // more marks than this are in no drawing of the server, but here

/** Columns of the marks of a side; see workflow/pages/recording.py. */
export class Marks {
  constructor(buffer) {
    const n = new DataView(buffer).getUint32(0, true);
    const column = (place) => new Float32Array(buffer, 4 + 4 * n * place, n);
    this.count = n;
    this.time = column(0);
    this.angle = column(1);
    this.radius = column(2);
    this.weight = column(3);
    this.flags = new Uint16Array(buffer, 4 + 16 * n, n);
    this.x = new Float32Array(n);
    this.y = new Float32Array(n);
    this.face = 0;
  }

  /** Places in millimetres, x to the right and y down; angles grow against the clock on the playing face. */
  lay(sense) {
    if (this.face === sense) return this;
    for (let k = 0; k < this.count; k += 1) {
      const a = this.angle[k] * TURN;
      this.x[k] = -sense * this.radius[k] * Math.sin(a);
      this.y[k] = -this.radius[k] * Math.cos(a);
    }
    this.face = sense;
    return this;
  }

  /** The mark nearest to a place, within `reach` millimetres; -1 for none. The radius falls as time runs. */
  near(x, y, reach) {
    const radius = Math.hypot(x, y);
    let best = -1;
    let least = reach * reach;
    for (let k = this.#first(radius + reach); k < this.count && this.radius[k] >= radius - reach; k += 1) {
      const d = (this.x[k] - x) ** 2 + (this.y[k] - y) ** 2;
      if (d < least) { least = d; best = k; }
    }
    return best;
  }

  #first(radius) {
    let low = 0;
    let high = this.count;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.radius[middle] > radius) low = middle + 1; else high = middle;
    }
    return low;
  }
}

/** Draw all marks into the pixels of a canvas: `view` holds cx, cy, scale in device pixels; colours are 0xAABBGGRR. */
export function paint(pixels, wide, high, marks, view, colours) {
  const buffer = new Uint32Array(pixels.buffer);
  const { x, y, flags, weight, count } = marks;
  const { cx, cy, scale } = view;
  const { ink, alarm } = colours;
  for (let k = 0; k < count; k += 1) {
    const px = (cx + scale * x[k]) | 0;
    const py = (cy + scale * y[k]) | 0;
    if (px < 3 || py < 3 || px >= wide - 3 || py >= high - 3) continue;
    const colour = flags[k] & FAILS ? alarm : ink;
    const at = py * wide + px;
    const loud = weight[k];
    buffer[at] = buffer[at + 1] = buffer[at + wide] = buffer[at + wide + 1] = colour;
    if (loud < 20) continue;
    const half = loud > 30 ? 3 : 2;
    for (let row = -half; row < half; row += 1) {
      for (let column = -half; column < half; column += 1) buffer[at + row * wide + column] = colour;
    }
  }
}

function colour(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}

function packed(hex) {
  const n = parseInt(hex.slice(1), 16);
  return ((255 << 24) | ((n & 255) << 16) | (n & 0xff00) | (n >> 16)) >>> 0;
}

class Disc {
  constructor(host, marks) {
    this.host = host;
    this.marks = marks.lay(host.dataset.face === "stamper" ? -1 : 1);
    this.svg = host.querySelector("svg");
    this.box = this.svg.viewBox.baseVal;
    this.zoom = 1;
    this.at = { x: 0, y: 0 };
    this.canvas = document.createElement("canvas");
    this.canvas.className = "over";
    this.canvas.setAttribute("aria-hidden", "true");
    host.append(this.canvas, this.#tools());
    this.#listen();
    new ResizeObserver(() => this.draw()).observe(host);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.draw());
  }

  value(name) { return Number(this.host.dataset[name]); }

  #tools() {
    const tools = document.createElement("div");
    tools.className = "choices tools";
    for (const [words, does] of [["Closer", () => this.closer(1.6)], ["Farther", () => this.closer(1 / 1.6)], ["Whole disc", () => this.whole()]]) {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = words;
      button.addEventListener("click", does);
      tools.append(button);
    }
    return tools;
  }

  whole() { this.zoom = 1; this.at = { x: 0, y: 0 }; this.draw(); }

  closer(by, towards = null) {
    const chosen = this.#chosen();
    const to = towards ?? (this.zoom === 1 && chosen >= 0 ? { x: this.marks.x[chosen], y: this.marks.y[chosen] } : this.at);
    this.zoom = Math.min(Math.max(this.zoom * by, 1), 60);
    this.at = this.zoom === 1 ? { x: 0, y: 0 } : to;
    this.draw();
  }

  #chosen() {
    const at = Number(this.host.dataset.at ?? NaN);
    return this.marks.time.findIndex((time) => Math.abs(time - at) < 0.002);
  }

  /** The picture's place in device pixels. */
  view() {
    const ratio = devicePixelRatio || 1;
    const unit = (this.svg.getBoundingClientRect().width || this.canvas.clientWidth) / this.box.width;
    const scale = this.value("scale") * unit * this.zoom * ratio;
    return {
      ratio, scale,
      cx: this.value("cx") * unit * ratio - scale * this.at.x,
      cy: this.value("cy") * unit * ratio - scale * this.at.y,
      wide: Math.round(this.box.width * unit * ratio),
      high: Math.round((this.value("cy") + this.value("rim") * this.value("scale") + 8) * unit * ratio),
    };
  }

  draw() {
    const view = this.view();
    const { canvas } = this;
    if (canvas.width !== view.wide) canvas.width = view.wide;
    if (canvas.height !== view.high) canvas.height = view.high;
    canvas.style.width = `${view.wide / view.ratio}px`;
    canvas.style.height = `${view.high / view.ratio}px`;
    const pen = canvas.getContext("2d");
    pen.clearRect(0, 0, view.wide, view.high);
    const enlarged = this.zoom > 1;
    this.svg.classList.toggle("under", enlarged);
    if (enlarged) this.#body(pen, view);
    if (enlarged || this.marks.count > MANY) {
      const image = pen.getImageData(0, 0, view.wide, view.high);
      paint(image.data, view.wide, view.high, this.marks, view, { ink: packed(colour("ink")), alarm: packed(colour("alarm")) });
      pen.putImageData(image, 0, 0);
    }
    if (enlarged) this.#names(pen, view);
  }

  #body(pen, view) {
    pen.fillStyle = colour("sheet");
    pen.fillRect(0, 0, view.wide, view.high);
    const ring = (radius, fill) => {
      pen.beginPath();
      pen.arc(view.cx, view.cy, radius * view.scale, 0, 2 * Math.PI);
      if (fill) { pen.fillStyle = colour(fill); pen.fill(); }
      pen.strokeStyle = colour("line");
      pen.lineWidth = view.ratio;
      pen.stroke();
    };
    ring(this.value("rim"), "disc-gap");
    ring(this.value("outer"), "disc");
    ring(this.value("inner"), "disc-gap");
    ring(this.value("finishing"));
    ring(this.value("label"), "disc-label");
    ring(this.value("hole"), "ground");
    pen.strokeStyle = colour("ink");
    pen.lineWidth = 2 * view.ratio;
    pen.beginPath();
    pen.moveTo(view.cx, view.cy - this.value("rim") * view.scale);
    pen.lineTo(view.cx, view.cy - (this.value("rim") - 3) * view.scale);
    pen.stroke();
  }

  /** Times of the marks in view, as far as there is room, the chosen one with its ring. */
  #names(pen, view) {
    const { marks } = this;
    const taken = [];
    const inView = [];
    for (let k = 0; k < marks.count && inView.length < 400; k += 1) {
      const px = view.cx + view.scale * marks.x[k];
      const py = view.cy + view.scale * marks.y[k];
      if (px > 0 && py > 0 && px < view.wide && py < view.high) inView.push([k, px, py]);
    }
    inView.sort((a, b) => marks.weight[b[0]] - marks.weight[a[0]]);
    pen.font = `${14 * view.ratio}px "Atkinson Hyperlegible Next", sans-serif`;
    pen.lineJoin = "round";
    const chosen = this.#chosen();
    for (const [k, px, py] of inView) {
      if (k === chosen) {
        pen.beginPath();
        pen.arc(px, py, 11 * view.ratio, 0, 2 * Math.PI);
        pen.strokeStyle = colour(marks.flags[k] & FAILS ? "alarm" : "ink");
        pen.lineWidth = 2.5 * view.ratio;
        pen.stroke();
      }
      const box = [px + 14 * view.ratio, py - 8 * view.ratio, px + 70 * view.ratio, py + 9 * view.ratio];
      if (box[2] > view.wide || taken.some((o) => box[0] < o[2] && o[0] < box[2] && box[1] < o[3] && o[1] < box[3])) continue;
      taken.push(box);
      pen.lineWidth = 4 * view.ratio;
      pen.strokeStyle = colour("disc-gap");
      pen.strokeText(clock(marks.time[k]), box[0], py + 5 * view.ratio);
      pen.fillStyle = colour("ink");
      pen.fillText(clock(marks.time[k]), box[0], py + 5 * view.ratio);
    }
  }

  /** Millimetres on the disc under a pointer. */
  place(event) {
    const box = this.canvas.getBoundingClientRect();
    const view = this.view();
    return {
      x: ((event.clientX - box.left) * view.ratio - view.cx) / view.scale,
      y: ((event.clientY - box.top) * view.ratio - view.cy) / view.scale,
      reach: (24 * view.ratio) / view.scale,
    };
  }

  #listen() {
    const { canvas } = this;
    let from = null;
    canvas.addEventListener("pointerdown", (event) => { from = { event, at: { ...this.at }, moved: false }; });
    canvas.addEventListener("pointermove", (event) => {
      if (from === null || this.zoom === 1) return;
      const view = this.view();
      const dx = event.clientX - from.event.clientX;
      const dy = event.clientY - from.event.clientY;
      if (Math.hypot(dx, dy) > 6) from.moved = true;
      if (!from.moved) return;
      canvas.setPointerCapture(event.pointerId);
      this.at = { x: from.at.x - (dx * view.ratio) / view.scale, y: from.at.y - (dy * view.ratio) / view.scale };
      this.draw();
    });
    canvas.addEventListener("pointerup", (event) => {
      const touched = from !== null && !from.moved;
      from = null;
      if (!touched) return;
      const { x, y, reach } = this.place(event);
      const k = this.marks.near(x, y, reach);
      if (k >= 0) location.assign(`${this.host.dataset.here}?at=${this.marks.time[k].toFixed(3)}&face=${this.host.dataset.face}`);
    });
    canvas.addEventListener("wheel", (event) => {
      if (!event.ctrlKey && this.zoom === 1) return;
      event.preventDefault();
      this.closer(event.deltaY < 0 ? 1.2 : 1 / 1.2, this.zoom === 1 ? this.place(event) : null);
    }, { passive: false });
  }
}

function clock(seconds) {
  const tenths = Math.round(seconds * 10);
  return `${Math.floor(tenths / 600)}:${String(Math.floor((tenths % 600) / 10)).padStart(2, "0")}.${tenths % 10}`;
}

const host = typeof document === "undefined" ? null : document.getElementById("disc");
if (host?.dataset.marks) {
  const answer = await fetch(host.dataset.marks);
  if (answer.ok) new Disc(host, new Marks(await answer.arrayBuffer()));
}
