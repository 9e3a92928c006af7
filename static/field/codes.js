/**
 * The code on a label, read by the phone's camera where the browser can, typed elsewhere: which thing of the pack it
 * means. A label of an instrument or a shim holds its company number, one of a batch or an area the id of its page.
 */

import { button, field, h } from "./dom.js";

/** What bears labels, with the list of the pack that it stands in and what is read off it. */
const BEARERS = {
  gauge: { list: "gauges", code: (each) => each.identity, name: "instrument" },
  standard: { list: "standards", code: (each) => each.identity, name: "shim or standard" },
  batch: { list: "batches", code: (each) => each.number, name: "batch" },
  area: { list: "areas", code: (each) => each.code, name: "area" },
};
const LOOK_EVERY_MS = 150;

const rowsOf = (pack, kind) => pack[BEARERS[kind].list] || [];

/** The kind of label that a field of a form asks for; empty where what it names bears none. */
export const labelled = (of) => (of in BEARERS ? of : "");

/** The code itself: of an address, as a label's square holds it, the last part. As the office reads it. */
export function codeOf(text) {
  const typed = text.trim();
  // A code may have strokes of its own.
  if (!typed.includes("://")) return typed;
  const last = typed.replace(/\/+$/, "").split("/").pop();
  try {
    return decodeURIComponent(last).trim();
  } catch {
    return last.trim();
  }
}

/**
 * The thing that the text of a label means, or why it means none of these.
 * @param {Object} pack
 * @param {"gauge"|"standard"|"batch"|"area"} of
 * @param {string} text as the square holds it, or typed
 * @param {string[]|null} [among] the ids that can be chosen; null for all
 * @returns {{id: string, code: string, fault: string}}
 */
export function meant(pack, of, text, among = null) {
  const code = codeOf(text);
  const none = (fault) => ({ id: "", code, fault });
  const bears = (kind) => (each) =>
    each.id === code || BEARERS[kind].code(each).toLowerCase() === code.toLowerCase();
  if (!code) return none("Type the code that stands on the label.");
  const found = rowsOf(pack, of).filter(bears(of));
  const offered = found.filter((each) => !among || among.includes(each.id));
  if (offered.length === 1) return { id: offered[0].id, code: BEARERS[of].code(offered[0]), fault: "" };
  if (offered.length > 1) return none(`“${code}” is borne by more than one. Choose from the list.`);
  if (found.length) return none(`“${BEARERS[of].code(found[0])}” is not among those that can be chosen here.`);
  for (const [kind, { name, code: codeIs }] of Object.entries(BEARERS)) {
    const other = rowsOf(pack, kind).find(bears(kind));
    if (other) return none(`This is the label of ${codeIs(other)}, ${name}. Asked for is: ${BEARERS[of].name}.`);
  }
  // An id says nothing to who reads it.
  const said = /^[0-9a-f]{8}-[0-9a-f-]{27}$/i.test(code) ? "This label" : `“${code}”`;
  return none(`${said} is none of what this phone knows. Look again, or choose from the list.`);
}

/** Whether this browser reads squares by its camera. */
export async function canRead() {
  if (!window.BarcodeDetector || !navigator.mediaDevices?.getUserMedia) return false;
  const formats = await window.BarcodeDetector.getSupportedFormats().catch(() => []);
  return formats.includes("qr_code");
}

/**
 * A button that opens the label's dialog; `take(id, code)` hears what was found.
 * @param {{pack: Object, of: string, among?: string[]|null, take: (id: string, code: string) => void,
 *   for?: string}} how
 */
export function labelButton(how) {
  const opens = button("By its label", () => ask(how), {
    class: "button button-quiet code-ask",
    "aria-label": `${how.for ? `${how.for}: by` : "By"} its label`,
  });
  return opens;
}

/** The dialog: the camera's picture where there is one, and below it the code to be typed. */
function ask({ pack, of, among = null, take }) {
  const { name } = BEARERS[of];
  const said = h("p", { class: "code-said", role: "status" });
  const typed = h("input", {
    type: "text",
    maxlength: "200",
    autocomplete: "off",
    autocapitalize: "characters",
    spellcheck: "false",
    onkeydown: (event) => {
      if (event.key !== "Enter") return;
      event.preventDefault();
      look(typed.value);
    },
  });
  const video = h("video", { muted: true, playsinline: true, hidden: true, "aria-label": "What the camera sees" });
  const light = button("Light", () => camera.light(), { class: "button button-quiet", hidden: true });
  const dialog = h(
    "dialog",
    { class: "code-dialog", "aria-labelledby": "code-title" },
    h("h2", { id: "code-title", tabindex: "-1", autofocus: true }, `Label of the ${name}`),
    video,
    said,
    field("Its code", typed, { help: "As it stands on the label." }),
    h(
      "p",
      { class: "actions" },
      button("Take this code", () => look(typed.value)),
      light,
      button("Close", () => dialog.close(), { class: "button button-quiet" }),
    ),
  );
  const camera = watch(video, light, said, (text) => look(text));
  function look(text) {
    const found = meant(pack, of, text, among);
    if (!found.id) {
      if (said.textContent !== found.fault) said.textContent = found.fault;
      return;
    }
    dialog.close();
    take(found.id, found.code);
  }
  // Whatever takes the person away ends the camera too.
  const away = () => document.visibilityState === "hidden" && dialog.close();
  const gone = () => dialog.close();
  dialog.addEventListener("close", () => {
    camera.end();
    document.removeEventListener("visibilitychange", away);
    window.removeEventListener("hashchange", gone);
    dialog.remove();
  });
  document.addEventListener("visibilitychange", away);
  window.addEventListener("hashchange", gone);
  document.body.append(dialog);
  dialog.showModal();
  // With the camera on, the keyboard of a phone would hide what it sees.
  camera.begin().then((sees) => !sees && typed.focus());
}

/** The camera until it is ended; without one, or without leave, it says so and leaves the typing. */
function watch(video, light, said, heard) {
  let over = false;
  let stream = null;
  let timer = 0;
  const track = () => stream?.getVideoTracks()[0];
  async function begin() {
    if (!(await canRead())) return false;
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch (refused) {
      said.textContent =
        refused.name === "NotAllowedError"
          ? "The camera may not be used: allow it for this site in the browser's settings, or type the code."
          : "The camera cannot be used now. Type the code.";
      return false;
    }
    if (over) return void end();
    video.hidden = false;
    video.srcObject = stream;
    await video.play();
    // In a tank there is no light but the phone's own, where the browser gives it.
    light.hidden = !track().getCapabilities?.().torch;
    said.textContent = "Hold the label before the camera.";
    const detector = new window.BarcodeDetector({ formats: ["qr_code"] });
    const look = async () => {
      // A picture that cannot be read yet is looked at again.
      const found = await detector.detect(video).catch(() => []);
      if (over) return;
      if (found.length) heard(found[0].rawValue);
      if (!over) timer = setTimeout(look, LOOK_EVERY_MS);
    };
    look();
    return true;
  }
  function end() {
    over = true;
    clearTimeout(timer);
    stream?.getTracks().forEach((each) => each.stop());
    video.srcObject = null;
  }
  let lit = false;
  return {
    begin: () =>
      begin().catch((failed) => {
        console.error(failed);
        said.textContent = over ? "" : "The camera cannot be used now. Type the code.";
        return false;
      }),
    end,
    light: () => {
      lit = !lit;
      track()
        ?.applyConstraints({ advanced: [{ torch: lit }] })
        .catch(() => (light.hidden = true));
    },
  };
}
