// Tables of lengths and of what to cut, readable on a phone: lengths stay in one piece, words go below them.

import { el } from "./dom.js";

/**
 * @param head what each column holds; @param list rows of texts
 * @param lengths columns that are not broken; @param words columns that stand below the others on a phone
 * @param kind of table, where a phone shows it in a way of its own
 */
export function table(head, list, { lengths = [], words = [], kind = "" } = {}) {
  // Told what they are, as rows drawn as a grid are none to a screen reader any more.
  const cls = (i) => [lengths.includes(i) && "one", words.includes(i) && "below"].filter(Boolean).join(" ") || null;
  const row = (cells, make) => el("tr", { role: "row" }, cells.map(make));
  return el("table", { role: "table", class: words.length ? `worded ${kind}` : null },
    el("thead", { role: "rowgroup" }, row(head, (h, i) => el("th", { scope: "col", role: "columnheader", class: cls(i) }, h))),
    el("tbody", { role: "rowgroup" }, list.map((cells) => row(cells, (cell, i) => el("td", { role: "cell", class: cls(i) }, cell)))));
}
