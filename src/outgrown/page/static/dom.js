// Small makers of elements. Text goes in as text, never as markup.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes || {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name === "class") node.setAttribute("class", value);
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  for (const child of children.flat(Infinity)) if (child !== null && child !== undefined && child !== false) node.append(child);
  return node;
}

export const el = (name, attributes, ...children) => fill(document.createElement(name), attributes, children);
export const sv = (name, attributes, ...children) => fill(document.createElementNS(SVG, name), attributes, children);

/** Reads a drawing of the library's into the document; scripts and links in it, of which it has none, are left out. */
export function drawing(text) {
  const read = new DOMParser().parseFromString(text, "image/svg+xml");
  const root = read.documentElement;
  if (root.nodeName !== "svg") throw new Error("not a drawing");
  root.querySelectorAll("script, foreignObject, a, image, use").forEach((node) => node.remove());
  for (const node of [root, ...root.querySelectorAll("*")])
    for (const { name } of [...node.attributes]) if (name.toLowerCase().startsWith("on")) node.removeAttribute(name);
  return document.importNode(root, true);
}

let timer = 0;
export function say(words, stays = false) {
  const place = document.getElementById("say");
  place.textContent = words;
  clearTimeout(timer);
  if (!stays && words) timer = setTimeout(() => (place.textContent = ""), 6000);
}

export const told = (findings) =>
  el("ul", { class: "told" }, findings.map((f) =>
    el("li", { class: f.severity }, f.severity === "warning" && el("span", { class: "tag" }, "Mind: "), f.text)));
