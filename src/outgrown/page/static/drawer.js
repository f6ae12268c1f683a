import { el } from "./dom.js";
export async function drawerRoom(main) { main.replaceChildren(el("h1", {}, "The drawer")); }
