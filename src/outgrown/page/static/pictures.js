// Drawings of our own: how to lay and photograph, and the ways to lie and to finish.

import { sv } from "./dom.js";

const path = (d, extra = "") => sv("path", { d, class: extra });
const draw = (box, label, ...parts) =>
  sv("svg", { viewBox: box, class: "drawn", ...(label ? { role: "img", "aria-label": label } : { "aria-hidden": "true" }) }, ...parts);
const words = (x, y, text) => sv("text", { x, y }, text);

const FOLDED = "M9 4 V44 H21 Q27 29 39 21 Q31 18 30 4 Z";
const SMALL = {
  auto: () => [path("M10 24 h10 M28 24 h10", "dash"), path("M20 16 l8 8 -8 8")],
  folded: () => [path(FOLDED, "full")],
  open: () => [path("M12 5 H36 L42 43 H30 L24 20 L18 43 H6 Z", "full")],
  panel: () => [path("M14 5 Q24 8 34 5 Q36 14 44 18 L34 43 H14 L4 18 Q12 14 14 5 Z", "full")],
  other: () => [path("M16 6 Q24 12 32 6 L44 13 L40 22 L35 20 V43 H13 V20 L8 22 L4 13 Z", "full")],
  casing: () => [path("M6 40 V10 H42 V40", "full"), path("M6 22 H42", "dash"), path("M10 16 H38", "thin")],
  turned: () => [path("M6 40 V10 H42 V40", "full"), path("M6 20 l4 -4 4 4 4 -4 4 4 4 -4 4 4 4 -4 4 4 4 -4", "thin")],
  band: () => [path("M8 42 V24 H40 V42", "full"), path("M6 8 H42 V22 H6 Z"), path("M6 15 H42", "dash")],
  hem: () => [path("M10 6 V42 H38 V6", "full"), path("M10 32 H38", "dash")],
  mock: () => [path("M10 6 V42 H38 V6", "full"), path("M10 28 H38 M10 31 H38", "thin")],
  cuff: () => [path("M8 6 L10 26 H38 L40 6", "full"), path("M13 28 H35 V42 H13 Z"), path("M18 28 V42 M24 28 V42 M30 28 V42", "thin")],
};

export const small = (name) => (SMALL[name] ? draw("0 0 48 48", "", ...SMALL[name]()) : null);

const leg = (x, y) => sv("g", { transform: `translate(${x} ${y})` }, path("M0 0 L0 92 L28 92 Q40 56 64 38 Q50 32 48 0 Z", "full"));
const card = (x, y) => sv("g", { transform: `translate(${x} ${y})` }, sv("rect", { width: 34, height: 21, rx: 2.5 }), path("M5 14 h12", "thin"));

export const GUIDE = [
  {
    title: "Fold it lengthwise",
    picture: () => draw("0 0 240 150", "A pair of leggings, one leg folded onto the other, the side straight and the rise pulled out",
      leg(40, 25), path("M122 52 q-10 -4 -20 -2", "thin"), words(126, 55, "pull the rise out flat"), path("M34 25 V117", "dash"), words(6, 130, "straight side")),
    text: "One leg on the other, fronts outside. Smooth it flat from the side towards the inseam, and pull the curve of the rise out until it lies flat. Stretch nothing.",
  },
  {
    title: "Lay a card beside it",
    picture: () => draw("0 0 240 150", "Leggings on a floor with a bank card near each end", sv("rect", { x: 6, y: 6, width: 228, height: 138, class: "thin" }),
      leg(90, 30), card(22, 30), card(180, 108), words(16, 64, "card or sheet"), words(160, 100, "better: two")),
    text: "A bank card or a sheet of A4 or Letter paper on the same floor, a hand's breadth from the cloth. Cards at both ends, or a sheet, are more exact than one card. The number side of the card goes down.",
  },
  {
    title: "Choose a plain floor",
    picture: () => draw("0 0 240 150", "Light cloth on a dark floor, dark cloth on a light floor",
      sv("rect", { x: 10, y: 12, width: 104, height: 126, fill: "#4a4f52", stroke: "none" }),
      sv("g", { transform: "translate(35 30) scale(.95)" }, sv("path", { d: "M0 0 L0 92 L28 92 Q40 56 64 38 Q50 32 48 0 Z", fill: "#f4efe4", stroke: "#f4efe4" })),
      sv("rect", { x: 126, y: 12, width: 104, height: 126, fill: "#efe8da", stroke: "none" }), sv("g", { transform: "translate(150 30) scale(.95)" }, sv("path", { d: "M0 0 L0 92 L28 92 Q40 56 64 38 Q50 32 48 0 Z", fill: "#23282c", stroke: "#23282c" }))),
    text: "One colour, unlike the cloth, and even light: by a window, no lamp behind you, your shadow off the cloth.",
  },
  {
    title: "Photograph straight down",
    picture: () => draw("0 0 240 150", "A phone held level, one and a half metres above the cloth", path("M20 132 H220"), path("M70 128 H170", "full"),
      sv("rect", { x: 104, y: 14, width: 32, height: 8, rx: 2 }), path("M120 24 L72 126 M120 24 L168 126", "dash"), words(168, 70, "about 1.5 m"), words(144, 22, "level")),
    text: "Stand over it, the phone level, from about chest height, so that cloth and card fill most of the picture and nothing is cut off. Use the ordinary lens, not the wide one.",
  },
  {
    title: "Look at the line",
    picture: () => draw("0 0 240 150", "A line runs round the cloth", leg(60, 30), sv("path", { d: "M56 26 L56 126 L91 126 Q103 88 131 68 Q115 61 112 26 Z", class: "dash" }), words(140, 60, "does it follow"), words(140, 74, "the edge?")),
    text: "The page draws the edge that it found. Where it is wrong, pull it to where it belongs, or brush over what is garment and what is floor.",
  },
  {
    title: "Print, measure, cut",
    picture: () => draw("0 0 240 150", "A printed page with a square of fifty millimetres and a ruler", sv("rect", { x: 50, y: 12, width: 96, height: 126 }), sv("rect", { x: 66, y: 28, width: 42, height: 42 }),
      path("M66 82 H108 M66 78 V86 M108 78 V86", "thin"), words(74, 98, "50 mm"), path("M160 30 H190 V130 H160 Z", "thin"), path("M160 40 h8 M160 50 h8 M160 60 h12 M160 70 h8 M160 80 h8 M160 90 h12", "thin")),
    text: "Print at 100 %, measure the square on the first page, then join the pages. Mind blades and needles, and the hot iron.",
  },
];
