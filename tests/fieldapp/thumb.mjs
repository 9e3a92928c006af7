// What keys make of a measurement; run by test_thumb.py. Limits as SSPC-PA 2 level 3 has them of 60 to 120 µm: a spot
// from 80 % of the minimum to 120 % of the maximum (PA 2, 2018, table 1; from memory).
import assert from "node:assert/strict";
import { test } from "node:test";

import * as measuring from "./measuring.js";
import { wantedOf } from "./rules/index.js";
import { EMPTY, keyOf, press } from "./pad.js";

const RULE = { rule: "dft-pa2", rule_name: "SSPC-PA 2", pa2_level: 3, minimum_nm: 60_000, nominal_nm: 75_000,
  maximum_nm: 120_000, declared: null };
const SET = {
  unit: "um", correction_nm: 0, rule: RULE, wanted: wantedOf(RULE, { area_m2: "8.00" }),
  range: { from_nm: 0, to_nm: 1_500_000 }, verified: { from_nm: 50_000, to_nm: 125_000 },
};
const AT = "2026-03-04T08:00:00Z";

/** Keys with spaces between; "…" is the pause in which a figure may land by itself. */
function typed(keys, { set = SET, m = measuring.begin() } = {}) {
  return keys.split(" ").reduce(
    ({ m, told }, key) => {
      const answer = measuring.step(m, key === "…" ? "pause" : key, set, AT);
      return { m: answer.m, told: [...told, answer.did], fault: answer.fault };
    },
    { m, told: [] });
}
const values = (m) => m.readings.map((one) => one.value_nm);
const places = (m) => m.readings.map((one) => `${one.spot}.${one.order}`);

test("the pad makes figures of keys and drops what makes none", () => {
  const text = (keys) => keys.split(" ").reduce((pad, key) => press(pad, key).pad, EMPTY).text;
  assert.equal(text("8 4 . 5"), "84.5");
  assert.equal(text("8 4 , 5 5 ."), "84.5");
  assert.equal(text(". 7"), "0.7");
  assert.equal(text("0 8 4"), "84");
  assert.equal(text("- 1"), "1");
  assert.equal(text("8 4 erase"), "8");
  assert.equal(text("8 4 undo"), "");
  assert.deepEqual(press({ text: "-", landed: "" }, "enter").lands, null);
  assert.equal(press(press(EMPTY, "-", { signed: true }).pad, "1", { signed: true }).pad.text, "-1");
  assert.equal(press(EMPTY, "F5").known, false);
  assert.equal(keyOf({ key: "Enter" }), "enter");
  assert.equal(keyOf({ key: "7", ctrlKey: true }), "");
  assert.equal(keyOf({ key: "a" }), "");
});

test("after a pause a figure lands by itself only where it can be no other within the limits", () => {
  assert.deepEqual(values(typed("8 4 …").m), [84_000]);
  assert.deepEqual(values(typed("8 4").m), []);
  // 10 lies below the limits, so it waits; 104 cannot go on.
  assert.deepEqual(values(typed("1 0 … 4 …").m), [104_000]);
  // An odd reading waits for Enter, and then is taken as it is.
  assert.deepEqual(values(typed("3 0 0 …").m), []);
  assert.deepEqual(values(typed("3 0 0 … enter").m), [300_000]);
  // A point goes on with what landed: 84, then 84.5; Enter after it does nothing.
  const gone = typed("8 4 … . 5 … enter").m;
  assert.deepEqual(values(gone), [84_500]);
  assert.deepEqual(gone.taken_back, []);
  assert.deepEqual(values(typed("8 4 . …").m), []);
  // Where 11 could still become 110, it waits.
  const wide = { ...SET, rule: { ...RULE, minimum_nm: 10_000 } };
  assert.deepEqual(values(typed("1 1 …", { set: wide }).m), []);
  // Without a greatest limit nothing tells how long a figure may be.
  assert.deepEqual(values(typed("8 4 …", { set: { ...SET, rule: { ...RULE, maximum_nm: null } } }).m), []);
});

test("readings fill a spot, then the next, and a chosen spot is kept until it is full", () => {
  let { m } = typed("8 4 … 8 5 … 8 6 … 9 0 …");
  assert.deepEqual(places(m), ["1.1", "1.2", "1.3", "2.1"]);
  assert.equal(measuring.wantedStill(m, SET), 11);
  ({ m } = typed("9 1 … 9 2 … 9 3 … 9 4 …", { m: measuring.atSpot(m, 7) }));
  assert.deepEqual(places(m).slice(4), ["7.1", "7.2", "7.3", "2.2"]);
  // Spot 7 opened a second area, which is then wanted whole.
  assert.equal(measuring.wantedStill(m, SET), 30 - 8);
});

