// The rooms of the page and the way between them. All measuring, drawing and deciding is the program's.

import { get, limits, post, send } from "./api.js";
import { drawing, el, say, told } from "./dom.js";
import { drawerRoom } from "./drawer.js";
import { Form } from "./form.js";
import { lensRoom } from "./lens.js";
import { makeMeter, wait } from "./meter.js";
import { outputs } from "./outputs.js";
import { barField, cardTools, PhotoPanel } from "./photo.js";
import { GUIDE } from "./pictures.js";
import { table } from "./table.js";
import { Viewer } from "./viewer.js";

const main = document.getElementById("main");
let form = null;
let garment = null; // the one being worked on

const counted = (names) => [...new Set(names)].map((name) => {
  const count = names.filter((other) => other === name).length;
  return count > 1 ? `${count} ${name}s` : `one ${name}`;
}).join(", ");

function photoButtons(take) {
  const input = (words, cls, extra) => {
    const field = el("input", { type: "file", accept: "image/*,.heic,.heif", "aria-label": words, ...extra,
      onchange: () => { if (field.files[0]) take(field.files[0]); field.value = ""; } });
    return el("label", { class: `button ${cls}` }, words, field);
  };
  return [input("Take a photo", "first", { capture: "environment" }), input("Choose a photo", "", {})];
}

let isBeginning = false; // a second click begins no second garment

/** Begins a garment with a photo that `give` sends; `answers` are those given for it before, where the program was started anew. */
async function begin(give, answers = null) {
  if (isBeginning) return;
  isBeginning = true;
  try {
    say("Sending the photo …", true);
    const { work } = await give();
    if (answers) sessionStorage.setItem(`work ${work}`, JSON.stringify({ answers }));
    say("");
    goOn(new Garment(work));
  } catch (error) { say(error.message); } finally { isBeginning = false; }
}

function startRoom() {
  const others = el("section", { class: "card", hidden: true }, el("h2", {}, "On the desk"));
  main.replaceChildren(el("div", { class: "start" },
    el("section", { class: "card" },
      el("h1", {}, "Which garment fits?"),
      el("p", {}, "Lay it flat beside a bank card or a sheet of paper, photograph it from above, and get its pattern at true size. It all happens on this computer; nothing leaves it."),
      el("div", { class: "row" }, photoButtons((file) => begin(() => send(file))),
        el("button", { type: "button", onclick: () => begin(() => post("/api/sample")) }, "Try it with a sample"))),
    form.lets_phones_in && el("section", { class: "card" }, el("h2", {}, "Take the photo with your phone"),
      el("p", {}, "In the same home network. The code is good once, for ten minutes."),
      el("button", { type: "button", onclick: showCode }, "Show the code")),
    others,
    el("section", { class: "card" }, el("h2", {}, "How to lay and photograph it"),
      el("ol", { class: "steps" }, GUIDE.slice(0, 4).map((step) => el("li", {}, el("h2", {}, step.title), step.picture(), el("p", {}, step.text)))))));
  showDesk(others);
}

/** Makes a garment the one being worked on; its place in the address brings it back after a reload. */
function goOn(one) {
  garment = one;
  history.pushState(null, "", `#make/${one.work}`);
  show();
  one.lead("");
}

function startAnew() {
  garment = null;
  history.pushState(null, "", "#make");
  show();
  main.focus({ preventScroll: true });
}

/** Shows a fresh code for a phone; one shown before is worthless from now on. */
async function showCode() {
  try {
    const { address, qr } = await get("/api/phone");
    const dialog = el("dialog", { "aria-label": "Code for the phone" }, el("h2", {}, "Scan this with the phone"), drawing(qr), el("p", {}, address),
      el("div", { class: "row end" }, el("button", { type: "button", onclick: () => dialog.close() }, "Close")));
    dialog.addEventListener("close", () => dialog.remove());
    document.body.append(dialog);
    dialog.showModal();
  } catch (error) { say(error.message); }
}

