// How it lies on cloth: off the roll, on a leftover in a photo, or on a shirt.

import { get, post, send } from "./api.js";
import { drawing, el, say } from "./dom.js";
import { makeMeter, untilDone } from "./meter.js";
import { barField, cardTools, PhotoPanel } from "./photo.js";
import { Viewer } from "./viewer.js";

export function layPart(garment) {
  const base = `/api/works/${garment.work}`;
  const fields = {};
  const text = (name, label, why, value = "") => {
    const id = `lay-${name}`;
    fields[name] = el("input", { type: "text", id, value, autocomplete: "off", "aria-describedby": `${id}-why` });
    return el("div", { class: "field" }, el("label", { for: id }, label), fields[name], el("p", { class: "why", id: `${id}-why` }, why));
  };
  const tick = (name, label) => {
    fields[name] = el("input", { type: "checkbox" });
    return el("label", { class: "pick" }, fields[name], label);
  };
  const result = el("div", { "aria-live": "polite" });
  const old = el("p", { class: "told refused card", hidden: true }, "The pattern has changed since it was laid. Lay it again before you buy or cut.");
  let laid = null; // the drawing of the pattern that was laid
  garment.outCard.addEventListener("drawn", () => { old.hidden = laid === null || laid === garment.drawn; });
  const photo = el("input", { type: "file", accept: "image/*,.heic,.heif", "aria-label": "Photo of the cloth", onchange: () => { if (photo.files[0]) fromPhoto(photo.files[0]); photo.value = ""; } });
  const lay = (words, said) => el("button", { type: "button", onclick: () => fromButton(begin(said())) }, words);
  const value = (name) => fields[name].value, ticked = (name) => fields[name].checked;
  const cloth = el("section", { class: "card", "aria-label": "The photo of the cloth", hidden: true });
  const undoButtons = el("div", { class: "row" });
  const part = el("details", {}, el("summary", {}, "How it lies on cloth, and how much to buy"),
    el("div", { class: "row" }, tick("one_way", "One-way print or nap: all tops one way")),
    el("div", { class: "bench" },
      el("section", { class: "card", "aria-label": "Cloth off the roll" }, el("h3", {}, "Cloth off the roll"),
        text("width", "Width of the cloth", "From selvedge to selvedge, for example 150 cm or 60 in.", "150 cm"),
        el("div", { class: "row" }, tick("folded", "Folded lengthwise"), tick("open_folds", "Halves opened, cut through both layers")),
        lay("Lay it", () => ({ how: "width", width: value("width"), folded: ticked("folded"), open_folds: ticked("open_folds") }))),
      el("section", { class: "card", "aria-label": "A leftover or a shirt" }, el("h3", {}, "A leftover, or a T-shirt"),
        el("p", { class: "soft" }, "Lay it flat beside a card or sheet, its grain upright in the photo."),
        el("div", { class: "row" }, tick("on_hem", "It is a T-shirt: its hem becomes the legs' hem")),
        el("label", { class: "button" }, "Photo of the cloth", photo),
        el("p", { class: "soft" }, "Or a shirt that you measured:"),
        text("shirt_width", "Width of the shirt", "Side to side, lying flat."), text("shirt_length", "From hem to underarm", "Straight up."),
        lay("Lay it on the shirt", () => ({ how: "shirt", shirt_width: value("shirt_width"), shirt_length: value("shirt_length") })))),
    cloth, old, result);

  const refuse = (error) => {
    laid = null;
    old.hidden = true;
    result.replaceChildren(el("p", { class: "told refused card", role: "alert" }, el("strong", {}, error.problem || error.message), " ", error.advice || ""));
  };

  async function follow(path, pick, words, stop) {
    const meter = makeMeter(words, words);
    result.replaceChildren(...meter.parts, el("button", { type: "button", onclick: () => post(stop).catch((error) => say(error.message)) }, "Stop"));
    return untilDone(path, meter, pick);
  }

  /** Leads to what comes of a button: on a small screen that is far below it. */
  async function fromButton(begun) {
    result.replaceChildren(el("p", {}, "laying the pieces"));
    leadTo(result);
    await begun;
    leadTo(result);
  }

  function leadTo(place) { if (place.getBoundingClientRect().top > innerHeight - 150) place.scrollIntoView({ block: "start" }); }

  /**
   * Lays the pieces and shows how they lie, or why not, unless that `isLate` by then: another look at the cloth has begun.
   * @param takesBack what to do instead of saying why not, where it is refused at once
   */
  async function begin(said, isLate = () => false, takesBack = null) {
    try {
      await garment.settle();
      laid = garment.drawn;
      old.hidden = true;
      await post(`${base}/lay`, { ...said, one_way: ticked("one_way"), of: garment.stamp });
      if (isLate()) return false;
      const found = await follow(`${base}/lay`, (state) => state, "laying the pieces", `${base}/lay/stop`);
      if (isLate()) return false;
      show(found);
      return true;
    } catch (error) {
      if (isLate()) return false;
      if (takesBack && error.status === 422) {
        takesBack(error);
        return false;
      }
      refuse(error);
      if (error.status === 412) garment.checkOthers();
    }
    return false;
  }

  let looks = 0; // at the cloth, begun; what comes of an earlier one is not shown

  async function fromPhoto(file) {
    looks++;
    try {
      result.replaceChildren(el("p", {}, "sending the photo"));
      leadTo(result);
      await send(file, { work: garment.work, role: "cloth" });
      garment.forget("cloth");
      garment.has.cloth = true;
      garment.has.clothFloor = false; // it was of the cloth before
      cloth.hidden = true;
      await lookAtCloth(() => leadTo(cloth));
    } catch (error) { refuse(error); }
  }

  const floor = el("input", { type: "file", accept: "image/*,.heic,.heif", "aria-label": "Photo of the empty floor below the cloth",
    onchange: () => { if (floor.files[0]) helpWith(send(floor.files[0], { work: garment.work, role: "cloth-floor" }), true); floor.value = ""; } });
  const noFloor = el("button", { type: "button", onclick: () => helpWith(post(`${base}/photos/cloth-floor/away`), false) }, "Do without the photo of the floor");

  /** Looks at the cloth again once a photo of its floor has come, or is gone. */
  async function helpWith(asked, hasFloor) {
    looks++;
    try {
      await asked;
      garment.has.clothFloor = hasFloor;
      await lookAtCloth();
    } catch (error) { refuse(error); }
  }

  /** Shows the photo of the cloth with what was found, to be mended as a garment's is. */
  function showCloth(seen) {
    const { edits } = garment;
    if (!garment.panels.cloth) {
      const change = (make, looksAgain) => garment.edit(false, make, looksAgain);
      garment.panels.cloth = new PhotoPanel({ source: `${base}/photos/cloth?${Date.now()}`, width: seen.width, height: seen.height, role: "cloth",
        label: "Photo of the cloth with the outline found",
        on: {
          pull: (from, to, live) => { if (!live) change((e) => e.pulls.cloth.push({ from, to })); },
          brush: (side, points) => change((e) => e.hints.cloth.push([side, points]), "cloth"),
          ...cardTools(change, "cloth"),
        } });
      cloth.replaceChildren(el("div", { class: "panel-head" }, el("h3", {}, "Does the line follow the cloth's edge?"), undoButtons), garment.panels.cloth.element,
        el("details", {}, el("summary", {}, "Where it is not found well"),
          el("p", {}, "A photo of the empty floor helps where cloth and floor look alike."),
          el("div", { class: "row" }, el("label", { class: "button" }, "Photo of the empty floor", floor), noFloor),
          barField("cloth-bar", edits.bars.cloth, "cloth", (bar) => change((e) => (e.bars.cloth = bar), "cloth"))),
        el("div", { class: "row" }, el("button", { type: "button", onclick: () => fromButton(layOnPhoto()) }, "Lay it on this cloth")));
    }
    noFloor.hidden = !garment.has.clothFloor;
    cloth.hidden = false;
    garment.showUndo();
    garment.panels.cloth.show(seen, edits);
  }

  const layOnPhoto = async (takesBack = null) => {
    const turn = looks, isLate = () => turn !== looks;
    const pulls = garment.edits.pulls.cloth.map(({ from, to }) => ({ from, to }));
    if (await begin({ how: "photo", on_hem: ticked("on_hem"), pulls }, isLate, takesBack) && !isLate()) showCloth(await get(`${base}/seen/cloth`));
  };

  /** Waits until the cloth is looked at; then the pieces are laid on it. */
  async function lookAtCloth(shown = () => {}) {
    const turn = looks;
    // Below the photo that was mended it may be out of sight.
    const isFar = () => result.getBoundingClientRect().top > innerHeight - 60;
    try {
      if (isFar()) say("Looking at the cloth again …", true);
      await follow(base, (state) => state.photos.cloth, "looking at the cloth", `${base}/stop`);
      if (turn !== looks) return;
      showCloth(await get(`${base}/seen/cloth`));
      say("");
      shown();
      await layOnPhoto();
    } catch (error) {
      if (turn !== looks) return;
      say(isFar() ? error.message : "");
      // A photo that does not do is shown all the same, to show in it what was not found.
      const [width, height] = error.size || [0, 0];
      if (width) showCloth({ width, height, outline: [], holes: [], doubtful: [], references: [], corners: [] });
      refuse(error);
      shown();
    }
  }

  delete garment.panels.cloth; // it belonged to a part that is gone
  garment.cloth = {
    undoButtons,
    lay: (isNew) => layOnPhoto(isNew ? (error) => garment.takeBack(error) : null),
    again: (isNew) => {
      looks++;
      const failed = (error) => (isNew && error.status === 422 ? garment.takeBack(error) : refuse(error));
      return garment.lookAgain("cloth").then(() => lookAtCloth(), failed);
    },
  };
  // After a reload the photo sent before is there still.
  part.addEventListener("toggle", async () => {
    if (!part.open || !garment.has.cloth || garment.panels.cloth) return;
    const photo = (await get(base).catch(() => ({ photos: {} }))).photos.cloth;
    if (photo?.state === "done") showCloth(await get(`${base}/seen/cloth`));
  });

  function show(found) {
    const link = (name, words, save) => el("a", { class: "button", href: `${base}/lay/${name}${save ? "?save" : ""}`, ...(save ? { download: name } : { target: "_blank", rel: "noopener" }) }, words);
    result.replaceChildren(el("div", {}, el("h3", {}, found.answer), el("p", {}, found.about.join(" ")),
      found.offers.length > 0 && el("ul", {}, found.offers.map((offer) => el("li", {}, offer))),
      found.has_photo && el("img", { src: `${base}/lay/lay.png?${Date.now()}`, alt: "The photo of the cloth with the pieces drawn on it" }),
      new Viewer(drawing(found.svg), "The plan: where each piece goes", { paper: true }).element,
      el("ul", {}, found.rows.map((row) => el("li", {}, row))),
      el("div", { class: "row" }, link("lay.pdf", "Print the plan"), link("lay.png", "Save the picture", true)),
      el("p", { class: "soft" }, "Pin or weigh the layers together, and cut away from yourself.")));
  }

  return part;
}
