// The photo with what was found drawn on it, to look at and to mend: pull the edge, move corners, brush, show the card,
// take away what is none.

import { el, sv } from "./dom.js";
import { Viewer } from "./viewer.js";

/** Whether a place lies within a ring of places. */
const isWithin = ([x, y], ring) => ring.reduce((is, [ax, ay], i) => {
  const [bx, by] = ring[(i + 1) % ring.length];
  return (ay > y) !== (by > y) && x < ax + ((y - ay) * (bx - ax)) / (by - ay) ? !is : is;
}, false);
const middle = (points) => [0, 1].map((k) => points.reduce((sum, p) => sum + p[k], 0) / (points.length || 1));
/** Where somebody says that a card lies. */
const meantAt = ({ card, frame }, role) => (frame[role].length === 4 ? middle(frame[role]) : card[role]);
const line = (points, closed = false) => points.map(([x, y], i) => `${i ? "L" : "M"}${x} ${y}`).join("") + (closed ? "Z" : "");
const TOOLS = [
  ["look", "Look", "Pinch or turn the wheel to zoom, then drag to move the picture."],
  ["pull", "Pull the edge", "Drag the line, or a named corner, to where the cloth's edge is. Elsewhere the picture moves."],
  ["garment", "Brush: garment", "Brush over cloth that was taken for floor."],
  ["floor", "Brush: floor", "Brush over floor, or a shadow, that was taken for cloth."],
  ["card", "Point at the card", "Tap on the card or sheet when it was not found."],
  ["frame", "Card's corners", "Where pointing does not help: zoom in on the card or sheet and tap on each of its four corners. Drag one to put it right."],
  ["none", "Not a card", "Tap in a frame drawn round something that is no card or sheet: nothing is measured by it any longer. Tap on its cross to have it back."],
];
const NEAR = 44; // pixels on the screen: a finger
const CORNER = 30;
const WAYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/** What the photo's tools say of cards in it. */
export const cardTools = (edit, role) => ({
  card: (place) => edit((e) => { e.card[role] = place; e.frame[role] = []; }, role),
  frame: (corners) => edit((e) => (e.frame[role] = corners)),
  // What was said to be a card there is taken back with it.
  none: (place, isIn) => edit((e) => {
    const at = meantAt(e, role);
    if (at && isIn(at)) e.frame[role] = [];
    if (e.card[role] && isIn(e.card[role])) e.card[role] = null;
    if (e.frame[role].filter(isIn).length > 1) e.frame[role] = [];
    e.none[role] = [...e.none[role].filter((other) => !isIn(other)), place];
  }, role),
  notNone: (index) => edit((e) => e.none[role].splice(index, 1), role),
});

/** Printed targets are as large as the printer made them: the length of their bar tells. */
export function barField(id, value, beside, look) {
  const bar = el("input", { type: "text", id, autocomplete: "off", value, "aria-describedby": `${id}-why` });
  return el("div", { class: "field" }, el("label", { for: id }, "Bar on your printed targets"), bar,
    el("p", { class: "why", id: `${id}-why` }, `Only where printed targets lie beside the ${beside}: its length as you measured it, for example 148.6 mm.`),
    el("button", { type: "button", onclick: () => look(bar.value.trim()) }, "Look again with it"));
}