/** Garments begun on this screen or another, a phone's photo among them. */
async function showDesk(others) {
  const { works } = await get("/api/works").catch(() => ({ works: [] }));
  if (!works.length) return;
  others.hidden = false;
  others.append(el("p", { class: "soft" }, "Begun here or on the phone: go on."), el("ul", { class: "shelf" }, works.slice(0, 6).map((one) =>
    el("li", {}, one.has_photo && el("div", { class: "thumb" }, el("img", { src: `/api/works/${one.work}/photos/front`, alt: "", loading: "lazy" })),
      el("a", { href: `#make/${one.work}` }, one.name)))));
}

function guideRoom() {
  main.replaceChildren(el("h1", {}, "How to lay and photograph it"),
    el("ol", { class: "steps" }, GUIDE.map((step) => el("li", { class: "card" }, el("h2", {}, step.title), step.picture(), el("p", {}, step.text)))),
    el("section", { class: "card" }, el("h2", {}, "With care"),
      el("p", {}, "A pattern taken from a bought garment is for your own use. For children: no cords or drawstrings at waist or neck of small sizes, nothing small that can come off, and nightwear must follow your country's rule on fire safety and fit; the local rule decides, not this program.")));
}

async function openKept(id) {
  try {
    const { work } = await post(`/api/drawer/${id}/open`);
    goOn(new Garment(work, true));
  } catch (error) { say(error.message); }
}

/** What a photo is looked at again with. */
const framed = (edits, role) => (edits.frame[role].length === 4 ? edits.frame[role] : null);
const pointed = (edits, role) => [edits.hints[role], edits.card[role], framed(edits, role), edits.none[role], edits.bars[role] || ""];

class Garment {
  /** @param said what was mended and answered on another screen, where nothing was on this one. */
  constructor(work, isOpened = false, said = null) {
    this.work = work;
    this.isOpened = isOpened;
    this.edits = { pulls: { front: [], back: [], cloth: [] }, corners: {}, hints: { front: [], back: [], cloth: [] }, card: { front: null, back: null, cloth: null }, frame: { front: [], back: [], cloth: [] }, none: { front: [], back: [], cloth: [] }, bars: { front: "", back: "", cloth: "" } };
    this.past = [];
    this.future = [];
    this.panels = {};
    this.cloth = null; // how the cloth in a photo is looked at and laid on (laying.js)
    this.has = {}; // second photos that the program has, by role
    this.wanted = null; // edits being dragged
    this.isGood = false; // whether what was asked for last could be drawn
    this.isMended = false; // whether only a line or corner was moved since then
    this.looks = 0; // begun; only the last one counts
    this.isLooking = false;
    this.isSending = false;
    this.isAsking = false;
    this.drawn = null; // the drawing shown, as text
    this.before = el("p", { class: "told refused card", hidden: true }, "The last change could not be drawn. What is printed and kept here is the pattern from before it.");
    this.element = el("div", { class: "bench" });
    this.photoCard = el("section", { class: "card", "aria-label": "The photo" });
    this.patternCard = el("section", { class: "card", "aria-label": "The pattern" });
    this.formCard = el("section", { class: "wide", "aria-label": "Your choices" });
    this.outCard = el("section", { class: "wide", "aria-label": "Print and keep" });
    this.element.append(this.photoCard, this.patternCard, this.outCard, this.formCard);
    const isOfKept = (q) => q.group === "growth" || q.name === "paper";
    const questions = isOpened ? form.questions.filter(isOfKept) : form.questions;
    const groups = form.groups.filter((g) => questions.some((q) => q.group === g.name));
    this.form = new Form({ questions, groups }, (soon) => { this.isMended = false; this.changed(soon ? 350 : 0); });
    this.formCard.append(el("h2", {}, "Your choices"), el("p", { class: "soft" }, "Everything has a usual answer already. Change what you know better. A number alone is in centimetres, or in millimetres where the example is; inches are written like 20 1/2 in."), this.form.element);
    this.formCard.hidden = this.outCard.hidden = true;
    // What this window remembers counts only where no other has changed anything since.
    const before = JSON.parse(sessionStorage.getItem(`work ${work}`) || "null");
    const { edits, answers } = before && (!said || before.stamp === said.stamp || !said.is_made) ? before : said || {};
    this.stamp = said?.stamp; // of the state that is shown here
    this.photosStamp = said?.photos_stamp;
    if (edits) this.edits = { ...this.edits, ...edits };
    if (answers) this.form.restore(answers);
    this.status = el("div", {});
    this.note = el("div", {});
    this.findings = el("div", {});
    this.findingsPart = el("details", { hidden: true }, el("summary", {}, "What the program says of it"), this.findings);
    this.undoButtons = el("div", { class: "row" });
    if (isOpened) {
      this.photoCard.replaceChildren(el("h1", {}, "From the drawer"), el("p", {}, "Print it again, let it grow, or see how it lies on cloth."),
        el("div", { class: "row" }, el("button", { type: "button", onclick: startAnew }, "Another garment")), this.note, this.findingsPart);
      this.found();
    } else this.look("front");
  }

