// A phone's lens, learned once from photos of a printed sheet; and the targets to print beside it.

import { post, sendTo } from "./api.js";
import { el, say } from "./dom.js";
import { makeMeter, untilDone } from "./meter.js";

const STEPS = [
  "Print the lens sheet, or show it full screen. Its size does not matter, but it must lie flat: taped to a board, a window or a table.",
  "Take 6 photos with the main lens, without zoom: two from straight above, so near that the sheet runs over the picture's edges, and four from a slant, one from each side.",
  "Choose all six here. The lens is kept on this computer and used by itself for every later photo taken with it.",
];

export function lensRoom(main) {
  const result = el("div", {});
  const paper = el("select", { id: "lens-paper" }, el("option", { value: "a4" }, "A4"), el("option", { value: "letter" }, "Letter"));
  const sheet = (name, words) => el("a", { class: "button", href: `/api/lens/sheets/${name}?paper=a4`, target: "_blank", rel: "noopener" }, words);
  const sheets = [sheet("lens-sheet.pdf", "Lens sheet"), sheet("targets.pdf", "Targets and lens sheet")];
  paper.addEventListener("change", () => sheets.forEach((link) => link.setAttribute("href", link.getAttribute("href").replace(/paper=.*/, `paper=${paper.value}`))));
  const photos = el("input", { type: "file", multiple: true, accept: "image/*,.heic,.heif", "aria-label": "Photos of the lens sheet", onchange: () => { if (photos.files.length) learn([...photos.files]); photos.value = ""; } });
  const choose = el("label", { class: "button first" }, "Photos of the lens sheet", photos);
  main.replaceChildren(el("div", { class: "start" },
    el("section", { class: "card" }, el("h1", {}, "Your phone's lens"),
      el("p", {}, "Phones bend straight lines a little. Over a garment that costs more than anything else, up to several millimetres, and one card cannot show it. Learn the lens once, and every later photo is better."),
      el("ol", {}, STEPS.map((text) => el("li", {}, text))),
      el("div", { class: "field" }, el("label", { for: "lens-paper" }, "Paper"), paper),
      el("div", { class: "row" }, sheets, choose), result),
    el("section", { class: "card" }, el("h2", {}, "Targets"),
      el("p", {}, "The first pages of “Targets and lens sheet” hold squares and strips to cut out and lay round the garment, flat, never on the cloth: they measure better than a card. Print them at 100 %, measure their bar, and type its length below the photo of the garment, under “More photos of this garment”."))));

  const refuse = (error) => result.replaceChildren(el("p", { class: "told refused card", role: "alert" }, el("strong", {}, error.problem || error.message), " ", error.advice || ""));
  let isLearning = false; // a second choice waits for the first

  async function learn(files) {
    if (isLearning) return say("The lens is being learned already. Wait, or stop it first.");
    isLearning = true;
    try {
      const meter = makeMeter("How far the learning has come", "sending the photos");
      result.replaceChildren(...meter.parts);
      let work;
      for (const [i, file] of files.entries()) {
        meter.say(`sending photo ${i + 1} of ${files.length}`);
        ({ work } = await sendTo("/api/lens", file, work ? { work } : {}));
      }
      await post(`/api/lens/${work}/learn`);
      result.append(el("button", { type: "button", onclick: () => post(`/api/lens/${work}/stop`).catch((error) => say(error.message)) }, "Stop"));
      show(await untilDone(`/api/lens/${work}`, meter));
    } catch (error) { refuse(error); } finally { isLearning = false; }
  }

  function show(found) {
    result.replaceChildren(el("div", { role: "status" },
      el("p", { class: "good" }, `The lens of ${found.camera} is known now, from ${found.photos} photos.`),
      el("p", {}, `Focal length ${found.focal_px} px, distortion k1 ${found.k1} ± ${found.k1_doubt}; the sheet's corners fit to ${found.residual_px} px. It is used by itself; a photo on the desk is measured with it when it is looked at again.`)));
  }
}
