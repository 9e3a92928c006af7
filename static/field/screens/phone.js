// This phone: who uses it, how much room there is, which version runs, and signing out.

import { button, h, size } from "../dom.js";
import { stamp } from "../ids.js";

const NOT_LASTING = "Not promised: the browser may clear it when the phone runs out of room. Send often, and put " +
  "the app on the home screen";

export default {
  name: "phone",
  title: "This phone",
  async show(root, app) {
    const estimate = await navigator.storage?.estimate?.().catch(() => null);
    const lasting = await navigator.storage?.persisted?.().catch(() => null);
    const clock = stamp();
    const facts = [
      ["Signed in", `${app.person.name}, ${app.person.company}`],
      ["Room", estimate?.quota ? `${size(estimate.usage)} used of ${size(estimate.quota)}` : "Not told by the browser"],
      ["Kept for good", lasting ? "Yes" : NOT_LASTING],
      ["Without a signal", app.offlineReady ? "Opens" : app.without || "Not ready yet"],
      ["Clock", clock.sure ? `By the office's, ${clock.at.replace("T", " ").slice(0, 16)} UTC` : "Not by the office's"],
      ["Version", app.version.slice(0, 8)],
      ["Version at the office", app.office ? app.office.slice(0, 8) : "Not heard yet"],
      ["Browser", navigator.userAgent],
    ];
    const row = ([name, told]) => h("div", {}, h("dt", {}, name), h("dd", {}, told));
    root.append(h("dl", { class: "facts" }, facts.map(row)));
    const others = (await app.device.people()).length > 1;
    if (others) {
      root.append(h("p", { class: "notice" }, "Somebody else's work may wait on this phone too. It is sent when they " +
        "sign in here."));
    }
    root.append(h("p", {}, h("a", { href: "/" }, "All pages of the site"), ", which need a signal"));
    root.append(h("h2", {}, "Sign out"),
      h("p", {}, "What waits stays on this phone, locked, until you sign in here again, for which a signal is " +
        "needed. Send it first if you can."),
      button("Sign out and lock", () => app.lock().catch(app.failed), { class: "button button-danger" }));
  },
};
