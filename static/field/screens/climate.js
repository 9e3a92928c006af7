/** Climate at a station or at an area: air and steel typed, dew point and limits shown at once. */

import { labelButton } from "../codes.js";
import { button, clear, field, h, link } from "../dom.js";
import { openDraft } from "../drafts.js";
import { newId, now } from "../ids.js";
import { alone, noPack, saidByOffice } from "../hand.js";
import * as air from "../air.js";
import { drawPhotos } from "../photos.js";
import * as kit from "../kit.js";

const LAST = "climate-last";

async function show(root, app, [stationId]) {
  if (!app.pack) return void root.append(noPack());
  const station = kit.stationsOf(app.pack).find((one) => one.id === stationId);
  if (!station) return choose(root, app);
  return alone(root, app, `climate-${station.id}`, () => reading(root, app, station));
}

async function choose(root, app) {
  const last = (await app.store.prefs.get(LAST)) || {};
  const stations = kit.stationsOf(app.pack);
  const order = [...stations].sort(
    (one, other) => Number(other.id === last.station) - Number(one.id === last.station),
  );
  if (stations.length === 1) return app.go(`#/climate/${stations[0].id}`);
  root.append(
    h(
      "ul",
      { class: "plain-list" },
      order.map((station) =>
        h(
          "li",
          {},
          link(`${station.code} ${station.name}`, `#/climate/${station.id}`, {
            class: "button button-quiet thumb-wide",
          }),
        ),
      ),
    ),
  );
  root.append(
    h(
      "p",
      {},
      stations.length ? "At a place that no station serves: " : "The pack has no climate station. At an area: ",
      link("climate at an area", "#/form/climate"),
      ".",
    ),
  );
  return undefined;
}

async function reading(root, app, station) {
  const draft = await openDraft(app, { screen: "climate", args: [station.id] });
  const coats = kit.coatsServed(app.pack, station);
  if (!draft.values.read) draft.values.read = await asBefore(app, station, coats);
  const given = draft.values.read;
  const found = h("div", { class: "thumb-dew", "aria-live": "polite" });
  const set = (name, value) => {
    given[name] = value;
    if (name !== "note") given.at = now().toISOString();
    draft.save().catch((full) => app.say(full.message, "bad"));
    drawFound();
  };
  const drawFound = () => clear(found).append(...told(app, given, coats));
  const number = (name, label, help = "") => {
    const input = h("input", {
      type: "text",
      inputmode: "decimal",
      autocomplete: "off",
      value: given[name] || "",
      oninput: () => set(name, input.value),
    });
    return field(label, input, { help });
  };
  const select = (name, label, choices) =>
    field(
      label,
      h(
        "select",
        { onchange: (event) => set(name, event.target.value) },
        choices.map(([value, words]) => h("option", { value, selected: (given[name] || "") === value }, words)),
      ),
    );
  const meters = kit.gaugesOf(app.pack, "climate");
  const meter = select("gauge", "Meter", [["", "Not said"], ...meters.map((one) => [one.id, kit.gaugeName(one)])]);
  const byLabel = labelButton({
    pack: app.pack,
    of: "gauge",
    among: meters.map((one) => one.id),
    take: (id) => {
      meter.querySelector("select").value = id;
      set("gauge", id);
    },
    for: "Meter",
  });
  const boxes = coats.map((coat) => {
    const box = h("input", {
      type: "checkbox",
      checked: given.coats.includes(coat.id),
      onchange: () =>
        set(
          "coats",
          coats.map((one) => one.id).filter((id) => (id === coat.id ? box.checked : given.coats.includes(id))),
        ),
    });
    return h("label", { class: "thumb-switch" }, box, h("span", {}, coat.name, h("small", {}, coat.system)));
  });
  const more = h(
    "details",
    { class: "thumb-more" },
    h("summary", {}, "Wet bulb, warmest steel, wind, rain, note"),
    h(
      "div",
      { class: "thumb-air" },
      number("wet_bulb_c", "Wet bulb, °C", "Instead of the humidity."),
      select("wet_bulb_over", "It carries, at or below 0 °C", [
        ["", "Not said"],
        ["water", "Water"],
        ["ice", "Ice"],
      ]),
      number("warmest_surface_c", "Steel, warmest, °C"),
      number("wind_m_s", "Wind, m/s"),
      select("rain", "Rain", [
        ["", "Not said"],
        ["none", "None"],
        ["light", "Light"],
        ["heavy", "Heavy"],
      ]),
      select("dehumidifier_on", "Dehumidifier", [
        ["", "Not said"],
        ["yes", "Runs"],
        ["no", "Stands still"],
      ]),
      number("pressure_hpa", "Air pressure, hPa", "1013.25 where nothing is given."),
    ),
    field(
      "Note",
      h("textarea", {
        rows: "2",
        maxlength: "3000",
        value: given.note || "",
        oninput: (event) => set("note", event.target.value),
      }),
    ),
  );
  const faults = h(
    "div",
    { role: "alert" },
    saidByOffice(draft).map((words) => h("p", { class: "thumb-doubt" }, words)),
  );
  const shots = h("div", { class: "told-form" });
  const photos = drawPhotos(shots, app, draft);
  clear(root).append(
    h("p", {}, h("strong", {}, `${station.code} ${station.name}`)),
    h(
      "div",
      { class: "thumb-air" },
      number("dry_bulb_c", "Air, °C"),
      number("relative_humidity_pct", "Humidity, %"),
      number("surface_c", "Steel, coldest, °C"),
    ),
    found,
    h("fieldset", { hidden: !coats.length }, h("legend", {}, "Coats under way around"), boxes),
    meter,
    ...(meters.length > 1 ? [h("p", {}, byLabel)] : []),
    more,
    shots,
    faults,
    h(
      "div",
      { class: "thumb-actions" },
      button("Keep it, to be sent", () => keep(app, station, draft, coats, { faults, photos }).catch(app.failed)),
    ),
  );
  drawFound();
  return photos.leave;
}

