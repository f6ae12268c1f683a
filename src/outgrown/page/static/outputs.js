// Print and keep: what is made of the pattern, to look at, print, lay on cloth and keep.

import { get, post } from "./api.js";
import { drawing, el, say } from "./dom.js";
import { layPart } from "./laying.js";
import { Viewer } from "./viewer.js";

/** Shows a page large; it comes back to where it was afterwards. */
function lookAt(svg, words) {
  const page = svg.cloneNode(true);
  // A small screen is no wider than the page was already: there it is zoomed.
  const large = matchMedia("(max-width: 600px)").matches ? new Viewer(page, words, { paper: true }).element : el("div", { class: "page" }, page);
  const dialog = el("dialog", { "aria-label": words, class: "large" },
    el("div", { class: "row end" }, el("button", { type: "button", onclick: () => dialog.close() }, "Close")), large);
  dialog.addEventListener("close", () => dialog.remove());
  document.body.append(dialog);
  dialog.showModal();
}

export function sheetOf(text, words) {
  const svg = drawing(text);
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", words);
  const [wide, tall] = ["width", "height"].map((name) => svg.getAttribute(name));
  svg.removeAttribute("width");
  svg.removeAttribute("height");
  return [svg, `${parseFloat(wide)} × ${parseFloat(tall)} mm`];
}

function pagesPart(garment, base) {
  const sheets = el("div", { class: "sheets" });
  const part = el("details", {}, el("summary", {}, "Look at the printed pages and the sewing steps"), sheets);
  let newest = 0;
  const load = async () => {
    if (!part.open) return;
    const turn = ++newest;
    try {
      const { pages } = await get(`${base}/pages?of=${garment.stamp}`);
      if (turn !== newest) return;
      sheets.replaceChildren(...pages.map((text, i) => {
        const words = `Page ${i + 1} of ${pages.length}`;
        const [svg] = sheetOf(text, words);
        return el("figure", {}, el("button", { type: "button", "aria-label": `${words}, larger`, onclick: () => lookAt(svg, words) }, svg), el("figcaption", {}, words));
      }));
    } catch (error) { garment.failed(error); }
  };
  part.addEventListener("toggle", load);
  garment.outCard.addEventListener("drawn", load);
  return part;
}

function otherForms(garment, base) {
  const fields = {};
  const text = (name, label, why) => {
    const id = `paper-${name}`;
    fields[name] = el("input", { type: "text", id, autocomplete: "off", "aria-describedby": `${id}-why` });
    return el("div", { class: "field" }, el("label", { for: id }, label), fields[name], el("p", { class: "why", id: `${id}-why` }, why));
  };
  const take = async (words, said) => {
    const query = new URLSearchParams({ ...said });
    for (const name of ["bar_across", "bar_down"]) if (fields[name].value && ["tiles", "sheet"].includes(said.form)) query.set(name, fields[name].value);
    if (said.form === "sheet" && fields.roll.value) query.set("roll", fields.roll.value);
    try {
      await garment.settle();
      query.set("of", garment.stamp);
      const answer = await fetch(`${base}/paper?${query}`);
      if (!answer.ok) {
        const why = await answer.json();
        return garment.failed({ message: [why.problem, why.advice].join(" "), status: answer.status });
      }
      const name = /filename="(.+)"/.exec(answer.headers.get("content-disposition"))[1];
      const link = el("a", { href: URL.createObjectURL(await answer.blob()), download: name });
      link.click();
      setTimeout(() => URL.revokeObjectURL(link.href), 60000);
      say(`${words}: saved as ${name}`);
    } catch { say("The program does not answer. Is it still running?"); }
  };
  const button = (words, said) => el("button", { type: "button", onclick: () => take(words, said) }, words);
  return el("details", {}, el("summary", {}, "Other paper, projector, other programs"),
    el("div", { class: "row" },
      button("Pages without cutting any", { form: "tiles", untrimmed: "1" }), button("One large sheet", { form: "sheet" }),
      button("Projector, dark on light", { form: "projector" }), button("Projector, light on dark", { form: "projector", dark: "1" }),
      button("SVG", { form: "svg" }), button("DXF", { form: "dxf" }), button("Pages, printer put right", { form: "tiles", corrected: "1" })),
    el("div", { class: "fields" },
      text("bar_across", "The bar across measures", "On your print, from 0 to 10 cm, for example 99.4 mm, or in inches from 0 to 4 in: the next print is made right."),
      text("bar_down", "The upright bar measures", "The same, down the page."),
      text("roll", "Width of the roll", "For the large sheet, for example 914 mm; else it is A0.")));
}

export function outputs(garment) {
  const base = `/api/works/${garment.work}`;
  // What was typed a moment ago is drawn first: what is opened or saved is what stands beside it.
  const first = async (event) => {
    if (garment.isSettled()) return;
    const followed = event.currentTarget;
    event.preventDefault();
    await garment.settle();
    followed.click();
  };
  const links = [];
  const address = (name, save) => `${base}/files/${name}?of=${garment.stamp}${save ? "&save" : ""}`;
  const link = (name, words, save) => {
    const made = el("a", { class: "button", href: address(name, save), onclick: first, ...(save ? { download: name } : { target: "_blank", rel: "noopener" }) }, words);
    links.push(() => made.setAttribute("href", address(name, save)));
    return made;
  };
  garment.outCard.addEventListener("drawn", () => links.forEach((renew) => renew()));
  const print = link("pattern.pdf", "Print the pattern");
  print.classList.add("first");
  const keep = el("button", { type: "button", onclick: async () => {
    try {
      say("Putting it into the drawer …", true);
      await garment.settle();
      const kept = await post(`${base}/keep`, { of: garment.stamp });
      dispatchEvent(new CustomEvent("kept"));
      say(kept.is_new ? `“${kept.name}” lies in the drawer.` : `“${kept.name}” was in the drawer already.`);
    } catch (error) { garment.failed(error); }
  } }, "Keep it in the drawer");
  return el("div", { class: "card" }, el("h2", {}, "Print and keep"), garment.before,
    el("div", { class: "row" }, print, link("pattern.pdf", "Save the PDF", true), keep, garment.isOpened ? "" : link("check.png", "Photo with the line")),
    el("p", { class: "soft" }, "Print at 100 %, “actual size”, and measure the square on the first page before you cut."),
    pagesPart(garment, base), layPart(garment), otherForms(garment, base));
}
