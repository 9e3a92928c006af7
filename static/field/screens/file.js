// A file of unsent work, of this phone or another one: read in the browser, and sent as the person signed in.

import { button, clear, field, h, link } from "../dom.js";
import { lookAt, takeIn } from "../saving.js";

export default {
  name: "file",
  title: "Send a saved file",
  async show(root, app) {
    const input = h("input", { type: "file", accept: ".jsonl,application/jsonl" });
    const place = h("div", { "aria-live": "polite" });
    input.addEventListener("change", async () => {
      const file = input.files[0];
      if (!file) return;
      clear(place).append(h("p", {}, "Reading…"));
      try {
        shown(app, clear(place), file, await lookAt(file));
      } catch (error) {
        const unread = error instanceof SyntaxError || error instanceof TypeError;
        const words = unread ? "This file cannot be read." : error.message;
        clear(place).append(h("p", { class: "notice notice-error" }, words));
      }
    });
    const help = "One that “Save to a file” made, on this phone or on another.";
    root.append(field("File", input, { help }), place);
  },
};

const many = (count, one, more) => `${count} ${count === 1 ? one : more}`;

function shown(app, place, file, told) {
  const { head } = told;
  const own = head.person === app.person.person;
  const holds = [
    many(told.items, "record", "records"), many(told.photos, "photo", "photos"), many(told.drafts, "draft", "drafts"),
    told.aside > 0 && `${told.aside} set aside`,
  ];
  const saved = `${head.saved_at.replace("T", " ").slice(0, 16)} UTC`;
  place.append(
    h("p", {}, `Of ${head.name}, ${head.company}, saved ${saved}: ${holds.filter(Boolean).join(", ")}.`));
  const warn = (words) => place.append(h("p", { class: "notice notice-warning" }, words));
  if (!told.whole) {
    warn("The file is not as it was saved: its end is missing or something in it was changed. What can be read is " +
      "taken; compare with the phone it came from.");
  }
  if (!own) {
    warn(`It is sent as you, ${app.person.name}: the records will say that you entered them. If ${head.name} can ` +
      "sign in here, let them send it.");
  }
  const take = async (event) => {
    event.target.disabled = true;
    try {
      done(app, clear(place), await takeIn(app, file));
    } catch (error) {
      app.failed(error);
      event.target.disabled = false;
    }
  };
  place.append(h("p", { class: "actions" }, button(own ? "Send it" : `Send it as ${app.person.name}`, take)));
}

function done(app, place, told) {
  const rows = [`${many(told.taken, "record", "records")} taken into the queue.`];
  if (told.there) rows.push(`${told.there} were in the queue already.`);
  if (told.sent) rows.push(`${told.sent} were sent from here already.`);
  if (told.drafts) rows.push(`${many(told.drafts, "draft is", "drafts are")} open here now.`);
  place.append(h("ul", {}, rows.map((row) => h("li", {}, row))), h("p", {}, link("See how they are sent", "#/send")));
  app.queue.sendSoon();
}
