/** What helps a hand that measures: a screen that stays on, a short hum or sound for each figure, as switched. */

import { button, field, h, link } from "./dom.js";

/** In place of a screen that lives from the pack. */
export const noPack = () => h("p", {}, "Take the project's pack along first: ", link("Packs", "#/packs"), ".");

/** A tab that was just left gives its hold back a moment later. */
const AGAIN_MS = [0, 100, 300];

/**
 * Shows what one tab alone may change: two that type into the same draft would each write over the other. In a second
 * tab the screen says so and offers to look again. `show` gives what ends it, or nothing.
 */
export async function alone(root, app, name, show) {
  let hold = null;
  for (const ms of navigator.locks ? AGAIN_MS : []) {
    if (ms) await new Promise((done) => setTimeout(done, ms));
    hold = await taken(`${app.store.name}-${name}`);
    if (hold) break;
  }
  if (navigator.locks && !hold) {
    root.append(
      h(
        "p",
        { class: "notice notice-warning" },
        "This is open in another tab. Go on there, or close that one first.",
      ),
      button("Look again", () => app.go(location.hash)),
    );
    return undefined;
  }
  try {
    const leave = await show();
    return () => {
      leave?.();
      hold?.();
    };
  } catch (error) {
    hold?.();
    throw error;
  }
}

/** A lock of this name, as the function that gives it back; null where another tab has it. */
const taken = (name) =>
  new Promise((done) => {
    navigator.locks.request(name, { ifAvailable: true }, (lock) =>
      lock ? new Promise((release) => done(release)) : done(null),
    );
  });

/** What the office said of a record that it did not take, a sentence each; nothing for any other draft. */
export function saidByOffice(draft) {
  return draft.faults.map(({ field: name, row, message }) => {
    const [, list, at] = /^(readings|points)\[(\d+)\]/.exec(name || "") || [];
    const where = list
      ? `${list === "points" ? "shim" : "reading"} ${Number(at) + 1}`
      : [name?.replace(/_/g, " "), row && `row ${row}`].filter(Boolean).join(", ");
    return `The office did not take it. ${where ? `${where[0].toUpperCase()}${where.slice(1)}: ` : ""}${message}`;
  });
}

/** The id a draft is sent under: the one it was begun with, or another where that is taken by something else. */
export function idOf(draft) {
  return draft.faults.length && !draft.item ? draft.id : draft.values.setup.id;
}

/** The switches of a person on this phone, each with what it is until somebody sets it. */
export const SWITCHES = [
  ["by_itself", "Figures land by themselves", "After the pause below, within the limits; all others by Enter.", true],
  ["tens", "Tens on keys of their own", "From 100 µm, held upright: two keys a reading, such as 24· and 5."],
  ["vibrate", "Vibrate at each figure", ""],
  ["sound", "Short sound at each figure", "Two of them where it lies outside the limits."],
];

/** The pause after which a figure lands by itself, ms; longer than a thumb in a glove needs from digit to digit. */
const PAUSES_MS = [500, 900, 1500, 2500];
const USUAL_PAUSE_MS = 900;

/** The switches as they are kept, with `pause_ms`. */
export async function readSwitches(prefs) {
  const kept = (await prefs.get("thumb")) || {};
  const set = SWITCHES.map(([name, , , usual = false]) => [name, kept[name] ?? usual]);
  return { ...Object.fromEntries(set), pause_ms: kept.pause_ms || USUAL_PAUSE_MS };
}

/**
 * Calls `act` when the pad was left alone for the pause after one of its keys. An instrument that is a keyboard sends
 * Enter itself, so its digits wait for that.
 */
export function pauses(switches, act) {
  let timer = 0;
  return {
    after(by) {
      clearTimeout(timer);
      if (switches.by_itself && by === "pad") timer = setTimeout(act, switches.pause_ms);
    },
    end: () => clearTimeout(timer),
  };
}

/** The switches, folded; each is kept as soon as it is set. */
export function drawSwitches(switches, prefs, changed = () => {}) {
  const rows = SWITCHES.map(([name, label, help]) => {
    const box = h("input", {
      type: "checkbox",
      checked: switches[name],
      onchange: () => {
        switches[name] = box.checked;
        prefs.set("thumb", switches);
        changed();
      },
    });
    return h("label", { class: "thumb-switch" }, box, h("span", {}, label, help && h("small", {}, help)));
  });
  const pause = h(
    "select",
    {
      onchange: () => {
        switches.pause_ms = Number(pause.value);
        prefs.set("thumb", switches);
      },
    },
    PAUSES_MS.map((ms) => h("option", { value: ms, selected: ms === switches.pause_ms }, `${ms / 1000} s`)),
  );
  return h("details", { class: "thumb-more" }, h("summary", {}, "Switches"), rows, field("The pause", pause));
}

/**
 * Keeps the screen awake until the returned function is called; where the browser cannot, nothing happens. A lock is
 * lost while the page is hidden, and asked for again when it shows.
 */
export function keepAwake() {
  let lock = null;
  let over = false;
  const ask = async () => {
    if (over || document.visibilityState !== "visible" || !navigator.wakeLock) return;
    try {
      lock = await navigator.wakeLock.request("screen");
      if (over) lock.release();
    } catch {
      // Refused at a low battery: the screen goes dark as it always did, and nothing typed is lost by it.
    }
  };
  document.addEventListener("visibilitychange", ask);
  ask();
  return () => {
    over = true;
    document.removeEventListener("visibilitychange", ask);
    lock?.release().catch(() => {});
  };
}

let audio = null;

/** One short sign for a figure that landed within the limits, two for any other. */
export function sign(switches, isUsual) {
  if (switches.vibrate) navigator.vibrate?.(isUsual ? 30 : [60, 60, 60]);
  if (!switches.sound || !window.AudioContext) return;
  audio = audio || new AudioContext();
  audio.resume?.();
  for (const late of isUsual ? [0] : [0, 0.16]) beep(audio.currentTime + late, isUsual ? 880 : 440);
}

function beep(at, hertz) {
  const tone = audio.createOscillator();
  const loud = audio.createGain();
  tone.frequency.value = hertz;
  loud.gain.setValueAtTime(0.2, at);
  loud.gain.exponentialRampToValueAtTime(0.001, at + 0.09);
  tone.connect(loud).connect(audio.destination);
  tone.start(at);
  tone.stop(at + 0.1);
}
