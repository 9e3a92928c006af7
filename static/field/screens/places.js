// The places of the project, found by typing, a window of them at a time; and one place with what to do there.

import { labelButton } from "../codes.js";
import { clear, h, link } from "../dom.js";
import { contentOf } from "../pack.js";
import { areaById, areasLike, coatsTold, recordsTold, standsTold, systemOf, verdictTold } from "../places.js";

const AT_ONCE = 60;
const LIES = {
  ready: "ready to be decided",
  doubt: "in doubt",
  passed_over: "work went on over it",
  notified: "notice is given",
  unready: "not ready yet",
  refused: "refused",
};

export default { name: "places", title: "Places", show };

async function show(root, app, [id]) {
  const pack = contentOf(app.pack);
  if (!pack)
    return void root.append(h("p", { class: "notice" }, "Take the project along first. "), link("Packs", "#/packs"));
  if (!id) return list(root, app, pack);
  const area = areaById(pack, id);
  if (!area) {
    return void root.append(
      h(
        "p",
        { class: "notice notice-warning" },
        "The pack knows no such place: it may have been " + "divided or retired. Fetch the pack again.",
      ),
      link("All places", "#/places"),
    );
  }
  return one(root, pack, area, await waitingAt(app, area));
}

async function list(root, app, pack) {
  const found = h("ul", { class: "plain-list field-places" });
  const count = h("p", { class: "quiet", role: "status" });
  const end = h("p", { class: "quiet" });
  let hits = [];
  let shown = 0;
  const more = () => {
    const next = hits.slice(shown, shown + AT_ONCE);
    found.append(...next.map((area) => line(pack, area)));
    shown += next.length;
    end.textContent = shown < hits.length ? `${hits.length - shown} more below` : "";
  };
  const seek = () => {
    hits = areasLike(pack, input.value);
    shown = 0;
    clear(found);
    count.textContent = `${hits.length} of ${pack.areas.length} places`;
    more();
  };
  const input = h("input", {
    type: "search",
    id: "place-seek",
    autocomplete: "off",
    value: (await app.prefs.get("places")) || "",
    oninput: () => {
      seek();
      app.prefs.set("places", input.value).catch(app.failed);
    },
  });
  root.append(
    h("div", { class: "field" }, h("label", { for: "place-seek" }, "Part of a code, name or section"), input),
    h("p", {}, labelButton({ pack, of: "area", take: (of) => app.go(`#/places/${of}`), for: "A place" })),
    count,
    found,
    end,
  );
  seek();
  // The next window of rows comes when the end of the last one is near.
  const watch = new IntersectionObserver((seen) => seen.some((each) => each.isIntersecting) && more(), {
    rootMargin: "600px",
  });
  watch.observe(end);
  return () => watch.disconnect();
}

function line(pack, area) {
  const [tone, words] = standsTold(pack, area);
  return h(
    "li",
    {},
    h(
      "a",
      { href: `#/places/${area.id}` },
      h("strong", {}, area.code),
      ` ${area.name} `,
      h("span", { class: "quiet" }, [area.section || area.structure, `${area.area_m2} m²`].join(", ")),
    ),
    h("span", { class: `status status-${tone}` }, words),
  );
}

/** What was recorded at the area on this phone and is not at the office yet: each with its coat. */
async function waitingAt(app, area) {
  const rows = await app.queue.list();
  const bodies = await Promise.all(rows.map((row) => app.queue.body(row.id)));
  return rows
    .map((row, index) => ({ row, body: bodies[index] }))
    .filter(({ body }) => body?.area === area.id)
    .map(({ row, body }) => ({ row, coat: body.coat || "", isThickness: row.address === "/api/thickness/" }));
}