  /** Asks for something that has a photo looked at, and waits for that. Nothing is drawn meanwhile: it would be of what is past. */
  async lookAfter(role, ask) {
    const turn = ++this.looks;
    this.isLooking = true;
    this.isMissed = false; // a drawing wished for meanwhile
    while (this.isAsking || this.isSending) await wait(20);
    this.isSending = true; // what comes next goes on from what the program answers
    try { this.goes(await ask()); } catch (error) {
      if (turn === this.looks) {
        this.isLooking = false;
        if (this.isMissed) this.draw();
      }
      throw error;
    } finally { this.isSending = false; }
    if (turn === this.looks) this.look(role);
  }

  async look(role) {
    const turn = ++this.looks;
    this.isLooking = true;
    try { await this.lookOn(role, turn); } finally { if (turn === this.looks) this.isLooking = false; }
  }

  async lookOn(role, turn) {
    this.role = role;
    if (this.panels[role]?.element.contains(document.activeElement)) this.goesBackTo = role;
    this.photoCard.replaceChildren(el("h1", {}, role === "back" ? "Looking at the second photo" : "Looking at the photo"), this.status);
    // The card has become short: what it says now would be above the screen.
    if (this.photoCard.getBoundingClientRect().top < 0) this.photoCard.scrollIntoView();
    const meter = makeMeter("How far the work has come", "waiting for its turn");
    const stop = el("button", { type: "button", onclick: () => post(`/api/works/${this.work}/stop`).catch((e) => say(e.message)) }, "Stop");
    this.lead("");
    this.status.replaceChildren(...meter.parts, stop);
    for (;;) {
      let state;
      try {
        const told = await get(`/api/works/${this.work}`);
        if (turn !== this.looks) return; // another look has begun, which shows what comes of it
        state = told.photos;
        this.goes(told);
      } catch (error) { return this.refused(role, error.problem, error.advice); }
      const photo = state[role];
      this.has = { back: "back" in state, floor: "floor" in state, cloth: "cloth" in state, clothFloor: "cloth-floor" in state };
      if (!photo || photo.ended) {
        if (photo?.state === "done") {
          this.isLooking = false;
          return this.found();
        }
        // Where nothing was found out of it, nothing is wrong with the photo either.
        const heading = ["stopped", "crashed"].includes(photo?.state) ? "This photo was not looked at" : undefined;
        return this.refused(role, photo?.problem || "The photo was not taken.", photo?.advice || "Choose it again.", photo?.size, null, heading);
      }
      meter.show(photo);
      await wait(150);
    }
  }

  /** The same once the photo is looked at: whoever waited at the heading goes on from there. */
  leadOn(role) {
    if (document.activeElement?.tagName === "H1") document.activeElement.blur();
    this.lead(role);
  }

  /** Leads keys and screen readers to what is new, where what they were at is gone: back to the photo, or to the heading. */
  lead(role) {
    if (this.element.contains(document.activeElement) || document.activeElement !== document.body || !this.element.isConnected) return;
    const panel = this.goesBackTo && this.goesBackTo === role ? this.panels[role] : null;
    const place = panel?.element.isConnected ? panel.viewer.element : this.photoCard.querySelector("h1");
    if (panel) this.goesBackTo = null;
    if (place?.tagName === "H1") place.tabIndex = -1;
    place?.focus({ preventScroll: true });
  }