test("one tap takes a slip back: no repeat, no voided reading, told in the note", () => {
  const { m } = typed("7 5 5 enter undo 7 5 . 5 enter");
  assert.deepEqual(measuring.readingsSent(m, "um"), [{ spot: 1, reading: 1, value_um: 75.5, taken_at: AT }]);
  assert.equal(measuring.slipsTold(typed("8 4 … undo").m, SET), "Typed by mistake and taken back at once: spot 1: 84.0 µm.");
  assert.deepEqual(typed("undo").told, ["nothing"]);
});

test("755 is kept and asked about, and put right by the person's word alone", () => {
  const { m } = typed("7 5 5 enter");
  assert.deepEqual(values(m), [755_000]);
  assert.equal(measuring.meantPerhaps(m, SET), 75_500);
  const meant = (keys) => measuring.meantPerhaps(typed(keys).m, SET);
  assert.equal(meant("8 . 4 enter"), 84_000);
  assert.equal(meant("8 4 enter"), null);
  assert.equal(meant("1 6 0 enter"), null);
  // With three others their middle counts, whatever is specified.
  assert.equal(meant("4 0 0 enter 4 1 0 enter 4 0 5 enter 4 0 0 enter"), null);
  assert.equal(meant("4 0 0 enter 4 1 0 enter 4 0 5 enter 4 0 enter"), 400_000);
  const right = measuring.putRight(m, 75_500, AT);
  assert.deepEqual(places(right), ["1.1"]);
  assert.deepEqual(values(right), [75_500]);
  assert.equal(right.taken_back[0].value_nm, 755_000);
});

test("a reading is voided with a reason, wants its repeat, and counts again without one", () => {
  let { m } = typed("8 4 … 8 5 … 8 6 …");
  assert.equal(measuring.spotNow(m, SET), 2);
  m = measuring.voided(m, 1, " probe slipped ");
  assert.equal(measuring.spotNow(m, SET), 1);
  assert.equal(measuring.wantingOf(m, 1, SET), 1);
  assert.equal(measuring.readingsSent(m, "um")[1].void_reason, "probe slipped");
  const last = measuring.voided(m, 2, "edge");
  assert.equal(measuring.wantingOf(typed("8 7 … 8 8 …", { m: last }).m, 1, SET), 0);
  assert.deepEqual(values(typed("undo", { m: last }).m).length, 3);
  assert.equal(measuring.voided(m, 1, "").readings[1].void_reason, "");
});

test("where a reading is judged by itself, each spot holds one and the plan counts readings", () => {
  const rule = { ...RULE, rule: "dft-imo-pspc", rule_name: "IMO 90/10 rule" };
  // One for each 5 m² of flat surface (MSC.215(82), annex 3): 4 on 20 m².
  const set = { ...SET, rule, wanted: wantedOf(rule, { area_m2: "20.00", tank_sizes: {} }) };
  let { m } = typed("8 4 … 8 5 …", { set });
  assert.deepEqual(places(m), ["1.1", "2.1"]);
  assert.equal(measuring.wantedStill(m, set), 2);
  m = measuring.voided(m, 0, "edge");
  assert.equal(measuring.spotNow(m, set), 1);
  assert.equal(measuring.wantedStill(m, set), 3);
});

test("limits of the film, range of the gauge and what its check covers are watched", () => {
  const { m, told, fault } = typed("1 6 0 0 enter");
  assert.deepEqual(told.at(-1), "refused");
  assert.equal(fault, "1600.0 µm is outside the 0.0 to 1500.0 µm of this gauge. Check it.");
  assert.equal(m.pad.text, "1600");
  // 125 µm and a tenth more are covered, one nanometre beyond is not.
  assert.equal(measuring.isVerified(137_500, SET), true);
  assert.equal(measuring.isVerified(137_501, SET), false);
  assert.equal(measuring.isVerified(45_000, SET), true);
  assert.equal(measuring.isVerified(44_999, SET), false);
  assert.deepEqual(measuring.beyondVerified(typed("1 4 0 … 8 4 …").m, SET).map((one) => one.value_nm), [140_000]);
  assert.equal(measuring.against(47_999, SET), "low");
  assert.equal(measuring.against(48_000, SET), "within");
  assert.equal(measuring.against(144_001, SET), "high");
  // The limits hold the film: what is subtracted for the profile comes on top.
  const rough = { ...SET, correction_nm: 25_000 };
  assert.equal(measuring.against(73_000, rough), "within");
  assert.equal(measuring.against(72_999, rough), "low");
});

