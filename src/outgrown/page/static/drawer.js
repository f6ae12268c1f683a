// The drawer: kept patterns to find, open, compare, rename and put away.

import { get, limits, post } from "./api.js";
import { drawing, el, say } from "./dom.js";
import { table } from "./table.js";
import { Viewer } from "./viewer.js";

export async function drawerRoom(main, open) {
  let chosen = [];
  let isBin = false;
  const list = el("ul", { class: "shelf" });
  const compared = el("section", { "aria-label": "Two patterns compared" });
  const words = el("input", { type: "search", id: "find", placeholder: "", autocomplete: "off" });
  const compare = el("button", { type: "button", disabled: true, onclick: () => showDifference() }, "Compare two");
  const bin = el("button", { type: "button", "aria-pressed": "false", onclick: () => { isBin = !isBin; bin.setAttribute("aria-pressed", String(isBin)); chosen = []; load(); } }, "What is in the bin");
  main.replaceChildren(el("h1", {}, "The drawer"),
    el("div", { class: "row card" }, el("label", { for: "find" }, "Find"), el("div", { class: "grow" }, words), compare, bin),
    el("p", { class: "soft" }, "Names, persons, garments, dates and notes are looked through. Choose two to compare them."), compared, list);

  let timer = 0, newest = 0;
  words.addEventListener("input", () => { clearTimeout(timer); timer = setTimeout(load, 150); });

  async function load() {
    const turn = ++newest;
    try {
      const query = new URLSearchParams({ words: words.value });
      if (isBin) query.set("binned", "1");
      const { entries } = await get(`/api/drawer?${query}`);
      if (turn !== newest) return;
      const shown = entries.slice(0, 200);
      list.replaceChildren(...shown.map(entry));
      if (!entries.length) list.replaceChildren(el("li", { class: "card" }, words.value ? "Nothing like that lies here." : isBin ? "The bin is empty." : "The drawer is empty. Keep a pattern from “Print and keep”."));
      if (entries.length > shown.length) list.append(el("li", { class: "card" }, `and ${entries.length - shown.length} more: find them by a word.`));
      choose();
    } catch (error) { say(error.message); }
  }

  const act = async (path, said, words_) => {
    try {
      await post(path, said);
      say(words_);
      await load();
    } catch (error) { say(error.message); }
  };

  function entry(one) {
    const base = `/api/drawer/${one.id}`;
    const name = `${one.name}${one.for_whom ? `, ${one.for_whom}` : ""}`;
    const tick = el("input", { type: "checkbox", checked: chosen.includes(one.id), onchange: () => {
      chosen = tick.checked ? [...chosen, one.id].slice(-2) : chosen.filter((id) => id !== one.id);
      choose();
    } });
    tick.dataset.id = one.id;
    const facts = [one.garment, one.made_on].filter(Boolean).join(" · ");
    return el("li", { class: "card" },
      el("div", { class: "thumb" }, el("img", { src: `${base}/pictures/drawing`, alt: `Pieces of ${name}`, loading: "lazy" })),
      el("h2", {}, one.name), el("p", {}, [one.for_whom, facts].filter(Boolean).join(" · ")),
      one.trouble && el("p", { class: "told refused card" }, one.trouble),
      one.notes && el("p", { class: "soft" }, one.notes),
      isBin
        ? el("div", { class: "row" }, el("button", { type: "button", onclick: () => act(`${base}/restore`, {}, `${one.name} is back in the drawer.`) }, "Take it out again"))
        : el("div", { class: "row" },
          el("button", { type: "button", class: "first", disabled: !one.can_open, onclick: () => open(one.id) }, "Open"),
          el("button", { type: "button", onclick: () => rename(one, base) }, "Rename"),
          el("button", { type: "button", onclick: () => { chosen = chosen.filter((id) => id !== one.id); act(`${base}/bin`, {}, `${one.name} is in the bin; it can be taken out again.`); } }, "Put away"),
          one.can_open && el("label", { class: "pick" }, tick, "Compare")));
  }

  function choose() {
    compare.disabled = chosen.length !== 2;
    compare.classList.toggle("ready", !compare.disabled); // a small screen shows it where the second was chosen
    list.querySelectorAll("input[type=checkbox]").forEach((box) => (box.checked = chosen.includes(box.dataset.id)));
  }

  function rename(one, base) {
    const name = el("input", { type: "text", id: "new-name", value: one.name, maxlength: limits.longest_name });
    const who = el("input", { type: "text", id: "new-who", value: one.for_whom, maxlength: limits.longest_name });
    const note = el("textarea", { id: "new-note", rows: "4" }, one.notes);
    const bad = el("p", { class: "bad", role: "alert" });
    const dialog = el("dialog", { "aria-label": `Rename ${one.name}` }, el("h2", {}, "Rename"),
      el("div", { class: "fields" },
        el("div", { class: "field" }, el("label", { for: "new-name" }, "Name"), name),
        el("div", { class: "field" }, el("label", { for: "new-who" }, "For whom, or which size"), who),
        el("div", { class: "field" }, el("label", { for: "new-note" }, "Notes"), note, bad)),
      el("div", { class: "row end" },
        el("button", { type: "button", onclick: () => dialog.close() }, "Leave it"),
        el("button", { type: "button", class: "first", onclick: async () => {
          // What cannot be is said where it was typed, and nothing typed is lost.
          try {
            if (name.value !== one.name || who.value !== one.for_whom) await post(`${base}/rename`, { name: name.value, for_whom: who.value });
            if (note.value !== one.notes) await post(`${base}/note`, { text: note.value });
          } catch (error) { return bad.replaceChildren(error.message); }
          dialog.close();
          say("Written down.");
          await load();
        } }, "Keep")));
    dialog.addEventListener("close", () => dialog.remove());
    document.body.append(dialog);
    dialog.showModal();
  }

  async function showDifference() {
    try {
      const found = await post("/api/drawer/compare", { first: chosen[0], second: chosen[1] });
      const viewer = new Viewer(drawing(found.svg), `${found.second} laid on ${found.first}`, { paper: true });
      compared.replaceChildren(el("div", { class: "card" },
        el("div", { class: "panel-head" }, el("h2", {}, `${found.second} laid on ${found.first}`), el("button", { type: "button", onclick: () => compared.replaceChildren() }, "Close")),
        viewer.element,
        el("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Differences" }, table(["Length", found.first, found.second, "more"],
          found.lengths.map((row) => [row.what, row.first, row.second, [row.more.replace(" ", "\u00a0"), !row.sure && " (within the doubt)"].filter(Boolean).join("")]))),
        found.missing.length > 0 && el("p", {}, `Only one of the two has: ${found.missing.join(", ")}.`)));
      compare.classList.remove("ready");
      compared.scrollIntoView({ block: "start" });
    } catch (error) { say(error.message); }
  }

  // What is kept while this is looked at comes into the list; what was chosen and typed here stays.
  const hear = () => (list.isConnected ? load() : removeEventListener("kept", hear));
  addEventListener("kept", hear);
  await load();
}
