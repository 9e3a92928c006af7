// A check by thumb, what stands against a gauge, shifts and climate; run by test_thumb.py.
import assert from "node:assert/strict";
import { test } from "node:test";

import * as air from "./air.js";
import { judgeCheck } from "./check_told.js";
import { pointsOf } from "./check_setup.js";
import * as checking from "./checking.js";
import * as comparing from "./comparing.js";
import * as kit from "./kit.js";
import { formsLike, grouped } from "./screens/forms.js";
import { formOf } from "./told.js";

const shim = (id, certified_nm) => ({
  id, identity: id, kind: "shim", state: "in_service", mine: true, certified_nm, expanded_uncertainty_nm: 1_000,
  certificate: { number: "CS-1", expires: "2027-09-01" },
});
const GAUGE = {
  id: "g", identity: "G-01", kind: "thickness", state: "in_service", mine: true, serial: "1001", accuracy_pct: "1",
  accuracy_nm: 1_000, range_from_nm: 0, range_to_nm: 1_500_000, certificate: { number: "CG-1", expires: "2027-09-01" },
  check_it_first: null, last_check: null,
  site_check: { on: ["shim"], wants: [], unit: "", readings: 3, each_shift: true },
};
const COAT = {
  id: "c", name: "Primer", rule: "dft-pa2", rule_name: "SSPC-PA 2", pa2_level: 3, declared: null, minimum_nm: 60_000,
  nominal_nm: 75_000, maximum_nm: 120_000, surface_min_c: 5, surface_max_c: 40, humidity_max_pct: 85,
};
const PACK = {
  person: "ines", project: { unit: "um", time_zone: "Europe/Berlin", shift_starts: "06:00, 18:00" },
  areas: [{ id: "a", code: "A1", name: "Hatch", section: "", structure: "Tank", area_m2: "8.00", system: "s" }],
  systems: [{ id: "s", name: "System 1", coats: [COAT] }], gauges: [GAUGE],
  standards: [shim("S-50", 50_200), shim("S-125", 125_400), shim("S-250", 249_800)], crews: [], shifts: [],
  profiles: [{ id: "p", area: "a", gives: { correction: { nm: 25_000, words: "medium grit" } } }],
};
const points = kit.standardsFor(PACK, GAUGE).map((standard) => ({
  standards: [standard.id], name: standard.identity, certified_nm: standard.certified_nm, shims: [standard],
}));
const SET = { unit: "um", each: 3, points };

function read(keys, c = checking.begin(points)) {
  let did = "";
  for (const key of keys.split(" ")) ({ c, did } = checking.step(c, key === "…" ? "pause" : key, SET));
  return { c, did };
}

test("a check goes shim by shim, figures near the shim land by themselves, a slip is taken back", () => {
  const { c } = read("5 0 . 4 … 5 0 … . 1 … 4 9 . 9 … 1 2 5 …");
  assert.deepEqual(c.readings, [[50_400, 50_100, 49_900], [125_000], []]);
  assert.equal(checking.pointNow(c, SET), 1);
  // 1252 is no reading of this shim; it waits for Enter, and is asked about.
  const slip = read("1 2 5 2 enter", c).c;
  assert.equal(checking.meantPerhaps(slip, SET), 125_200);
  assert.deepEqual(checking.putRight(slip, 125_200).readings[1], [125_000, 125_200]);
  assert.deepEqual(read("undo", slip).c.readings[1], [125_000]);
  // Back over the edge of a shim.
  assert.deepEqual(read("undo undo", slip).c.readings, [[50_400, 50_100, 49_900], [], []]);
  assert.deepEqual(read("- . 4 enter").c.readings[0], [-400]);
  // All read: nothing lands any more.
  const whole = read("1 2 5 … 1 2 5 … 2 5 0 … 2 5 0 … 2 5 1 …", c).c;
  assert.equal(checking.pointNow(whole, SET), null);
  assert.deepEqual(read("2 5 0 enter", whole).c.readings, whole.readings);
  assert.deepEqual(checking.pointsSent(whole, SET)[0], { standards: ["S-50"], readings_um: [50.4, 50.1, 49.9] });
});

