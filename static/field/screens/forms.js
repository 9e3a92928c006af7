// What can be recorded: the forms of the pack, those of the bare steel, of paint, of the works.

import { h, link } from "../dom.js";
import { contentOf } from "../pack.js";
import { areaById } from "../places.js";

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
    const groups = grouped(pack.forms);
    if (!groups.length) root.append(h("p", { class: "empty" }, "Your roles record nothing in this project."));
    for (const [title, forms] of groups) {
      root.append(
        h("h2", {}, title),
        h(
          "ul",
          { class: "plain-list told-list told-forms" },
          forms.map((form) =>
            h(
              "li",
              {},
              link(form.title, `#/${["form", form.name, ...args].join("/")}`),
              " ",
              h("span", { class: "quiet" }, form.lead),
            ),
          ),
        ),
      );
    }
  },
};

/** Records first, those of the bare steel and those of the film; then acts under the heading that each says. */
function grouped(forms) {
  const groups = new Map([["Before paint", []], ["Of the film", []]]);
  for (const form of forms) {
    const title = form.group || (form.of_coat ? "Of the film" : "Before paint");
    if (!groups.has(title)) groups.set(title, []);
    groups.get(title).push(form);
  }
  return [...groups].filter(([, found]) => found.length);
}