function one(root, pack, area, waiting) {
  root.previousElementSibling.textContent = `${area.code} ${area.name}`;
  const points = pack.points.filter((point) => point.area === area.id);
  const rework = pack.rework.filter((item) => item.area === area.id);
  root.append(
    h(
      "p",
      {},
      [area.structure, area.section, `${area.area_m2} m²`, systemOf(pack, area)?.name].filter(Boolean).join(", "),
    ),
    ...acts(pack, area),
    h("h2", {}, "Coats"),
    h(
      "ul",
      { class: "plain-list field-coats" },
      coatsTold(pack, area).map((coat) => coatLine(pack, area, coat, waiting)),
    ),
    ...section("On this phone, not sent yet", waiting, ({ row, coat, isThickness }) => [
      // The title of a thickness has its coat.
      [row.words.title, !isThickness && coatName(pack, area, coat)].filter(Boolean).join(", "),
      " ",
      row.told?.verdict && quiet(`by the phone: ${verdictTold(row.told.verdict)[1].toLowerCase()}`),
      " ",
      link("To be sent", "#/send"),
    ]),
    ...section("Open points", points, (point) => [
      point.title,
      " ",
      quiet(LIES[point.lies] || ""),
      " ",
      pack.forms.some((form) => form.name === "attendance") &&
        h("a", { href: `#/form/attendance/point=${point.id}` }, "Who attended", unseen(point.title)),
    ]),
    ...section("Open rework", rework, (item) => [
      `${item.what}, ${item.place} `,
      pack.forms.some((form) => form.name === "rework-done") &&
        link("Say what was done", `#/form/rework-done/rework=${item.id}`),
    ]),
    ...section("What stands here", recordsTold(pack, area), (row) => [
      `${row.title}${row.coat ? `, ${row.coat}` : ""} `,
      h("span", { class: `status status-${row.verdict[0]}` }, row.verdict[1]),
      " ",
      quiet(row.at),
    ]),
    ...section("Drawings that show it", drawingsOf(pack, area), (each) => [
      link(`${each.number} ${each.title}`, `#/drawing/${each.id}`),
    ]),
    h("p", {}, link("All places", "#/places")),
  );
}

const coatName = (pack, area, id) => coatsTold(pack, area).find((each) => each.id === id)?.name;
const drawingsOf = (pack, area) =>
  (pack.drawings || []).filter((each) => each.areas.some((shown) => shown.area === area.id));
/** Which one a link is of, for those who hear it. */
const unseen = (words) => h("span", { class: "visually-hidden" }, `: ${words}`);
const quiet = (words) => h("span", { class: "quiet" }, words);

function section(title, rows, told) {
  return rows.length
    ? [
        h("h2", {}, title),
        h(
          "ul",
          { class: "plain-list told-list" },
          rows.map((row) => h("li", {}, told(row))),
        ),
      ]
    : [];
}

function coatLine(pack, area, coat, waiting) {
  const here = waiting.some((each) => each.isThickness && each.coat === coat.id);
  const known = coat.latest ? standsOf(coat.latest.verdict) : ["plain", "Not measured"];
  const [tone, words] = here ? ["wait", "Measured on this phone, not sent yet"] : known;
  return h(
    "li",
    { class: "card" },
    h("h3", {}, coat.name),
    h("p", {}, [coat.rule, coat.held].filter(Boolean).join(", ")),
    h("p", {}, h("span", { class: `status status-${tone}` }, words)),
    pack.may.record &&
      h(
        "p",
        { class: "actions" },
        h("a", { class: "button", href: `#/thickness/${area.id}/${coat.id}` }, "Measure thickness"),
        h(
          "a",
          { class: "button button-quiet", href: climateOf(area, coat) },
          "Climate here",
        ),
        h("a", { class: "button button-quiet", href: `#/forms/area=${area.id}/coat=${coat.id}` }, "Other record"),
      ),
  );
}

/** At the station that serves the place, where there is one: its reading stands for all that it serves. */
const climateOf = (area, coat) =>
  area.stations ? `#/climate/${area.stations[0]}` : `#/form/climate/area=${area.id}/coat=${coat.id}`;

const standsOf = (verdict) =>
  ({
    pass: ["good", "Thickness passes"],
    fail: ["bad", "Thickness fails"],
    incomplete: ["wait", "More readings wanted"],
  })[verdict] || ["plain", "Not judged"];

function acts(pack, area) {
  const told =
    pack.forms.length > 0 &&
    h("a", { class: "button button-quiet", href: `#/forms/area=${area.id}` }, "Record something here");
  return told ? [h("p", { class: "actions" }, told)] : [];
}