  /** Says why a photo does not do; it is shown all the same, to point at the card or brush over the cloth. */
  refused(role, problem, advice, size, seen, heading = "This photo does not do yet") {
    const [width, height] = size || [0, 0];
    const nothing = { width, height, outline: [], holes: [], doubtful: [], references: [], corners: [] };
    const panel = this.panelFor(role, seen || nothing);
    panel?.show(seen || nothing, this.edits);
    this.outCard.hidden = true; // what it has is another pattern's
    this.photoCard.replaceChildren(el("h1", {}, heading),
      el("p", { class: "told refused card", role: "alert" }, el("strong", {}, problem), " ", advice),
      el("div", { class: "row" },
        photoButtons((file) => this.newPhoto(file, role)),
        el("button", { type: "button", onclick: () => this.again(role) }, "Look again"), this.lessButtons(),
        el("button", { type: "button", class: "quiet", onclick: startAnew }, "Another garment")),
      ...(panel ? [this.undoButtons, panel.element] : []));
    this.showUndo();
    this.patternViewer = null;
    this.patternCard.replaceChildren(...this.notYet());
    this.leadOn(role);
  }

  notYet() { return [el("h2", {}, "The pattern"), el("p", { class: "soft" }, "It is drawn as soon as that is mended.")]; }

  /** Ways to leave second photos out again. */
  lessButtons() {
    const words = { back: "Do without the second photo", floor: "Do without the photo of the floor" };
    return Object.entries(words).filter(([role]) => this.has[role]).map(([role, label]) =>
      el("button", { type: "button", onclick: () => this.takeAway(role) }, label));
  }

  async newPhoto(file, role) {
    try {
      say("Sending the photo …", true);
      await this.lookAfter(role === "floor" ? "front" : role, async () => {
        const told = await send(file, { work: this.work, role });
        say("");
        if (role !== "floor") this.forget(role);
        return told;
      });
    } catch (error) {
      // The program was started anew and knows this garment no more: the photo begins another.
      if (error.status === 404 && role === "front") return begin(() => send(file), this.form.answers);
      say(error.message);
    }
  }

  /** What was pointed at belongs to the photo before, and can no more be brought back. */
  forget(role) {
    this.edits.pulls[role] = [];
    this.edits.hints[role] = [];
    this.edits.card[role] = null;
    this.edits.frame[role] = [];
    this.edits.none[role] = [];
    this.edits.bars[role] = "";
    if (role === "front") this.edits.corners = {};
    this.past = [];
    this.future = [];
    this.showUndo();
    delete this.panels[role];
  }

  async takeAway(role) {
    try {
      await this.lookAfter("front", async () => {
        const told = await post(`/api/works/${this.work}/photos/${role}/away`);
        delete this.panels[role];
        return told;
      });
    } catch (error) { say(error.message); }
  }

  /** Says what a photo is to be looked at again with. */
  lookAgain(role) {
    const hints = this.edits.hints[role], frame = framed(this.edits, role);
    // Corners say more than a place on the card: where they are set it is not looked for there as well.
    const card = frame ? null : this.edits.card[role];
    const bar = this.edits.bars[role === "back" ? "front" : role]; // targets are of one print
    return post(`/api/works/${this.work}/again`, { role, hints, reference_at: card, reference_corners: frame, no_references: this.edits.none[role], bar, after: this.stamp });
  }

  async again(role, isNew = false) {
    if (role === "cloth") return this.cloth?.again(isNew);
    try {
      await this.lookAfter(role, () => this.lookAgain(role));
    } catch (error) {
      if (error.status === 404) return this.gone(error);
      if (isNew && error.status === 422) return this.takeBack(error); // a bar that is no length, say: it would be in the way of every later look
      say(error.message);
      if (error.status === 412) this.follow();
    }
  }

  /** The program was started anew and knows this garment no more: what was answered goes with its photo into a new one. */
  gone(error) {
    if (!this.note.isConnected) say(error.message);
    this.outCard.hidden = true; // there is nothing to print any more
    const ways = this.isOpened ? el("a", { class: "button first", href: "#drawer" }, "To the drawer") : photoButtons((file) => begin(() => send(file), this.form.answers));
    this.note.replaceChildren(el("div", { class: "told refused card", role: "alert" }, el("p", {}, el("strong", {}, error.problem || error.message), " ", error.advice || "", this.isOpened ? "" : " Your answers are kept."), el("div", { class: "row" }, ways)));
    this.note.scrollIntoView({ block: "center" });
  }