export class PhotoPanel {
  /**
   * @param source address of the picture
   * @param on {pull(from, to, live), corner(name, place, live), brush(side, points), card(place), frame(corners), none(place, isIn), notNone(index)}
   */
  constructor({ source, width, height, label, role, on }) {
    this.on = on;
    this.role = role;
    this.image = sv("image", { href: source, width, height, x: -0.5, y: -0.5 });
    this.layer = sv("g");
    this.brushes = sv("g");
    this.corners = sv("g");
    this.frame = []; // the card's corners as set by hand
    this.frameLayer = sv("g", { class: "frame" });
    this.noneLayer = sv("g", { class: "none" }); // crosses where something found is no card
    this.rubber = sv("path", { class: "edge rubber" });
    this.svg = sv("svg", { viewBox: `0 0 ${width} ${height}` }, this.image, this.layer, this.brushes, this.rubber, this.noneLayer, this.frameLayer, this.corners);
    this.viewer = new Viewer(this.svg, label);
    this.viewer.onzoom = () => this.sizeCorners();
    this.viewer.tool = { down: (p, e) => this.down(p, e), move: (p) => this.move(p), up: (p) => this.up(p), cancel: () => this.cancel(),
      aims: () => this.toolName !== "look", press: (p) => this.press(p), look: (p) => { if (this.isPressed && this.drag) this.move(p); } };
    this.hint = el("p", { class: "soft", "aria-live": "polite" });
    this.buttons = TOOLS.map(([name, words]) =>
      el("button", { type: "button", "aria-pressed": "false", onclick: () => this.choose(name) }, role === "cloth" ? words.replace("garment", "cloth") : words));
    this.element = el("div", { class: "photo" }, role === "back" && el("h2", {}, "The second photo, backs out"), el("div", { class: "row tools", role: "group", "aria-label": "What dragging on the photo does" }, this.buttons), this.viewer.element, this.hint);
    this.choose("look");
    new ResizeObserver(() => this.sizeCorners()).observe(this.svg);
  }

  choose(name) {
    if (this.drag) this.cancel();
    this.toolName = name;
    this.viewer.element.classList.toggle("aims", name !== "look");
    this.viewer.rest();
    this.svg.classList.toggle("framing", name === "frame");
    this.svg.classList.toggle("choosing", name === "none");
    this.svg.classList.toggle("naming", name === "pull");
    TOOLS.forEach(([tool, , words], i) => {
      this.buttons[i].setAttribute("aria-pressed", String(tool === name));
      if (tool === name) this.hint.textContent = words;
    });
    this.viewer.name(name === "look" ? "" : `Enter ${{ pull: "takes the edge at the cross in the middle and lets go of it", card: "points at the cross in the middle", frame: "sets a corner at the cross in the middle", none: "takes away the frame at the cross in the middle, or its cross" }[name] || "begins and ends a stroke at the cross in the middle"}`);
  }

  /** Draws the lines found, and nothing else anew: the corner being dragged stays in the hand. */
  follow(seen) {
    const rings = [seen.outline, ...seen.holes].filter((ring) => ring.length);
    this.layer.replaceChildren(
      ...seen.references.flatMap(({ corners }) => ["card-rim", "card-edge"].map((c) => sv("path", { d: line(corners, true), class: `edge ${c}` }))),
      ...rings.flatMap((ring) => ["rim", "core"].map((c) => sv("path", { d: line(ring, true), class: `edge ${c}` }))),
      ...seen.doubtful.flatMap((run) => ["doubt-rim", "doubt"].map((c) => sv("path", { d: line(run), class: `edge ${c}` }))));
  }

  /** Draws what was found, the strokes brushed and what was said of cards. */
  show(seen, edits) {
    this.seen = seen;
    this.showCards(edits);
    this.follow(seen);
    this.brushes.replaceChildren(...edits.hints[this.role].map(([side, points]) => sv("path", { d: line(points.length > 1 ? points : [points[0], points[0]]), class: `edge stroke-${side}` })));
    const had = document.activeElement?.dataset?.corner;
    this.corners.replaceChildren(...seen.corners.map((corner) => this.cornerMark(corner)));
    if (!this.isShown && seen.outline.length) {
      this.isShown = true;
      this.viewer.begin(this.around(seen));
    }
    this.sizeCorners();
    if (had) this.corners.querySelector(`[data-corner="${CSS.escape(had)}"]`)?.focus({ preventScroll: true });
  }

  /** The part of the photo that matters: cloth and references, with some room. */
  around(seen) {
    const points = [...seen.outline, ...seen.references.flatMap((r) => r.corners)];
    const [xs, ys] = [points.map((p) => p[0]), points.map((p) => p[1])];
    const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
    const room = 0.06 * Math.max(x1 - x0, y1 - y0);
    return [x0 - room, y0 - room, x1 - x0 + 2 * room, y1 - y0 + 2 * room];
  }

