// A drawing or photo to zoom and move: wheel, pinch, drag, keys and buttons.

import { el } from "./dom.js";

export class Viewer {
  /** @param svg an <svg> with a viewBox; @param label what it shows, for those who do not see it. */
  constructor(svg, label, { paper = false } = {}) {
    this.svg = svg;
    const box = svg.viewBox.baseVal;
    this.whole = [box.x, box.y, box.width, box.height];
    this.home = this.whole; // what is shown at first, where there is nothing to move to
    this.box = [...this.whole];
    svg.setAttribute("preserveAspectRatio", "xMidYMid meet");
    svg.removeAttribute("width");
    svg.removeAttribute("height");
    svg.setAttribute("role", "group");
    svg.setAttribute("aria-label", label);
    this.element = el("div", { class: paper ? "viewer paper" : "viewer", tabindex: "0", role: "group", "aria-label": `${label}; plus and minus zoom, arrows move, 0 shows all` }, svg,
      el("div", { class: "zoom" },
        el("button", { type: "button", "aria-label": "Larger", onclick: () => this.zoom(1.5) }, "+"),
        el("button", { type: "button", "aria-label": "Smaller", onclick: () => this.zoom(1 / 1.5) }, "−"),
        el("button", { type: "button", "aria-label": "All of it", onclick: () => this.all() }, "⤢")));
    this.element.style.setProperty("--tall", this.whole[3] / this.whole[2]); // a small screen gives it no more room than it needs
    this.label = label;
    this.pointers = new Map();
    this.taken = null;
    this.rest();
    svg.addEventListener("wheel", (event) => {
      event.preventDefault();
      this.zoom(Math.exp(-event.deltaY * (event.ctrlKey ? 0.01 : 0.0015)), this.place(event));
    }, { passive: false });
    svg.addEventListener("pointerdown", (event) => this.down(event));
    svg.addEventListener("pointermove", (event) => this.move(event));
    for (const end of ["pointerup", "pointercancel"]) svg.addEventListener(end, (event) => this.up(event));
    this.element.addEventListener("keydown", (event) => this.key(event));
  }

  /** What a tool does: {down(place, event) → true to take the pointer, move(place), up(place), cancel()}; with keys {aims() → whether it works in the middle of the view, press(place), look(place), cancel()}. */
  tool = null;

  /** Where an event is, in the drawing's units. */
  place(event) {
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    return [point.x, point.y];
  }

  /** Drawing units to a pixel on the screen. */
  unit() {
    return 1 / this.svg.getScreenCTM().a;
  }

  /** Says to those who do not see it what keys do. */
  name(more = "") {
    this.element.setAttribute("aria-label", `${this.label}; plus and minus zoom, arrows move, 0 shows all${more && `; ${more}`}`);
  }

  show(box) {
    // However it is moved, some of it stays in sight: the middle of the view lies on it.
    const [x, y, w, h] = this.whole, on = (at, from, long) => Math.min(Math.max(at, from), from + long);
    this.box = [on(box[0], x - box[2] / 2, w), on(box[1], y - box[3] / 2, h), box[2], box[3]];
    this.svg.setAttribute("viewBox", this.box.join(" "));
    this.rest();
    this.onzoom?.();
  }

  /** Shows what is looked at first, and what a finger's way over it does not move. */
  begin(box) {
    this.home = box;
    this.show(box);
  }

  /** Whether all of it is shown, or what is looked at first. */
  get rests() { return [this.home, this.whole].some((all) => all.every((v, i) => Math.abs(v - this.box[i]) < 1e-6 * all[2])); }

  /** A finger that goes up or down over what rests, and takes nothing with a tool, scrolls the page as everywhere else. */
  rest() { this.element.classList.toggle("lets-scroll", this.rests && !this.element.classList.contains("aims")); }

  /** What lies in the middle of the view: there a tool works that is used with keys. */
  middle() { return [this.box[0] + this.box[2] / 2, this.box[1] + this.box[3] / 2]; }

  all() { this.show([...this.whole]); }

  zoom(factor, at) {
    const [x, y, w, h] = this.box;
    const f = Math.min(factor, (40 * w) / this.whole[2]);
    const [px, py] = at || [x + w / 2, y + h / 2];
    const wide = w / f, tall = h / f;
    if (wide > this.whole[2] * 1.05) return this.all();
    this.show([px - (px - x) / f, py - (py - y) / f, wide, tall]);
  }

  down(event) {
    if (event.button > 0) return;
    this.svg.setPointerCapture(event.pointerId);
    this.pointers.set(event.pointerId, this.place(event));
    if (this.pointers.size === 1 && this.tool?.down(this.place(event), event)) this.taken = event.pointerId;
    else if (this.taken !== null) { this.tool?.cancel?.(); this.taken = null; }
  }

  move(event) {
    const before = this.pointers.get(event.pointerId);
    if (!before) return;
    const now = this.place(event);
    if (this.taken === event.pointerId) return this.tool.move(now);
    if (this.pointers.size === 2) {
      const [other] = [...this.pointers].filter(([id]) => id !== event.pointerId).map(([, place]) => place);
      const apart = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
      this.zoom(apart(now, other) / Math.max(apart(before, other), 1e-6), other);
    } else if (event.pointerType !== "touch" || !this.rests) {
      const [x, y, w, h] = this.box;
      this.show([x + before[0] - now[0], y + before[1] - now[1], w, h]);
    }
    this.pointers.set(event.pointerId, this.place(event));
  }

  up(event) {
    this.pointers.delete(event.pointerId);
    if (this.taken !== event.pointerId) return;
    this.taken = null;
    if (event.type === "pointercancel") this.tool.cancel?.(); // the system took the finger away: nothing was meant
    else this.tool.up(this.place(event));
  }

  key(event) {
    if (event.target !== this.element) return;
    const aims = this.tool?.aims?.();
    const [x, y, w, h] = this.box, step = !aims || event.shiftKey ? 0.12 : 0.02;
    const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    if (event.key === "+" || event.key === "=") this.zoom(1.4);
    else if (event.key === "-") this.zoom(1 / 1.4);
    else if (event.key === "0") this.all();
    else if (moves[event.key]) this.show([x + moves[event.key][0] * w, y + moves[event.key][1] * h, w, h]);
    else if (aims && (event.key === "Enter" || event.key === " ")) this.tool.press(this.middle());
    else if (aims && event.key === "Escape") this.tool.cancel();
    else return;
    event.preventDefault();
    if (aims) this.tool.look(this.middle());
  }
}