  said(edits = this.wanted || this.edits) {
    const pulls = {};
    for (const [role, list] of Object.entries(edits.pulls)) if (role !== "cloth" && list.length) pulls[role] = list.map(({ from, to }) => ({ from, to }));
    return { answers: this.form.answers, pulls, corners: edits.corners };
  }

  async found() {
    this.formCard.hidden = this.outCard.hidden = false;
    await this.draw();
  }

  /** Remembers which state of photos and answers is shown here now. */
  goes({ stamp, photos_stamp }) {
    this.stamp = stamp;
    this.photosStamp = photos_stamp ?? this.photosStamp;
  }

  /** Looks whether another window has changed anything; then it is shown here, too. */
  async checkOthers() {
    const isBusy = () => !this.element.isConnected || !this.isSettled() || this.wanted || Object.values(this.panels).some((panel) => panel.drag);
    if (this.stamp === undefined || isBusy()) return;
    const shown = this.stamp;
    const told = await get(`/api/works/${this.work}`).catch(() => null);
    if (told && told.stamp !== shown && this.stamp === shown && !isBusy()) await this.follow();
  }

  /** Shows what another window has made of it; an answer that was being typed here comes on top. */
  async follow() {
    if (this.isFollowing) return;
    this.isFollowing = true;
    try {
      const told = await get(`/api/works/${this.work}/said`);
      const [name, isOther] = [this.form.last, told.photos_stamp !== this.photosStamp];
      const mine = name ? { [name]: this.form.answers[name] } : {};
      this.goes(told);
      this.edits = { ...this.edits, ...told.edits };
      this.wanted = null;
      this.past = [];
      this.future = [];
      this.form.replace({ ...told.answers, ...mine });
      const bar = document.getElementById("bar");
      if (bar) bar.value = this.edits.bars.front;
      this.showUndo();
      say("Another window changed this; it is shown here, too.");
      if (!isOther || this.isOpened) return this.draw();
      delete this.panels.front;
      delete this.panels.back;
      this.look("front");
    } catch (error) { say(error.message); } finally { this.isFollowing = false; }
  }

  /** Says what went wrong with something that was asked for; where it was of a state that is past, the new one is shown. */
  failed(error) {
    if (error.status === 404) return this.gone(error);
    say(error.message);
    if (error.status === 412) this.checkOthers();
  }

  isSettled() { return !this.isWaiting && !this.isAsking && !this.isFollowing && !this.isLooking; }

  /** Waits until what was changed last is drawn, or refused. */
  async settle() {
    if (this.isWaiting) {
      clearTimeout(this.timer);
      this.isWaiting = false;
      this.draw();
    }
    while (!this.isSettled()) await wait(20);
  }

  changed(after = 0) {
    clearTimeout(this.timer);
    this.isWaiting = true;
    this.timer = setTimeout(() => { this.isWaiting = false; this.draw(); }, after);
  }

  /** Remembers what was mended and answered, for when the page is loaded anew. */
  remember() {
    sessionStorage.setItem(`work ${this.work}`, JSON.stringify({ edits: this.edits, answers: this.form.answers, stamp: this.stamp }));
  }

  /** Draws the pattern anew; while one is on its way the newest wish waits, older ones are forgotten. */
  async draw() {
    if (this.isLooking) { this.isMissed = true; return; } // it is drawn once the photo is looked at
    if (this.isAsking) { this.isStale = true; return; }
    this.isAsking = true;
    this.remember();
    const asked = this.changedAt, isWish = this.wanted !== null;
    try {
      const made = await post(`/api/works/${this.work}/pattern`, { ...this.said(), after: this.stamp });
      this.goes(made);
      this.remember();
      this.show(made);
      if (!isWish) [this.isGood, this.isMended] = [true, false];
      this.outCard.dispatchEvent(new CustomEvent("drawn", { detail: asked }));
    } catch (error) {
      if (error.status === 412) return this.follow();
      if (error.status === 409 && !this.isShown) return this.look("front");
      if (!isWish && this.isMended && error.status === 422) return this.takeBack(error);
      if (!isWish) this.isGood = false;
      if (error.status === 404) return this.gone(error);
      this.problem(error);
    } finally {
      this.isAsking = false;
      if (this.isStale) { this.isStale = false; this.draw(); }
    }
  }