  cornerMark(corner) {
    const moves = this.seen.moves_corners;
    const hand = moves ? { tabindex: "0", role: "button", "aria-label": `Corner: ${corner.label}${corner.moved ? ", moved by you" : ""}. Arrow keys move it.` }
      : { role: "img", "aria-label": `Corner: ${corner.label}` };
    const mark = sv("g", { class: `corner${corner.moved ? " moved" : ""}${moves ? "" : " fixed"}`, "data-corner": corner.name, ...hand },
      sv("circle", { cx: 0, cy: 0, r: 1 }), sv("text", { x: 0, y: 0 }, corner.label));
    mark.place = [...corner.at];
    if (!moves) return mark;
    mark.addEventListener("keydown", (event) => {
      const step = this.viewer.unit() * (event.shiftKey ? 12 : 3);
      const way = WAYS[event.key];
      if (!way) return;
      event.preventDefault();
      mark.place = [mark.place[0] + way[0] * step, mark.place[1] + way[1] * step];
      this.sizeCorners();
      this.on.corner(corner.name, mark.place, false);
    });
    return mark;
  }

  /** Draws the card's corners set by hand, and crosses where something is said to be none. */
  showCards(edits) {
    this.showFrame(edits.frame[this.role]);
    // Where somebody pointed at a card all the same it is measured by: no cross is drawn on that.
    const at = meantAt(edits, this.role), meant = at && this.seen?.references.find(({ corners }) => isWithin(at, corners));
    const places = edits.none[this.role].map((place, index) => [place, index]);
    this.noneLayer.replaceChildren(...places.filter(([place]) => !meant || !isWithin(place, meant.corners)).map(([place, index]) => {
      const mark = sv("g", {}, sv("path", { d: "M-9 -9L9 9M-9 9L9 -9", class: "edge none-rim" }), sv("path", { d: "M-9 -9L9 9M-9 9L9 -9", class: "edge none-mark" }));
      mark.place = place;
      mark.index = index;
      return mark;
    }));
    this.sizeCorners();
  }

  showFrame(frame) {
    this.frame = frame;
    const at = [...this.frameLayer.querySelectorAll(".handle")].indexOf(document.activeElement);
    const ring = sv("path", { class: "edge frame-line" });
    this.frameLayer.replaceChildren(ring, ...frame.map((place, i) => this.handle(place, i)));
    this.drawFrame();
    this.sizeCorners();
    if (at >= 0) this.frameLayer.querySelectorAll(".handle")[at]?.focus({ preventScroll: true });
  }

  handle(place, i) {
    const mark = sv("g", { class: "corner handle", tabindex: "0", role: "button", "aria-label": `Card's corner ${i + 1} of 4. Arrow keys move it, Enter looks again.` },
      sv("circle", { cx: 0, cy: 0, r: 1 }), sv("text", {}, String(i + 1)));
    mark.place = [...place];
    let isMoved = false;
    const done = () => { if (isMoved) { isMoved = false; this.on.frame(this.framed()); } };
    mark.addEventListener("keydown", (event) => {
      if (event.key === "Enter") { event.preventDefault(); return done(); }
      const way = WAYS[event.key];
      if (!way) return;
      event.preventDefault();
      const step = this.viewer.unit() * (event.shiftKey ? 12 : 2);
      mark.place = [mark.place[0] + way[0] * step, mark.place[1] + way[1] * step];
      isMoved = true;
      this.drawFrame();
      this.sizeCorners();
    });
    mark.addEventListener("blur", () => { if (mark.isConnected) done(); });
    return mark;
  }

  framed() { return [...this.frameLayer.querySelectorAll(".handle")].map((mark) => mark.place); }

