// Print and keep: what is made of the pattern, to look at, print, lay on cloth and keep.

import { get, post } from "./api.js";
import { el, picture, say } from "./dom.js";

function lookAt(svg, words) {
  const dialog = el("dialog", { "aria-label": words }, el("div", { class: "row end" }, el("button", { type: "button", onclick: () => dialog.close() }, "Close")));
  const page = picture(svg, words);
  page.className = "page";
  dialog.append(page);
  dialog.addEventListener("close", () => dialog.remove());
  document.body.append(dialog);
  dialog.showModal();
}

export function outputs(garment) {
  const base = `/api/works/${garment.work}`;
  const link = (name, words, save) => el("a", { class: "button", href: `${base}/files/${name}${save ? "?save" : ""}`, ...(save ? { download: name } : { target: "_blank", rel: "noopener" }) }, words);
  const print = link("pattern.pdf", "Print the pattern");
  print.classList.add("first");
  const sheets = el("div", { class: "sheets" });
  const pages = el("details", {}, el("summary", {}, "Look at the printed pages"), sheets);
  const load = async () => {
    if (!pages.open) return;
    try {
      const { pages: drawn } = await get(`${base}/pages`);
      sheets.replaceChildren(...drawn.map((svg, i) => el("figure", {},
        el("button", { type: "button", "aria-label": `Page ${i + 1}, larger`, onclick: () => lookAt(svg, `Page ${i + 1}`) }, picture(svg, `Page ${i + 1} of ${drawn.length}`)),
        el("figcaption", {}, `Page ${i + 1} of ${drawn.length}`))));
    } catch (error) { say(error.message); }
  };
  pages.addEventListener("toggle", load);
  garment.outCard.addEventListener("drawn", load);
  return el("div", { class: "card" }, el("h2", {}, "Print and keep"),
    el("div", { class: "row" }, print, link("pattern.pdf", "Save the PDF", true), link("pattern.svg", "Save the drawing", true), link("check.png", "Photo with the line")),
    el("p", { class: "soft" }, "Print at 100 %, “actual size”, and measure the square on the first page before you cut."),
    pages);
}