test("the phone judges a check within the combined tolerance and asks about another shim", () => {
  const good = read("5 0 . 4 … 5 0 . 1 … 4 9 . 9 … 1 2 5 … 1 2 5 … 1 2 5 … 2 5 0 … 2 5 0 … 2 5 1 …").c;
  const answer = judgeCheck(PACK, GAUGE, SET, good);
  assert.equal(answer.verdict, "pass");
  assert.deepEqual(answer.kept, { verdict: "pass", verified_from_nm: 50_200, verified_to_nm: 249_800 });
  assert.deepEqual(answer.questions, []);
  assert.equal(answer.lines[0], "S-50: mean 50.1, error −0.1, allowed ±1.8 µm: within.");
  const other = read("5 0 enter 5 0 enter 5 0 enter 2 5 0 enter").c;
  assert.match(judgeCheck(PACK, GAUGE, SET, other).questions[0], /fits S-250 .* not S-125/);
  assert.equal(judgeCheck(PACK, GAUGE, SET, checking.begin(points)), null);
});

test("a stack is one point, its thicknesses added and its uncertainties in squares", () => {
  const stacked = pointsOf({ pack: PACK }, { standards: ["S-50"], stack: ["S-250", "S-125"] });
  assert.deepEqual(stacked.map((point) => [point.standards, point.certified_nm]),
    [[["S-50"], 50_200], [["S-250", "S-125"], 375_200]]);
  const set = { unit: "um", each: 1, points: stacked };
  const c = { pad: { text: "" }, readings: [[50_000], [380_000]] };
  // 1 % and 1 µm of the gauge, √2 µm of the shims: √(4.752² + 2) = 4.96 µm (JCGM 100:2008, 5.1.2).
  assert.equal(judgeCheck(PACK, GAUGE, set, c).lines[1],
    "S-250 + S-125, 375.2 µm: mean 380.0, error +4.8, allowed ±5.0 µm: within.");
  assert.equal(pointsOf({ pack: PACK }, { standards: ["gone"] })[0].standards.length, 0);
});

test("what stands against a gauge follows checks made on this phone", () => {
  const at = new Date("2026-03-04T12:00:00Z");
  assert.match(kit.gaugeTold(PACK, GAUGE, at)[0], /not been checked in this shift/);
  const check = { gauge: "g", taken_at: "2026-03-04T05:30:00Z", verdict: "pass", verified_from_nm: 50_200, verified_to_nm: 249_800 };
  assert.deepEqual(kit.gaugeTold(PACK, GAUGE, at, [check]), []);
  assert.deepEqual(kit.measured(PACK, { area: "a", coat: "c", gauge: "g" }, [check]).set.verified, { from_nm: 50_200, to_nm: 249_800 });
  // Of the shift before it does not count, and a failing one is told.
  assert.match(kit.gaugeTold(PACK, GAUGE, at, [{ ...check, taken_at: "2026-03-04T04:30:00Z" }])[0], /not been checked/);
  assert.match(kit.gaugeTold(PACK, GAUGE, at, [{ ...check, verdict: "fail" }])[0], /failed its newest check, at 06:30/);
  const fell = { ...GAUGE, check_it_first: { what: "Knocked off the board; no damage seen." } };
  assert.equal(kit.gaugeTold(PACK, fell, at, [check])[0], "G-01 is in doubt: Knocked off the board; no damage seen. Check it first.");
  const may = { ...PACK, may: { check: true }, gauges: [fell, { ...GAUGE, id: "h", identity: "G-02" }] };
  assert.deepEqual(kit.gaugesOf(may, "thickness").map((one) => one.identity), ["G-02", "G-01"], "in doubt last");
  assert.deepEqual([fell, GAUGE].map((one) => kit.wantsCheck(may, one, at, [check])), [true, false]);
  assert.equal(kit.wantsCheck(may, GAUGE, at), true, "not checked in this shift");
  // The same a day later: a time of day alone would pass for today's.
  const later = { ...GAUGE, site_check: { ...GAUGE.site_check, each_shift: false } };
  const next = new Date(at.getTime() + 86_400_000);
  assert.match(kit.gaugeTold(PACK, later, next, [{ ...check, verdict: "fail" }])[0], /check, at 2026-03-04 06:30/);
  assert.match(kit.gaugeTold(PACK, { ...GAUGE, certificate: { expires: "2026-03-03" } }, at, [check])[0], /ran out/);
  assert.equal(kit.measured(PACK, { area: "gone", coat: "c", gauge: "g" }), null);
  assert.equal(kit.nextCoat(PACK, kit.areaOf(PACK, "a")).id, "c");
  assert.deepEqual(kit.profilesOf(PACK, { id: "a" }, "correction"), [["p", "25.0 µm: medium grit"]]);
});

