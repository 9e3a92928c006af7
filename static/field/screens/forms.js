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

/** Records are those without a body told; acts of a day are the diary's. */
function grouped(forms) {
  const of = (form) => (form.body ? (form.name.startsWith("diary") ? 3 : 2) : form.of_coat ? 1 : 0);
  const titles = ["Before paint", "Of the film", "Works, rework, nonconformance", "Diary of the day"];
  return titles
    .map((title, place) => [title, forms.filter((form) => of(form) === place)])
    .filter(([, found]) => found.length);
}
