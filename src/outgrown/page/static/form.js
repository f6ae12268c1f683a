// The form: questions come from the program; answers are sent as typed.

import { limits } from "./api.js";
import { el } from "./dom.js";
import { small } from "./pictures.js";

let count = 0;

export class Form {
  constructor(described, onchange) {
    this.questions = described.questions;
    this.onchange = onchange;
    this.answers = {};
    this.fields = new Map();
    this.last = ""; // the question answered last
    this.bad = el("p", { class: "bad", role: "alert", id: "bad" });
    this.element = el("div", {}, described.groups.map((group, i) =>
      el("details", { class: "card", open: i < 2 }, el("summary", {}, group.label),
        el("div", { class: "fields" }, this.questions.filter((q) => q.group === group.name).map((q) => this.field(q))))));
    this.showNeeded();
  }

  field(q) {
    const id = `q${++count}`, why = `${id}-why`;
    const set = (value, soon) => {
      this.answers[q.name] = value;
      this.last = q.name;
      this.showNeeded();
      this.onchange(soon);
    };
    let field;
    if (q.kind === "choice" && q.options.some((o) => o.picture)) {
      field = el("fieldset", { class: "field pictures", "aria-describedby": why }, el("legend", { class: "legend" }, q.label),
        el("div", { class: "picks" }, q.options.map((o) => el("label", { class: "pick" },
          el("input", { type: "radio", name: id, value: o.value, checked: o.value === q.default, onchange: () => set(o.value) }),
          o.picture && small(o.picture), el("span", {}, o.label)))));
    } else if (q.kind === "choice") {
      field = el("div", { class: "field" }, el("label", { for: id }, q.label),
        el("select", { id, "aria-describedby": why, onchange: (e) => set(e.target.value) },
          q.options.map((o) => el("option", { value: o.value, selected: o.value === q.default }, o.label))));
    } else if (q.kind === "switch") {
      field = el("div", { class: "field" }, el("label", { class: "pick", for: id },
        el("input", { type: "checkbox", id, checked: q.default === "on", "aria-describedby": why, onchange: (e) => set(e.target.checked) }), q.label));
    } else {
      field = el("div", { class: "field" }, el("label", { for: id }, q.label),
        el("input", { type: "text", id, value: q.default, autocomplete: "off", inputmode: "text", maxlength: limits.longest_name, "aria-describedby": why,
          oninput: (e) => set(e.target.value, true) }));
    }
    field.append(el("p", { class: "why", id: why }, q.why));
    this.fields.set(q.name, field);
    return field;
  }

  /** Shows other answers in place of those here; the usual one where none is given. */
  replace(answers) {
    const usual = Object.fromEntries(this.questions.filter((q) => this.answers[q.name] !== undefined).map((q) => [q.name, q.kind === "switch" ? q.default === "on" : q.default]));
    this.restore({ ...usual, ...answers });
    this.answers = { ...answers };
    this.showNeeded();
  }

  /** Puts answers given before back into their fields. */
  restore(answers) {
    for (const [name, value] of Object.entries(answers)) {
      const field = this.fields.get(name);
      if (!field) continue;
      this.answers[name] = value;
      for (const input of field.querySelectorAll("input, select")) {
        if (input.type === "radio") input.checked = input.value === value;
        else if (input.type === "checkbox") input.checked = Boolean(value);
        else input.value = value;
      }
    }
    this.showNeeded();
  }

  /** Shows an answer that a pattern has of its own, where nothing else was said. */
  suggest(name, value) {
    const input = this.fields.get(name)?.querySelector("select");
    if (input && this.answers[name] === undefined) input.value = value;
  }

  /** Says what is wrong where it is wrong, else where something was changed last; tells whether it found a place. */
  refuse(words, name) {
    const isKnown = this.bad.isConnected && this.bad.textContent === words;
    this.clear();
    const field = this.fields.get(name || this.last);
    if (!field || field.hidden) return false;
    this.bad.textContent = words;
    field.querySelector(".why").before(this.bad);
    field.closest("details").open = true;
    if (!isKnown) this.bad.scrollIntoView({ block: "nearest" });
    for (const input of field.querySelectorAll("input, select")) {
      input.setAttribute("aria-invalid", "true");
      input.setAttribute("aria-errormessage", this.bad.id);
    }
    return true;
  }

  clear() {
    for (const input of this.bad.parentElement?.querySelectorAll("[aria-invalid]") || []) {
      input.removeAttribute("aria-invalid");
      input.removeAttribute("aria-errormessage");
    }
    this.bad.remove();
  }

  answer(name) {
    const q = this.questions.find((one) => one.name === name);
    return this.answers[name] ?? q?.default ?? "";
  }

  showNeeded() {
    for (const q of this.questions) if (q.needs.length) this.fields.get(q.name).hidden = this.answer(q.needs[0]) !== q.needs[1];
  }
}
