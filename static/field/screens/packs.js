// The projects that the phone takes along: how old what it knows is, fetching it again, and which one is worked on.

import { ago, button, clear, h, size } from "../dom.js";
import { now } from "../ids.js";
import { fetchPack, keptPacks } from "../pack.js";

const ANSWERS = {
  new: ["Taken along as it is now.", "good"],
  same: ["Nothing has changed since.", "good"],
  offline: ["The office cannot be reached. What was taken along before still serves.", "bad"],
  out: ["Sign in to fetch it. What was taken along before still serves.", "bad"],
  gone: ["This project is not yours to see any more. What you recorded is kept and sent; ask at the office.", "bad"],
  busy: ["The office is busy. Try again in a while.", "bad"],
};

export default { name: "packs", title: "Projects taken along", show };

async function show(root, app) {
  const place = h("div");
  root.append(
    h("p", {}, "A pack holds what this phone knows of a project without a signal. Fetch it before you go down."),
    place,
  );
  const draw = async () => {
    const kept = new Map((await keptPacks(app)).map((row) => [row.project, row]));
    clear(place).append(
      h(
        "ul",
        { class: "plain-list" },
        app.person.projects.map((project) =>
          h("li", { class: "card", "data-project": project.code }, card(app, project, kept.get(project.id), draw)),
        ),
      ),
    );
    if (!app.person.projects.length) place.append(h("p", { class: "empty" }, "You take part in no project."));
  };
  await draw();
}

function card(app, project, kept, draw) {
  const current = app.project?.id === project.id;
  const told = h("p", { class: "quiet", role: "status" });
  const bar = h("progress", { max: 1, value: 0, hidden: true, "aria-label": `Fetching ${project.code}` });
  const fetching = button(
    kept ? "Fetch it again" : "Take it along",
    async () => {
      fetching.disabled = true;
      bar.hidden = false;
      try {
        await take(app, project, bar, told);
      } catch (error) {
        told.textContent = error.message;
      } finally {
        fetching.disabled = false;
        bar.hidden = true;
      }
    },
    { class: kept ? "button button-quiet" : "button" },
  );
  async function take() {
    const answer = await fetchPack(app, project.id, {
      progress: (count, whole) => {
        bar.max = whole || count;
        bar.value = count;
        told.textContent = `${size(count)} of ${size(whole)}`;
      },
    });
    const [words, tone] = ANSWERS[answer];
    app.say(`${project.code}: ${words}`, tone);
    if (answer === "new" || answer === "same") {
      if (!app.project) await app.choose(project.id);
      else if (app.project.id === project.id) await app.reload();
      return draw();
    }
    told.textContent = words;
    return undefined;
  }
  const since = kept?.made_at
    ? `As it was ${ago(Date.parse(kept.made_at), now().getTime())}, ${size(kept.bytes)}`
    : "Not on this phone";
  return [
    h(
      "h2",
      {},
      `${project.code} ${project.name}`,
    ),
    current && h("p", {}, h("span", { class: "status status-good" }, "Worked on")),
    h("p", {}, since),
    bar,
    told,
    h(
      "p",
      { class: "actions" },
      fetching,
      !current &&
        button(
          "Work on this one",
          () =>
            app
              .choose(project.id)
              .then(() => app.go("#/"))
              .catch(app.failed),
          { class: "button button-quiet" },
        ),
    ),
  ];
}