test("a shift is the crew's where the pack knows it, else the project's clock, also when clocks change", () => {
  const iso = ({ begins, ends }) => [begins.toISOString(), ends.toISOString()];
  assert.deepEqual(iso(kit.shiftOf(PACK, new Date("2026-03-04T12:00:00Z"))), ["2026-03-04T05:00:00.000Z", "2026-03-04T17:00:00.000Z"]);
  // In the night of 29 March 2026 clocks in Berlin go from 02:00 to 03:00.
  assert.deepEqual(iso(kit.shiftOf(PACK, new Date("2026-03-29T02:00:00Z"))), ["2026-03-28T17:00:00.000Z", "2026-03-29T04:00:00.000Z"]);
  const crewed = { ...PACK,
    crews: [{ id: "k", people: [{ id: "ines" }] }],
    shifts: [{ crew: "k", begins_at: "2026-03-04T07:00:00Z", ends_at: "2026-03-04T15:00:00Z", begun_at: null, ended_at: null }],
  };
  assert.equal(kit.closingDue(crewed, new Date("2026-03-04T12:00:00Z")), "by 16:00");
  assert.equal(kit.closingDue(crewed, new Date("2026-03-04T16:00:00Z")), "by 18:00");
  assert.equal(kit.closingDue(PACK, new Date("2026-03-04T18:00:00Z")), "by 2026-03-05 06:00");
});

test("climate is told at once by the limits of each coat, and what cannot be read is named", () => {
  const given = { dry_bulb_c: "18,5", relative_humidity_pct: "70", surface_c: "14", coats: ["c"] };
  const { found } = air.judged(given, [COAT]);
  // Dew point of 18.5 °C at 70 %: 12.9 °C by WMO-No. 8, annex 4.B (from memory of its formula).
  assert.equal(found[0].dew, "12.9");
  assert.equal(found[0].verdict, "fail");
  assert.equal(air.judged({ ...given, surface_c: "16" }, [COAT]).found[0].verdict, "pass");
  assert.equal(air.judged({ ...given, surface_c: "" }, []).missing, "Steel, coldest: fill this in.");
  assert.deepEqual(air.bodyOf({ ...given, wet_bulb_c: "15" }).faults, ["Give either the humidity or the wet bulb."]);
  assert.match(air.bodyOf({ ...given, surface_c: "14.25" }).faults[0], /too many digits/);
  assert.deepEqual(air.bodyOf({ ...given, dehumidifier_on: "no", note: " x " }).body, {
    coats: ["c"], note: "x", dry_bulb_c: 18.5, relative_humidity_pct: 70, surface_c: 14, dehumidifier_on: false,
  });
});

