/**
 * The number pad: a pure machine that turns keys into figures, and its drawing for a thumb in a glove.
 *
 * The machine knows nothing of thickness. Who uses it says how many digits may follow the point, whether a figure may
 * be negative, and after which pause one may land by itself (`pause`).
 */

import { h } from "./dom.js";

/** No figure of an instrument is longer. */
export const LONGEST = 8;

/** Where presses begin: nothing typed, nothing that a point could go on with. */
export const EMPTY = Object.freeze({ text: "", landed: "" });

/**
 * What one key does. Pure.
 *
 * Keys: "0" to "9", "24_" (tens at once: the next digit ends the figure, which then lands), "." (or ","), "-", "enter",
 * "erase" (the last digit), "undo" (what is typed, else the last figure).
 * A figure lands by "enter". A point typed next goes on with a figure that landed by itself: 84, then ".5", is 84.5.
 * @param {{text: string, landed: string}} pad
 * @param {string} key
 * @param {{digits?: number, signed?: boolean}} [how]
 * @returns {{pad: {text: string, landed: string}, lands: string|null, undo: boolean, known: boolean}} `lands` is the
 *   figure to take; `undo` asks to take the last one back; `known` is false for a key that is none of the pad's.
 */
export function press(pad, key, how = {}) {
  const { digits = 1, signed = false } = how;
  const told = (text, more = {}) => ({ pad: { text, landed: "" }, lands: null, undo: false, known: true, ...more });
  // Tens alone are no figure.
  if (key === "enter" && pad.armed) return { ...told(pad.text), pad };
  if (key === "enter") return isFigure(pad.text) ? told("", { lands: pad.text }) : told(pad.text);
  if (key === "erase") return told(pad.text.slice(0, -1));
  if (key === "undo") return pad.text ? told("") : told("", { undo: true });
  if (key === "-") return told(signed && !pad.text ? "-" : pad.text);
  if (/^[0-9]+_$/.test(key)) return { ...told(""), pad: { text: key.slice(0, -1), landed: "", armed: true } };
  const point = key === "." || key === ",";
  if (!point && !/^[0-9]$/.test(key)) return { ...told(pad.text), pad, known: false };
  if (point && !pad.text && pad.landed && !pad.landed.includes(".")) return told(`${pad.landed}.`, { undo: true });
  const text = longer(pad.text, point ? "." : key, digits);
  return pad.armed && !point ? { ...told("", { lands: text }), pad: { text: "", landed: text } } : told(text);
}

/** What a pause does: a figure lands by itself where `fits(text)` says that it can be no other. As `press`. */
export function pause(pad, fits) {
  const lands = isFigure(pad.text) && fits(pad.text);
  return {
    pad: lands ? { text: "", landed: pad.text } : pad,
    lands: lands ? pad.text : null,
    undo: false,
    known: true,
  };
}

/** Whether the text names a number as it stands. */
export function isFigure(text) {
  return /^-?\d+(\.\d+)?\.?$/.test(text);
}

function longer(text, key, digits) {
  if (text.length >= LONGEST) return text;
  const [, decimals] = text.split(".");
  if (key === ".") {
    if (decimals !== undefined || !digits) return text;
    return text === "" || text === "-" ? `${text}0.` : `${text}.`;
  }
  if (decimals !== undefined && decimals.length >= digits) return text;
  if (text === "0" || text === "-0") return text.slice(0, -1) + key;
  return text + key;
}

/** The pad's key for what a keyboard, or an instrument that is one, sends; empty where it is none of ours. */
export function keyOf(event) {
  if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return "";
  const named = { Enter: "enter", Backspace: "erase", Escape: "undo", ",": ".", "−": "-" };
  const key = named[event.key] ?? event.key;
  return /^([0-9.-]|enter|erase|undo)$/.test(key) ? key : "";
}