  /** Joins the corners in the order in which they are met going round, in whichever they were set. */
  drawFrame() {
    const places = this.framed(), n = places.length;
    const [x, y] = middle(places);
    const round = places.sort((a, b) => Math.atan2(a[1] - y, a[0] - x) - Math.atan2(b[1] - y, b[0] - x));
    this.frameLayer.firstChild?.setAttribute("d", n > 1 ? line(round, n === 4) : "");
  }

  sizeCorners() {
    if (!this.svg.isConnected || !this.svg.getScreenCTM()) return;
    const unit = this.viewer.unit();
    for (const mark of this.noneLayer.children) mark.setAttribute("transform", `translate(${mark.place[0]} ${mark.place[1]}) scale(${unit})`);
    for (const mark of this.frameLayer.querySelectorAll(".handle")) {
      mark.setAttribute("transform", `translate(${mark.place[0]} ${mark.place[1]}) scale(${unit})`);
      mark.querySelector("circle").setAttribute("r", 11);
      const text = mark.querySelector("text");
      for (const [name, value] of [["font-size", 13], ["x", 14], ["y", -10]]) text.setAttribute(name, value);
    }
    const taken = []; // by names, on the screen
    for (const mark of this.corners.children) {
      mark.setAttribute("transform", `translate(${mark.place[0]} ${mark.place[1]}) scale(${unit})`);
      mark.querySelector("circle").setAttribute("r", 8);
      this.nameCorner(mark, unit, taken);
    }
  }

  /** Writes a corner's name on the side where there is room for it, above or below; none over another's. */
  nameCorner(mark, unit, taken) {
    const text = mark.querySelector("text"), [x, y] = mark.place;
    text.setAttribute("font-size", 13);
    mark.wide ||= text.getComputedTextLength();
    const isRight = x > this.viewer.box[0] + 0.6 * this.viewer.box[2];
    text.setAttribute("text-anchor", isRight ? "end" : "start");
    text.setAttribute("x", isRight ? -12 : 12);
    const left = x / unit + (isRight ? -12 - mark.wide : 12);
    const boxAt = (down) => [left, y / unit + down - 13, left + mark.wide, y / unit + down + 4];
    const isFree = (a) => taken.every((b) => a[2] < b[0] || b[2] < a[0] || a[3] < b[1] || b[3] < a[1]);
    const down = [-8, 19].find((one) => isFree(boxAt(one)));
    text.setAttribute("y", down ?? -8);
    mark.classList.toggle("crowded", down === undefined);
    if (down !== undefined) taken.push(boxAt(down));
  }

  nearest(place) {
    let best = null, at = Infinity;
    for (const point of this.seen?.outline || []) {
      const away = Math.hypot(point[0] - place[0], point[1] - place[1]);
      if (away < at) [best, at] = [point, away];
    }
    return [best, at];
  }

  /** The corner a finger or mouse means; between two that are near each other the edge can still be taken. */
  cornerAt(place, unit) {
    const away = (mark, at) => Math.hypot(mark.place[0] - at[0], mark.place[1] - at[1]);
    const marks = this.seen.moves_corners ? [...this.corners.children] : [];
    return marks.find((mark) => {
      const apart = Math.min(...marks.filter((other) => other !== mark).map((other) => away(other, mark.place)));
      return away(mark, place) < Math.min(CORNER * unit, Math.max(10 * unit, 0.4 * apart));
    });
  }

  down(place) {
    const unit = this.viewer.unit();
    if (this.toolName === "look" || !this.seen && this.toolName === "pull") return false;
    if (this.toolName === "card" || this.toolName === "none") { this.drag = { kind: this.toolName }; return true; }
    if (this.toolName === "frame") {
      const marks = [...this.frameLayer.querySelectorAll(".handle")];
      const away = (mark) => Math.hypot(mark.place[0] - place[0], mark.place[1] - place[1]);
      // Seen from afar a card is not much larger than a finger: until all four are set, a tap beside one sets the next.
      const reach = (marks.length > 3 ? CORNER : 10) * unit;
      const [mark] = marks.filter((one) => away(one) < reach).sort((a, b) => away(a) - away(b));
      if (!mark && marks.length > 3) return false;
      this.drag = { kind: "frame", mark };
      return true;
    }
    if (this.toolName === "pull") {
      const mark = this.cornerAt(place, unit);
      if (mark) {
        this.drag = { kind: "corner", mark, name: mark.dataset.corner };
        return true;
      }
      const [point, away] = this.nearest(place);
      if (!point || away > NEAR * unit) return false;
      this.drag = { kind: "pull", from: point };
      return true;
    }
    this.drag = { kind: "brush", side: this.toolName, points: [place], path: sv("path", { class: `edge stroke-${this.toolName}` }) };
    this.brushes.append(this.drag.path);
    return true;
  }

