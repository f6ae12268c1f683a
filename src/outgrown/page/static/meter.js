// How far the program has come with something, shown while it works.

import { get } from "./api.js";
import { el } from "./dom.js";

export const wait = (ms) => new Promise((done) => setTimeout(done, ms));

/** A meter with words below it. */
export function makeMeter(label, words) {
  const bar = el("span", {}), doing = el("p", { role: "status" }, words);
  const meter = el("div", { class: "meter", role: "progressbar", "aria-label": label, "aria-valuemin": "0", "aria-valuemax": "100" }, bar);
  return {
    parts: [meter, doing],
    say(now) { if (doing.textContent !== now) doing.textContent = now; },
    show(state) {
      bar.style.width = `${Math.round(state.share * 100)}%`;
      meter.setAttribute("aria-valuenow", Math.round(state.share * 100));
      this.say(state.doing);
    },
  };
}

/** Asks again and again how far it has come, and shows it, until it is done; throws where it does not come to that. */
export async function untilDone(path, meter, pick = (state) => state) {
  for (;;) {
    const state = pick(await get(path));
    if (state.ended) {
      if (state.state === "done") return state;
      throw Object.assign(new Error(state.problem), state);
    }
    meter.show(state);
    await wait(200);
  }
}