  async problem(error) {
    // What cannot be drawn of two photos may be the second one's fault.
    const isChoice = error.question !== undefined && (error.question !== "" || !this.has.back);
    // What stands above the form is said first: the page becomes longer by it, and the field would be pushed out of sight.
    const note = (role) => this.note.replaceChildren(el("p", { class: "told refused card", role }, el("strong", {}, error.problem || error.message), " ", error.advice || ""));
    this.before.hidden = false;
    if (this.drawn !== null) note(null);
    const isPlaced = error.status === 422 && this.form.refuse(error.message, isChoice ? error.question : "");
    if (!this.isOpened && (!this.isShown || !this.photoCard.contains(this.verdict))) {
      // The outline is there, but is not read as this garment: show it and the form, so that it can be said.
      const seen = await get(`/api/works/${this.work}/seen/${this.role}`).catch(() => null);
      this.refused(this.role, error.problem || error.message, error.advice, null, seen, isChoice ? "A choice does not do yet" : undefined);
      this.formCard.hidden = false;
      return;
    }
    if (this.drawn === null) this.patternCard.replaceChildren(...this.notYet());
    else if (!isPlaced) say(error.message); // the form may be far below the note
    if (!isPlaced || this.drawn === null) note(isPlaced ? null : "alert");
  }

  panelFor(role, seen) {
    if (!this.panels[role]) {
      const source = `/api/works/${this.work}/photos/${role}?${Date.now()}`;
      if (!seen.width) return null;
      this.panels[role] = new PhotoPanel({ source, width: seen.width, height: seen.height, role,
        label: role === "back" ? "Second photo with the outline found" : "Photo with the outline found",
        on: {
          pull: (from, to, live) => this.edit(live, (e) => e.pulls[role].push({ from, to })),
          corner: (name, place, live) => this.edit(live, (e) => (e.corners[name] = place)),
          brush: (side, points) => { this.edit(false, (e) => e.hints[role].push([side, points]), role); },
          ...cardTools((change, looksAgain) => this.edit(false, change, looksAgain), role),
          cancel: () => { this.wanted = null; this.draw(); },
        } });
    }
    return this.panels[role];
  }

  /** Makes a change: while dragging it is only a wish, at the end it is kept and can be undone. */
  edit(live, change, looksAgain = null) {
    const edits = structuredClone(this.edits);
    change(edits);
    this.changedAt = performance.now();
    this.form.last = "";
    if (live) {
      this.wanted = edits;
      this.draw();
      return;
    }
    this.wanted = null;
    this.past.push(this.edits);
    this.future = [];
    this.go(edits, looksAgain, true);
  }

  go(edits, looksAgain = null, isNew = false) {
    const differs = (pick) => JSON.stringify(pick(edits)) !== JSON.stringify(pick(this.edits));
    const role = looksAgain || ["front", "back", "cloth"].find((r) => differs((e) => pointed(e, r)));
    const isOther = differs((e) => [e.pulls.front, e.pulls.back, e.corners]), isLaidOtherwise = differs((e) => e.pulls.cloth);
    this.isMended = isNew && this.isGood && isOther && !role;
    this.edits = edits;
    this.showUndo();
    for (const panel of Object.values(this.panels)) panel.showCards(edits);
    if (role) this.again(role, isNew);
    else if (isLaidOtherwise) this.cloth?.lay(isNew);
    else if (isOther) this.draw();
    this.remember();
  }

  /** Leaves what was moved last where it was, as nothing can be made of it: the next try begins from what is good. */
  takeBack(error) {
    this.isMended = false;
    this.edits = this.past.pop();
    this.showUndo();
    this.remember();
    say(`${error.message} It is left as it was.`);
    this.draw();
  }