/** Station, meter, coats and whether the dehumidifier runs stay from one reading to the next; figures never do. */
async function asBefore(app, station, coats) {
  const kept = (await app.store.prefs.get(`climate-${station.id}`)) || {};
  const meters = kit.gaugesOf(app.pack, "climate");
  const meter = [kept.gauge, meters.find((one) => one.mine)?.id].find((id) => meters.some((one) => one.id === id));
  return {
    gauge: meter || "",
    coats: (kept.coats || []).filter((id) => coats.some((coat) => coat.id === id)),
    dehumidifier_on: kept.dehumidifier_on || "",
  };
}

function told(app, given, coats) {
  const { found, missing } = air.judged(
    given,
    coats.filter((coat) => given.coats.includes(coat.id)),
  );
  if (!found.length) {
    const typed = ["dry_bulb_c", "relative_humidity_pct", "wet_bulb_c", "surface_c"].some((name) => given[name]);
    return [h("p", {}, typed ? missing : "Dew point and limits are told here as soon as air and steel are typed.")];
  }
  const [first] = found;
  return [
    h(
      "p",
      {},
      h("strong", {}, `Dew point ${first.dew} °C`),
      ` · steel above it by ${first.margin} °C · ${first.humidity} %`,
    ),
    ...found.map((one) =>
      h(
        "div",
        {},
        h(
          "p",
          {},
          h(
            "span",
            { class: `thumb-verdict thumb-${one.verdict}` },
            one.verdict === "pass" ? "Within the limits" : "Outside the limits",
          ),
          one.name ? ` ${one.name}` : "",
        ),
        h(
          "ul",
          { class: "thumb-checks" },
          one.lines.map((words) => h("li", {}, words)),
        ),
      ),
    ),
    h(
      "p",
      { class: "quiet small" },
      "The verdict of record is made at the office; a qualified person decides whether work goes on.",
    ),
  ];
}

async function keep(app, station, draft, coats, { faults: place, photos }) {
  const given = draft.values.read;
  const { body, faults } = air.bodyOf(given);
  if (faults.length) {
    clear(place).append(
      h(
        "div",
        { class: "faults" },
        h(
          "ul",
          {},
          faults.map((words) => h("li", {}, words)),
        ),
      ),
    );
    return;
  }
  const { found } = air.judged(
    given,
    coats.filter((coat) => given.coats.includes(coat.id)),
  );
  const worst = found.some((one) => one.verdict === "fail") ? "fail" : "pass";
  const { gauge, coats: chosen, dehumidifier_on } = given;
  const id = draft.item || newId();
  const shots = await photos.items({ of: "record", thing: id, place: station.name });
  await draft.toQueue([
    {
      address: `/api/stations/${station.id}/readings/`,
      body: { id, taken_at: given.at || now().toISOString(), ...body },
      told: found.length ? { verdict: worst, why: found.flatMap((one) => one.lines) } : null,
      draft: { screen: "climate", args: [station.id], values: draft.values },
      words: { title: `Climate at station ${station.code}`, place: station.name },
    },
    ...shots,
  ]);
  await app.store.prefs.set(LAST, { station: station.id });
  await app.store.prefs.set(`climate-${station.id}`, { gauge, coats: chosen, dehumidifier_on });
  app.say("Kept, and sent when there is a signal.", "good");
  app.go("#/");
}

export default { name: "climate", title: "Climate", show };
