// What can be recorded: the forms of the pack, those of the bare steel, of paint, of the works; found by typing.

import { clear, h, link } from "../dom.js";
import { contentOf } from "../pack.js";
import { areaById } from "../places.js";

// It has a screen of its own, which tells dew point and limits at once.
const AT_STATION = "station-reading";

export default {
  name: "forms",
  title: "Record something",
  async show(root, app, args) {
    const pack = contentOf(app.pack);
    if (!pack)
      return void root.append(
        h("p", { class: "notice" }, "Take the project along first. "),
        link("Packs", "#/packs"),
      );
    const given = Object.fromEntries(args.map((part) => part.split("=")));
    const area = given.area && areaById(pack, given.area);
    if (area) root.append(h("p", { class: "lead" }, `At ${area.code} ${area.name}`));
    if (!pack.forms.length) root.append(h("p", { class: "empty" }, "Your roles record nothing in this project."));
    else listed(root, pack, args);
  },
};

function listed(root, pack, args) {
  const found = h("div", {});
  const told = h("p", { class: "quiet", role: "status" });
  const input = h("input", { type: "search", id: "form-seek", autocomplete: "off", oninput: () => seek() });
  const seek = () => {
    const hits = formsLike(pack.forms, input.value);
    told.textContent = hits.length ? "" : "Nothing that is recorded here has that in its words.";
    clear(found).append(...grouped(hits).flatMap(([title, forms]) => [h("h2", {}, title), rows(forms, args)]));
  };
  root.append(
    h("div", { class: "field" }, h("label", { for: "form-seek" }, "Part of a name, such as salt or lot"), input),
    told,
    found,
  );
  seek();
}

function rows(forms, args) {
  const at = (form) => (form.name === AT_STATION ? "#/climate" : `#/${["form", form.name, ...args].join("/")}`);
  return h(
    "ul",
    { class: "plain-list told-list told-forms" },
    forms.map((form) => h("li", {}, link(form.title, at(form)), " ", h("span", { class: "quiet" }, form.lead))),
  );
}

/** The forms that have every word typed in their title, heading or lead; those with it in their title first. */
export function formsLike(forms, text) {
  const parts = text.toLowerCase().split(/\s+/).filter(Boolean);
  const has = (words) => parts.every((part) => words.toLowerCase().includes(part));
  const hits = forms.filter((form) => has([form.title, form.group, form.lead].filter(Boolean).join(" ")));
  return hits.sort((one, other) => Number(has(other.title)) - Number(has(one.title)));
}

/** Records first, those of the bare steel and those around a coat; then acts under the heading that each says. */
export function grouped(forms) {
  const groups = new Map();
  const put = (title, form) => groups.set(title, [...(groups.get(title) || []), form]);
  for (const form of forms) put(headingOf(form), form);
  const order = (title) => ["Before paint", "While and after coating"].indexOf(title) + 1 || groups.size + 2;
  return [...groups].sort(([one], [other]) => order(one) - order(other));
}

function headingOf(form) {
  if (form.name === AT_STATION || form.of_coat) return "While and after coating";
  return form.group || "Before paint";
}