  undo() { if (this.past.length) { this.future.push(this.edits); this.go(this.past.pop()); } }
  redo() { if (this.future.length) { this.past.push(this.edits); this.go(this.future.pop()); } }

  showUndo() {
    for (const place of [this.undoButtons, this.cloth?.undoButtons]) {
      if (!place) continue;
      // Made once, and never quite disabled: whoever works with keys keeps the place.
      if (!place.children.length) place.append(el("button", { type: "button", onclick: () => this.undo() }, "Undo"), el("button", { type: "button", onclick: () => this.redo() }, "Redo"));
      [this.past, this.future].forEach((list, i) => place.children[i].setAttribute("aria-disabled", String(!list.length)));
    }
  }

  show(made) {
    if (this.isOpened) return this.showPattern(made.pattern);
    const [median, p95] = made.seen.front.error;
    if (!this.isShown) {
      this.verdict = el("p", {});
      this.isShown = true;
    }
    this.verdict.replaceChildren(el("span", { class: "good" }, `Good to about ${median}; 95 % of the line within ${p95}. `),
      `Measured with ${counted(made.seen.front.references.map((r) => r.name))}; camera ${made.seen.front.camera}. ${made.taken} If that is wrong, say so under “The garment”.`);
    const panels = Object.entries(made.seen).map(([role, seen]) => {
      const panel = this.panelFor(role, seen);
      if (!panel.drag) panel.show(seen, this.edits);
      else panel.follow(seen);
      return panel.element;
    });
    const isNew = !this.photoCard.contains(this.verdict);
    if (isNew) {
      this.showUndo();
      this.panelPlace = el("div", {});
      this.photoCard.replaceChildren(
        el("div", { class: "panel-head" }, el("h1", {}, "Does the line follow the edge?"), this.undoButtons), this.panelPlace, this.verdict, this.note,
        el("details", {}, el("summary", {}, "More photos of this garment"),
          el("p", {}, "A second photo with the backs out gives the true back. A photo of the empty floor helps where cloth and floor look alike."),
          el("div", { class: "row" }, this.more("Backs out", "back"), this.more("Photo of the empty floor", "floor"), this.lessButtons()),
          barField("bar", this.edits.bars.front, "garment", (bar) => this.edit(false, (e) => (e.bars.front = bar), "front"))),
        this.findingsPart,
        el("div", { class: "row end" }, el("button", { type: "button", class: "quiet", onclick: startAnew }, "Another garment")));
    }
    if (panels.some((panel, i) => this.panelPlace.children[i] !== panel) || this.panelPlace.children.length !== panels.length) {
      this.panelPlace.replaceChildren(...panels);
      Object.values(this.panels).forEach((panel) => panel.sizeCorners());
    }
    if (isNew) this.leadOn(this.role);
    this.showPattern(made.pattern);
  }

  /** Shows what should be known of the pattern; what is to be minded is not left folded away. */
  showFindings(findings) {
    const minded = findings.filter((f) => f.severity === "warning").map((f) => f.text).join(" ");
    if (minded && minded !== this.minded) this.findingsPart.open = true;
    this.minded = minded;
    this.findings.replaceChildren(told(findings));
    this.findingsPart.hidden = !findings.length;
  }

  more(words, role) {
    const field = el("input", { type: "file", accept: "image/*,.heic,.heif", "aria-label": words, onchange: () => { if (field.files[0]) this.newPhoto(field.files[0], role); field.value = ""; } });
    return el("label", { class: "button" }, words, field);
  }