test("with tens on keys of their own a figure of three digits takes two", () => {
  // 100 to 250 µm at level 3: a spot from 80 to 300 µm has too many tens; 150 to 200 µm has those from 120 to 240.
  const held = (minimum_nm, maximum_nm) => ({ ...SET, rule: { ...RULE, minimum_nm, maximum_nm } });
  assert.deepEqual(measuring.tensOf(held(100_000, 250_000)), []);
  assert.deepEqual(measuring.tensOf(SET), []);
  const set = held(150_000, 200_000);
  assert.deepEqual(measuring.tensOf(set), [12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24]);
  assert.deepEqual(values(typed("24_ 5 17_ 18_ 0", { set }).m), [245_000, 180_000]);
  // Tens alone are no figure, and may be cleared; without them digits are typed as ever.
  assert.deepEqual(values(typed("24_ enter enter … 5", { set }).m), [245_000]);
  assert.deepEqual(values(typed("24_ undo 9 8 enter", { set }).m), [98_000]);
  assert.deepEqual(values(typed("24_ 5 . 5 enter", { set }).m), [245_500]);
});

test("figures go on with the first digits of the last one, as long as they are asked to and nothing is doubtful", () => {
  // 200 to 300 µm at level 3: a spot from 160 to 360 µm.
  const set = { ...SET, rule: { ...RULE, minimum_nm: 200_000, nominal_nm: 250_000, maximum_nm: 300_000 } };
  const led = (keys, m) => typed(keys, { set, m });
  const first = led("2 4 5 … lead").m;
  // As many digits as the last one land at once, without a pause.
  assert.deepEqual(values(led("4 7 9 8", first).m), [245_000, 247_000, 298_000]);
  // What is not within the limits of one waits for Enter: no figure of 160 to 360 begins with 2 and is outside them.
  const low = led("1 6 5 … lead").m;
  assert.deepEqual(values(led("4 4 …", low).m), [165_000]);
  assert.deepEqual(values(led("4 4 … enter", low).m), [165_000, 144_000]);
  // Half a figure is none, whatever is pressed; erased, the first digit stands there again.
  assert.deepEqual(values(led("4 enter … . erase 5 1", first).m), [245_000, 251_000]);
  // Erase takes the first digits away for one figure, as for a thin place, or another hundred; one odd one changes nothing.
  const odd = led("5 0 erase 4 5 … enter 4 8", first);
  assert.deepEqual(values(odd.m), [245_000, 250_000, 45_000, 248_000]);
  assert.deepEqual(values(led("5 0 erase 1 9 8 … 4 8", first).m), [245_000, 250_000, 198_000, 248_000]);
  // Two of another hundred and the first digits follow.
  assert.deepEqual(values(led("erase 3 0 2 … erase 3 1 1 … 0 5", first).m), [245_000, 302_000, 311_000, 305_000]);
  // A point goes on with what landed; one tap takes it back.
  assert.deepEqual(values(led("4 7 . 5 enter", first).m), [245_000, 247_500]);
  assert.deepEqual(values(led("4 7 undo", first).m), [245_000]);
  // An instrument that is a keyboard types all its digits.
  const keyed = [..."251"].reduce((m, key) => measuring.step(m, key, set, AT, "keyboard").m, first);
  assert.deepEqual(values(measuring.step(keyed, "enter", set, AT, "keyboard").m), [245_000, 251_000]);
  // Asked to end, all digits are typed again.
  assert.deepEqual(values(led("lead 2 5 1 …", first).m), [245_000, 251_000]);
});

test("digits typed whole although the first one stood there are asked about, and it goes on no more", () => {
  const set = { ...SET, rule: { ...RULE, minimum_nm: 200_000, nominal_nm: 250_000, maximum_nm: 300_000 } };
  // 238 was meant: 2, 3 landed as 223, and an 8 waits.
  const { m } = typed("2 4 5 … lead 2 3 8", { set });
  const answer = measuring.step(m, "pause", set, AT);
  assert.deepEqual([answer.did, answer.meant, answer.m.led], ["doubted", 238_000, false]);
  assert.deepEqual(values(measuring.putRight(answer.m, answer.meant, AT)), [245_000, 238_000]);
  // 223 was read, and the next one begun slowly: asked too, and changed by nobody.
  assert.deepEqual(values(answer.m), [245_000, 223_000]);
  // Another first digit than the one that stood there was no such slip.
  assert.deepEqual(typed("2 4 5 … lead 4 7 8 …", { set }).told.at(-1), "typed");
  // Neither below 100 µm nor in mils is there anything to go on with.
  assert.deepEqual(values(typed("8 4 … lead 9 1 …").m), [84_000, 91_000]);
});

test("mils are sent as mils, exactly", () => {
  const set = { ...SET, unit: "mil" };
  const { m } = typed("3 . 3 2 …", { set });
  assert.deepEqual(measuring.readingsSent(m, "mil")[0].value_mil, 3.32);
  assert.equal(measuring.shown(84_328, set), "3.32 mil");
});