test("a conductivity meter is read on its solutions, within five percent of what the certificate says", () => {
  // 84 µS/cm within 5 % (common practice, no source): 4.2, and the bound itself passes.
  const set = { unit: "µS/cm", each: 2, byReference: false, held: { tolerance_pct: "5.00", tolerance: null },
    standards: [{ id: "k84", name: "KCL-84", certified: "84.000" }, { id: "k1413", name: "KCL-1413", certified: 1413 }] };
  const keyed = (keys, c = comparing.begin(set)) =>
    keys.split(" ").reduce((now, key) => comparing.step(now.c, key, set), { c });
  const first = keyed("8 8 . 2 enter 8 8 . 2 enter").c;
  assert.deepEqual(comparing.nextOf(first, set), { at: 1, what: "reading" });
  assert.deepEqual(comparing.judged(first, set),
    { verdict: "pass", lines: ["KCL-84, 84 µS/cm: mean 88.2, error +4.2, allowed ±4.2 µS/cm: within."] });
  assert.equal(comparing.judged(keyed("8 8 . 3 enter").c, set).verdict, "fail");
  // Ten times the solution is asked about, and changed by the person alone.
  const tenfold = keyed("8 4 1 enter").c;
  assert.equal(comparing.meantPerhaps(tenfold, set), "84.1");
  assert.deepEqual(comparing.pointsSent(comparing.putRight(tenfold, "84.1"), set),
    [{ standards: ["k84"], readings: [84.1] }]);
  assert.equal(comparing.lastOf(keyed("undo", first).c), "88.2");
  assert.equal(keyed("undo undo undo", first).did, "nothing");
  assert.match(keyed("1 0 0 0 0 1 enter").fault, /lies between/);
  // All read: nothing more is taken.
  const all = keyed("1 4 1 3 enter 1 4 1 0 enter", first).c;
  assert.equal(keyed("5 enter", all).did, "nothing");
});

test("beside another instrument its figure comes first, and a further point is taken back whole", () => {
  const set = { unit: "V", each: 1, byReference: true, held: { tolerance_pct: 5, tolerance: null },
    standards: [{ id: "vm", name: "VM-1", certified: null }] };
  const keyed = (keys, c = comparing.begin(set)) =>
    keys.split(" ").reduce((now, key) => comparing.step(now.c, key, set), { c });
  const shows = keyed("9 5 0 0 enter").c;
  assert.deepEqual(comparing.nextOf(shows, set), { at: 0, what: "reading" });
  assert.equal(comparing.judged(shows, set), null);
  const one = keyed("9 6 0 0 enter", shows).c;
  assert.equal(comparing.judged(one, set).verdict, "pass");
  const two = keyed("3 0 0 0 enter 3 2 0 0 enter", comparing.another(one, set)).c;
  assert.equal(comparing.judged(two, set).verdict, "fail");
  assert.deepEqual(comparing.pointsSent(two, set), [{ standards: ["vm"], readings: [9600], reference: 9500 },
    { standards: ["vm"], readings: [3200], reference: 3000 }]);
  // A point that nothing is left on goes with its last figure; so does one that nothing was typed on.
  assert.equal(keyed("undo undo", two).c.points.length, 2);
  assert.equal(keyed("undo", comparing.another(one, set)).c.points.length, 1);
  assert.deepEqual(keyed("undo", comparing.another(one, set)).c.points[0].readings, []);
});

test("a form is found by a part of its words, and what is done around a coat stands together", () => {
  const told = (name, title, lead, more) => ({ name, title, lead, of_coat: "", ...more });
  const forms = [
    told("look", "Last look before paint", "Prepared steel just before its first coat.", {}),
    told("climate", "Climate", "Air and steel at one place.", { of_coat: "for" }),
    told("mix", "Mix paint", "What was mixed.", { group: "Works" }),
    told("station-reading", "Reading at a climate station", "For all areas it serves.", { group: "Works" }),
    told("salts", "Soluble salts", "What patches drew out of prepared steel.", {}),
  ];
  const names = (found) => found.map((form) => form.name);
  assert.deepEqual(grouped(forms).map(([title, found]) => [title, names(found)]), [
    ["Before paint", ["look", "salts"]],
    ["While and after coating", ["climate", "station-reading"]],
    ["Works", ["mix"]],
  ]);
  assert.deepEqual(names(formsLike(forms, "SALT")), ["salts"]);
  // In its title before in its lead.
  assert.deepEqual(names(formsLike(forms, "steel")), ["look", "climate", "salts"]);
  assert.deepEqual(names(formsLike(forms, "mix paint")), ["mix"]);
  assert.deepEqual(formsLike(forms, "xyz"), []);
  // What the office says of a field is told with the label of the form that was sent there.
  const sent = [{ address: "/api/lots/{lot}/end/" }, { address: "/api/projects/{project}/lots/begin/" }];
  assert.equal(formOf(sent, "/api/projects/01a2/lots/begin/"), sent[1]);
  assert.equal(formOf(sent, "/api/lots/01a2/"), undefined);
});
