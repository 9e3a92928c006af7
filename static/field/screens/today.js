// The day on the phone: what was begun, what is done every morning, what presses, and the way to everything else.

import { openDraft, listDrafts } from "../drafts.js";
import { ago, button, clear, h, link, span } from "../dom.js";
import { gaugeLabel } from "../choices.js";
import { now } from "../ids.js";
import { readable } from "../moments.js";
import { closingsAsked, lastCheck, ownChecks } from "../kit.js";
import { contentOf, fetchPack, packAge } from "../pack.js";
import { areaById, pressing, wanting } from "../places.js";

const MOST_NEXT = 6;
const FRESH_MS = 15 * 60_000;

export default { name: "today", title: "Today", show };

async function show(root, app) {
  if (!app.project) {
    root.append(h("p", { class: "notice" }, "Choose the project you work on."), go("Projects", "#/packs"));
    return undefined;
  }
  const pack = contentOf(app.pack);
  root.previousElementSibling.textContent = `Today, ${app.project.code}`;
  let left = false;
  if (!pack) {
    root.append(
      h(
        "p",
        { class: "notice" },
        "This phone has nothing of the project yet. It is fetched where there is a signal.",
      ),
      go("Take it along", "#/packs"),
    );
  } else {
    await draw(root, app, pack);
  }
  // Looked after by itself where there is a signal; without one nothing happens.
  if (!pack || packAge(app.pack) > FRESH_MS) {
    fetchPack(app, app.project.id)
      .then(async (answer) => {
        if (answer === "same" || answer === "new") await app.reload();
        if (answer === "new" && !left) await show(clear(root), app);
      })
      .catch(() => {});
  }
  return () => (left = true);
}

const go = (words, hash, quiet = false) =>
  h("a", { class: quiet ? "button button-quiet" : "button", href: hash }, words);

async function draw(root, app, pack) {
  const at = now().getTime();
  const { may } = pack;
  const begun = (await listDrafts(app)).filter((row) => row.project === app.project.id);
  root.append(
    ...begunTold(app, pack, begun),
    h(
      "nav",
      { class: "field-deeds", "aria-label": "What to do" },
      may.record && go("Thickness", "#/thickness"),
      may.check && go("Check an instrument", "#/check"),
      may.record && go("Climate", "#/climate"),
      pack.forms.length > 0 && go("Record something", "#/forms"),
      go("Places", "#/places"),
      pack.drawings?.length > 0 && go("Drawings", "#/drawing"),
    ),
    ...(await closings(app, pack)),
    ...(await nextTold(app, pack)),
    ...mine(pack, await ownChecks(app)),
    ...pressed(pack, at),
    h(
      "p",
      { class: "quiet" },
      `${pack.areas.length} places, as the office knew them ${ago(Date.parse(app.pack.made_at), at)}. `,
      link("Fetch it again", "#/packs"),
    ),
  );
}

function begunTold(app, pack, begun) {
  if (!begun.length) return [];
  const line = (row) => {
    const item = h(
      "li",
      {},
      link(titleOf(pack, row), `#/${[row.screen, ...row.args].join("/")}`, {
        onclick: () => (app.opening = row.id),
      }),
      " ",
      h("span", { class: "quiet" }, row.at ? ago(Date.parse(row.at), now().getTime()) : ""),
      row.faults?.length > 0 && h("span", { class: "status status-bad" }, "Not taken by the office"),
    );
    const away = async () => {
      const draft = await openDraft(app, { screen: row.screen, args: row.args, id: row.id });
      await draft.discard();
      item.remove();
    };
    // Two taps, so that nothing typed is lost by one that slipped.
    const sure = button(
      "Throw away",
      () => {
        if (sure.dataset.sure) return away().catch(app.failed);
        sure.dataset.sure = "yes";
        sure.textContent = "Really throw it away";
        return undefined;
      },
      { class: "button button-quiet" },
    );
    item.append(sure);
    return item;
  };
  const classes = "plain-list told-list told-begun";
  return [h("h2", {}, "Begun and not finished"), h("ul", { class: classes }, begun.map(line))];
}

function titleOf(pack, row) {
  const form = row.screen === "form" && pack.forms.find((each) => each.name === row.args[0]);
  const area = areaById(pack, row.values.area || row.args.find((each) => areaById(pack, each)) || "");
  const name = form ? form.title : row.screen[0].toUpperCase() + row.screen.slice(1);
  const of = row.screen === "check" ? pack.gauges : pack.stations;
  const at = area ? area.code : of.find((each) => each.id === row.args[0]);
  return [name, at?.identity || at?.code || at].filter(Boolean).join(", ");
}

/** The check after work is asked for as long as it is owed, with when it falls due. */
async function closings(app, pack) {
  const asked = await closingsAsked(app, pack, now());
  return asked.map(({ gauge, words, late }) =>
    h(
      "div",
      { class: late ? "notice notice-error" : "notice notice-warning" },
      h("p", {}, words),
      go(`Check ${gauge.identity}`, `#/check/${gauge.id}`, true),
    ),
  );
}