  move(place) {
    const drag = this.drag;
    if (drag.kind === "corner") {
      drag.mark.place = place;
      this.sizeCorners();
      this.on.corner(drag.name, place, true);
    } else if (drag.kind === "pull") {
      this.rubber.setAttribute("d", line([drag.from, place]));
      this.on.pull(drag.from, place, true);
    } else if (drag.kind === "frame") {
      if (!drag.mark) return;
      drag.mark.place = place;
      this.drawFrame();
      this.sizeCorners();
    }
    else if (drag.kind === "brush") {
      const last = drag.points[drag.points.length - 1];
      if (Math.hypot(last[0] - place[0], last[1] - place[1]) > 6 * this.viewer.unit()) drag.points.push(place);
      drag.path.setAttribute("d", line(drag.points));
    }
  }

  up(place) {
    const drag = this.drag;
    this.drag = null;
    this.isPressed = false;
    this.rubber.removeAttribute("d");
    if (drag.kind === "corner") this.on.corner(drag.name, place, false);
    else if (drag.kind === "pull") {
      if (Math.hypot(drag.from[0] - place[0], drag.from[1] - place[1]) > 2 * this.viewer.unit()) this.on.pull(drag.from, place, false);
    } else if (drag.kind === "card") this.on.card(place);
    else if (drag.kind === "none") this.takeAwayAt(place);
    else if (drag.kind === "frame") {
      if (drag.mark) drag.mark.place = place;
      const corners = drag.mark ? this.framed() : [...this.framed(), place];
      this.hint.textContent = corners.length < 4 ? `${corners.length} of 4 corners set.` : "All four corners are set. Drag one to put it right.";
      this.on.frame(corners);
    }
    else this.on.brush(drag.side, drag.points);
  }

  /** Takes a frame away that is drawn round no card, or the cross where one was. */
  takeAwayAt(place) {
    const away = (mark) => Math.hypot(mark.place[0] - place[0], mark.place[1] - place[1]);
    const marks = [...this.noneLayer.children];
    const [mark] = marks.filter((one) => away(one) < CORNER * this.viewer.unit()).sort((a, b) => away(a) - away(b));
    const found = this.seen?.references.find(({ corners }) => isWithin(place, corners));
    if (mark) this.on.notNone(mark.index);
    else if (found) this.on.none(place, (other) => isWithin(other, found.corners));
    else this.hint.textContent = "Nothing here was taken for a card or sheet: tap in its frame.";
  }

  /** What a key does at a place: what a tap does there, or the beginning and the end of what is dragged. */
  press(place) {
    if (this.drag) return this.up(place);
    if (!this.down(place)) {
      this.hint.textContent = this.toolName === "pull" ? "There is no edge at the cross: move the picture until it lies on the line." : "All four corners are set: Tab leads to them.";
    } else if (["card", "frame", "none"].includes(this.drag.kind)) this.up(place);
    else {
      this.isPressed = true;
      this.hint.textContent = "Arrows move the picture below the cross, Enter lets go, Escape leaves it as it was.";
    }
  }

  cancel() {
    if (!this.drag) return;
    if (this.drag?.path) this.drag.path.remove();
    this.rubber.removeAttribute("d");
    this.isPressed = false;
    const was = this.drag;
    this.drag = null;
    if (was.kind === "frame") this.showFrame(this.frame);
    else this.on.cancel?.();
  }
}