const FACES = ["7", "8", "9", "undo", "4", "5", "6", "1", "2", "3", "enter", ".", "0", "erase"];
const WORDS = { undo: "Take back", enter: "Enter", erase: "⌫", ".": ".", "-": "−" };
const SPOKEN = { erase: "Erase the last digit", ".": "Point", "-": "Minus" };

/**
 * Draws the pad; `onKey(key)` hears each press. Its keys stand outside the order of the tabulator, since digits typed
 * anywhere land (`listen`); all but the one that takes back, for which a keyboard has no key of its own. `undo(words)`
 * says what the key beside the digits would take back.
 * @param {(key: string, by: "pad") => void} onKey
 * @param {{signed?: boolean}} [how] with a minus in place of the key that erases
 * @returns {{element: HTMLElement, undo: (words: string) => void}}
 */
export function drawPad(onKey, how = {}) {
  const faces = how.signed ? FACES.map((key) => (key === "erase" ? "-" : key)) : FACES;
  const keys = faces.map((key) => drawKey(key, onKey));
  const element = h("div", { class: "pad", role: "group", "aria-label": "Number pad" }, ...keys);
  const back = keys[faces.indexOf("undo")];
  return {
    element,
    undo: (words) => {
      if (back.textContent !== words) back.textContent = words;
    },
  };
}

/**
 * Draws a pad on which each ten has a key of its own, so that a figure of three digits takes two keys.
 * @param {(key: string, by: "pad") => void} onKey
 * @param {number[]} tens such as 24 for 240 to 249
 */
export function drawTens(onKey, tens) {
  const digits = ["1", "2", "3", "4", "5", "6", "7", "8", "9", "0"];
  const faces = [...tens.map((ten) => `${ten}_`), ...digits, "undo", ".", "enter"];
  const keys = faces.map((key) => drawKey(key, onKey));
  // Digits begin a row of their own, wherever the tens end.
  keys[tens.length].classList.add("pad-row");
  const element = h("div", { class: "pad pad-tens", role: "group", "aria-label": "Number pad with tens" }, ...keys);
  const back = keys[faces.indexOf("undo")];
  return { element, undo: (words) => (back.textContent = words) };
}

function drawKey(key, onKey) {
  let down = false;
  const isTen = key.endsWith("_");
  const name = isTen ? "ten" : /^[0-9]$/.test(key) ? "digit" : ({ ".": "point", "-": "minus" }[key] ?? key);
  const act = () => onKey(key, "pad");
  return h(
    "button",
    {
      type: "button",
      tabindex: key === "undo" ? null : "-1",
      class: `pad-key pad-${name}`,
      "data-key": key,
      "aria-label": isTen ? `${key.slice(0, -1)}0 and` : SPOKEN[key],
      // A key counts when the thumb comes down, as on any keypad; the click that ends the same touch is no second one.
      onpointerdown: (event) => {
        if (!event.button && event.isPrimary) {
          down = true;
          act();
        }
      },
      onclick: () => {
        if (!down) act();
        down = false;
      },
      onpointercancel: () => {
        down = false;
      },
    },
    isTen ? `${key.slice(0, -1)}·` : (WORDS[key] ?? key),
  );
}

/**
 * Takes digits and Enter typed anywhere on the page, as an instrument does that is a keyboard; not those meant for a
 * field of text. Enter and Escape belong to a button that has the focus, unless a figure is pending: an instrument's
 * Enter must not press what the thumb touched last. Returns what ends it.
 * @param {(key: string, by: "keyboard") => void} onKey
 * @param {() => boolean} pending whether a figure is being typed
 */
export function listen(onKey, pending, target = document) {
  const heard = (event) => {
    const key = keyOf(event);
    const at = event.target;
    if (!key || at.closest?.("input, textarea, select, dialog")) return;
    if (key === "enter" && !pending() && at.closest?.("button, a, summary")) return;
    if ((key === "undo" || key === "erase") && !pending()) return;
    event.preventDefault();
    onKey(key, "keyboard");
  };
  target.addEventListener("keydown", heard);
  return () => target.removeEventListener("keydown", heard);
}
