// Pages made of elements and text alone: nothing here reads markup out of a text.

let made = 0;

/**
 * An element. `on…` functions become listeners, true and false set and leave out an attribute, `class` is a text.
 * @param {string} tag
 * @param {Object<string, *>} [attrs]
 * @param {...(Node|string|number|null|undefined|false|Array)} children
 * @returns {HTMLElement}
 */
export function h(tag, attrs = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attrs || {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on") && typeof value === "function") element.addEventListener(name.slice(2), value);
    else if (name === "value" || name === "checked" || name === "disabled") element[name] = value;
    else if (name === "style" || name.startsWith("on")) throw new Error(`${name} is not for attributes`);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  append(element, children);
  return element;
}

function append(element, children) {
  for (const child of children) {
    if (Array.isArray(child)) append(element, child);
    else if (child instanceof Node) element.append(child);
    else if (child !== null && child !== undefined && child !== false) element.append(String(child));
  }
}

/** Empties an element and gives it back. */
export function clear(root) {
  root.replaceChildren();
  return root;
}

/**
 * Draws anew what may be in use: the focus, what is open and what is being typed stay where elements say `data-key`.
 * Nothing is touched where nothing would change.
 */
export function redraw(root, ...children) {
  const fresh = h("div", {}, ...children);
  if (fresh.innerHTML === (root.lastDrawn ?? null)) return;
  root.lastDrawn = fresh.innerHTML;
  const key = root.contains(document.activeElement) ? document.activeElement.dataset.key : "";
  const kept = new Map();
  for (const one of root.querySelectorAll("details[open][data-key], textarea[data-key]")) {
    kept.set(one.dataset.key, one.value ?? "");
  }
  root.replaceChildren(...fresh.childNodes);
  for (const one of root.querySelectorAll("details[data-key], textarea[data-key]")) {
    if (!kept.has(one.dataset.key)) continue;
    if (one.tagName === "DETAILS") one.open = true;
    else one.value = kept.get(one.dataset.key);
  }
  if (key) root.querySelector(`[data-key="${CSS.escape(key)}"]`)?.focus({ preventScroll: true });
}

/** A button that does something on this page. */
export function button(text, onclick, attrs = {}) {
  return h("button", { type: "button", class: "button", onclick, ...attrs }, text);
}

/**
 * An input with its label, a hint and what is wrong with it, tied together for those who hear the page.
 * @param {string} label
 * @param {HTMLElement} input
 * @param {{help?: string, fault?: string}} [told]
 */
export function field(label, input, { help = "", fault = "" } = {}) {
  made += 1;
  const id = input.id || `field-${made}`;
  input.id = id;
  const told = [help && h("p", { class: "hint", id: `${id}-help` }, help)];
  told.push(fault && h("p", { class: "fault", id: `${id}-fault` }, fault));
  const about = told.filter(Boolean).map((one) => one.id);
  if (about.length) input.setAttribute("aria-describedby", about.join(" "));
  if (fault) input.setAttribute("aria-invalid", "true");
  return h("div", { class: fault ? "field field-wrong" : "field" }, h("label", { for: id }, label), ...told, input);
}

/** A link to another screen of the app. */
export const link = (text, hash, attrs = {}) => h("a", { href: hash, ...attrs }, text);

/** How long ago, in the largest unit that says enough. */
export function ago(since, now = Date.now()) {
  const minutes = Math.max(0, Math.round((now - since) / 60_000));
  if (minutes < 1) return "just now";
  if (minutes < 60) return `${minutes} min ago`;
  if (minutes < 48 * 60) return `${Math.round(minutes / 60)} h ago`;
  return `${Math.round(minutes / 1440)} days ago`;
}

/** A span of time in words, without a direction. */
export function span(ms) {
  const minutes = Math.round(Math.abs(ms) / 60_000);
  if (minutes < 90) return `${minutes} min`;
  if (minutes < 48 * 60) return `${Math.round(minutes / 6) / 10} h`;
  return `${Math.round(minutes / 1440)} days`;
}

/** Bytes as people read them. */
export function size(bytes) {
  if (bytes < 1_000_000) return `${Math.ceil(bytes / 1000)} kB`;
  return bytes < 1e9 ? `${(bytes / 1e6).toFixed(1)} MB` : `${(bytes / 1e9).toFixed(1)} GB`;
}