  showPattern(pattern) {
    this.drawn = pattern.svg;
    this.form.clear();
    this.form.last = ""; // what fails next is the fault of what is changed next
    this.note.replaceChildren();
    this.before.hidden = true;
    this.outCard.hidden = false;
    this.form.suggest("paper", pattern.paper);
    this.showFindings(pattern.findings);
    const svg = drawing(pattern.svg);
    if (this.patternViewer) {
      const box = this.patternViewer.box, whole = this.patternViewer.whole;
      const isAll = box.every((v, i) => v === whole[i]);
      const viewer = new Viewer(svg, "The pattern at true proportions", { paper: true });
      if (!isAll) viewer.show(box);
      this.patternViewer.element.replaceWith(viewer.element);
      this.patternViewer = viewer;
    } else {
      this.patternViewer = new Viewer(svg, "The pattern at true proportions", { paper: true });
      this.lengths = el("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Lengths" });
      this.cuts = el("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "To cut" });
      this.sizes = el("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Before and after" });
      this.heading = el("h2", {});
      this.patternCard.replaceChildren(this.heading, this.patternViewer.element,
        el("details", {}, el("summary", {}, "Lengths of the garment"), this.lengths),
        el("details", {}, el("summary", {}, "To cut"), this.cuts), this.sizes);
      this.outCard.replaceChildren(outputs(this));
    }
    this.heading.textContent = `The pattern: ${pattern.title}${pattern.for_whom ? `, ${pattern.for_whom}` : ""}`;
    this.lengths.replaceChildren(table(["What", "cm", "inch", "sure to"], pattern.measurements.map((m) => [m.name, m.cm, m.inch, m.doubt]), { lengths: [1, 2, 3] }));
    this.cuts.replaceChildren(table(["How many", "What", "Size", "Of", "Note"], pattern.cut_list.map((c) => [c.quantity, c.name, c.size, c.material, c.note]), { words: [3, 4], kind: "cuts" }));
    this.sizes.hidden = !pattern.sizes.length;
    this.sizes.replaceChildren(...(pattern.sizes.length ? [el("h3", {}, "Grown"), table(["What", "before", "after", "why"], pattern.sizes.map((s) => [[s.what, s.size].filter(Boolean).join(", "), s.before, s.after, s.why]), { lengths: [1, 2], words: [3] })] : []));
  }
}

document.addEventListener("keydown", (event) => {
  if (!garment?.element.isConnected || !(event.ctrlKey || event.metaKey)) return;
  if (event.target.matches("input[type=text], input[type=search], textarea")) return;
  if (event.key === "z") { event.preventDefault(); if (event.shiftKey) garment.redo(); else garment.undo(); }
  if (event.key === "y") { event.preventDefault(); garment.redo(); }
});

/** Brings a garment back that is on the desk: after a reload, or begun on another screen. */
async function bringBack(key) {
  try {
    const { opened } = await get(`/api/works/${key}`);
    garment = new Garment(key, opened, await get(`/api/works/${key}/said`));
  } catch (error) {
    garment = null;
    say(error.message);
  }
  history.replaceState(null, "", garment ? `#make/${key}` : "#make");
  show();
}

function show() {
  const [named, key] = location.hash.slice(1).split("/");
  const room = named || "make";
  document.querySelectorAll("nav a").forEach((link) => {
    if (link.dataset.room === room) {
      link.setAttribute("aria-current", "page");
      document.title = `${link.textContent} · outgrown`;
    }
    else link.removeAttribute("aria-current");
  });
  // “Make” leads back to the garment being worked on, by an address that a reload keeps; the start has its own.
  document.querySelector("nav a[data-room=make]").hash = garment ? `#make/${garment.work}` : "#make";
  if (key && room === "make" && garment?.work !== key) return bringBack(key);
  if (room === "guide") guideRoom();
  else if (room === "lens") lensRoom(main);
  else if (room === "drawer") drawerRoom(main, openKept);
  else if (key && garment) main.replaceChildren(garment.element);
  else startRoom();
}

document.querySelector(".skip").addEventListener("click", (event) => { event.preventDefault(); main.focus(); main.scrollIntoView(); });
// Another window or screen may change this garment meanwhile: here it is shown as it is.
const others = () => { if (document.visibilityState === "visible") garment?.checkOthers(); };
addEventListener("focus", others);
setInterval(others, 1500);
addEventListener("hashchange", () => { show(); main.focus({ preventScroll: true }); scrollTo(0, 0); });
addEventListener("beforeunload", (event) => { if (garment?.past.length) event.preventDefault(); });
form = await get("/api/form").catch((error) => { say(error.message, true); return null; });
if (form) {
  for (const name of Object.keys(limits)) limits[name] = form[name];
  show();
}
globalThis.outgrown = { get garment() { return garment; } };
