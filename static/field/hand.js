/** What helps a hand that measures: a screen that stays on, a short hum or sound for each figure, as switched. */

import { h, link } from "./dom.js";

/** In place of a screen that lives from the pack. */
export const noPack = () => h("p", {}, "Take the project's pack along first: ", link("Packs", "#/packs"), ".");

/** What the office said of a record that it did not take, a sentence each; nothing for any other draft. */
export function saidByOffice(draft) {
  return draft.faults.map(({ field, row, message }) =>
    ["The office did not take it:", field && `${field.replace(/_/g, " ")}:`, row && `row ${row}:`, message]
      .filter(Boolean)
      .join(" "),
  );
}

/** The id a draft is sent under: the one it was begun with, or another where that is taken by something else. */
export function idOf(draft) {
  return draft.faults.length && !draft.item ? draft.id : draft.values.setup.id;
}

/** The switches of a person on this phone; all begin switched off. */
export const SWITCHES = [
  ["by_itself", "Figures land by themselves", "Within the limits of one reading, as soon as they can be no other."],
  ["vibrate", "Vibrate at each figure", ""],
  ["sound", "Short sound at each figure", "Two of them where it lies outside the limits."],
];

/** The switches as they are kept; a missing one is off. */
export async function readSwitches(prefs) {
  const kept = (await prefs.get("thumb")) || {};
  return Object.fromEntries(SWITCHES.map(([name]) => [name, Boolean(kept[name])]));
}

/** The switches, folded; each is kept as soon as it is set. */
export function drawSwitches(switches, prefs) {
  const rows = SWITCHES.map(([name, label, help]) => {
    const box = h("input", {
      type: "checkbox",
      checked: switches[name],
      onchange: () => {
        switches[name] = box.checked;
        prefs.set("thumb", switches);
      },
    });
    return h("label", { class: "thumb-switch" }, box, h("span", {}, label, help && h("small", {}, help)));
  });
  return h("details", { class: "thumb-more" }, h("summary", {}, "Switches"), ...rows);
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