/** What wants measuring first, without what was measured on this phone since. */
async function nextTold(app, pack) {
  const waiting = (await app.queue.list()).filter((row) => row.address === "/api/thickness/");
  const bodies = await Promise.all(waiting.map((row) => app.queue.body(row.id)));
  const done = new Set(bodies.map((body) => `${body?.area} ${body?.coat}`));
  const wanted = wanting(pack);
  const open = wanted.filter((each) => !each.held && !done.has(`${each.area.id} ${each.coat.id}`));
  const held = wanted.some((each) => each.held);
  if (!open.length && !held) return [];
  const line = ({ area, coat, why }) =>
    h("li", {}, link(`${area.code} ${area.name}, ${coat.name}`, `#/thickness/${area.id}/${coat.id}`), " ", quiet(why));
  return [
    h("h2", {}, "Wants measuring"),
    h("ul", { class: "plain-list told-list" }, open.slice(0, MOST_NEXT).map(line)),
    open.length > MOST_NEXT && h("p", { class: "quiet" }, "And more, under ", link("Places", "#/places"), "."),
    held && h("p", { class: "quiet" }, "What lies beyond a hold point that nobody has freed is not among these."),
  ].filter(Boolean);
}

const quiet = (words) => h("span", { class: "quiet" }, words);

function mine(pack, ownOnes) {
  const own = pack.gauges.filter((gauge) => gauge.mine);
  const shims = pack.standards.filter((each) => each.mine && each.to_confirm);
  if (!own.length && !shims.length) return [];
  const zone = pack.project.time_zone;
  const checked = (gauge) => {
    const check = lastCheck(gauge, ownOnes);
    return check ? `checked ${readable(check.taken_at, zone)}: ${check.verdict}` : "not checked lately";
  };
  return [
    h("h2", {}, "In your hands"),
    h(
      "ul",
      { class: "plain-list told-list" },
      own.map((gauge) =>
        h(
          "li",
          {},
          `${gaugeLabel(gauge).replace(", yours", "")} `,
          gauge.site_check && h("span", { class: "quiet" }, checked(gauge)),
          h(
            "span",
            { class: "told-deeds" },
            gauge.site_check && pack.may.check && deed("Check", `#/check/${gauge.id}`, gauge),
            gauge.to_confirm && deed("I have it", `#/form/receipt/gauge=${gauge.id}`, gauge),
            deed("Fell, or reads oddly", `#/form/drop/gauge=${gauge.id}`, gauge),
            deed("Hand over", `#/form/hand-over/gauge=${gauge.id}`, gauge),
          ),
        ),
      ),
      shims.map((each) =>
        h("li", {}, `${each.identity} `, deed("I have it", `#/form/receipt-standard/standard=${each.id}`, each)),
      ),
    ),
  ];
}

/** A deed of a thing: which thing is heard too. */
const deed = (words, hash, thing) =>
  h("a", { href: hash }, words, h("span", { class: "visually-hidden" }, `: ${thing.identity}`));

/** When a place may be coated, as its window stands now and not as it stood when the pack was made. */
function windowTold({ state, opens_at, closes_at }, zone, at) {
  const until = `until ${readable(closes_at, zone)}`;
  if (state === "not yet open") return ` may be coated only from ${readable(opens_at, zone)}, ${until}`;
  if (state === "not known") return `: from when it may be coated is not known; ${until} at the latest`;
  return ` may be coated ${until}, for ${span(Date.parse(closes_at) - at)}`;
}

function pressed(pack, at) {
  const { windows, moreWindows, mixes, notices } = pressing(pack, at);
  const zone = pack.project.time_zone;
  const rows = [
    ...windows.map((each) =>
      h(
        "li",
        {},
        link(each.code, `#/places/${each.area}`),
        windowTold(each, zone, at),
      ),
    ),
    moreWindows > 0 && h("li", {}, `and ${moreWindows} places more whose window closes within a day`),
    ...mixes.map((mix) =>
      h(
        "li",
        {},
        link(`Mix ${mix.number}`, `#/form/mix-use/mix=${mix.id}`),
        mix.usable_until ? ` can be used for ${span(Date.parse(mix.usable_until) - at)}` : " has no pot life stated",
      ),
    ),
    ...notices.map((each) =>
      h(
        "li",
        {},
        `Notice ${each.number}: ${readable(each.begins_at, zone)}, ${each.meeting_place}, for ` +
          each.what.map((of) => `“${of.title}” at ${of.areas} ${of.areas === 1 ? "area" : "areas"}`).join(", "),
        " ",
        Date.parse(each.begins_at) <= at &&
          pack.forms.some((form) => form.name === "notice-outcome") &&
          h("a", { href: `#/form/notice-outcome/notice=${each.id}` }, "What became of it",
            h("span", { class: "visually-hidden" }, `: ${each.number}`)),
      ),
    ),
  ].filter(Boolean);
  return rows.length ? [h("h2", {}, "Soon"), h("ul", { class: "plain-list told-list" }, rows)] : [];
}
