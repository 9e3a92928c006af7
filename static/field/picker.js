// One of the things of the pack: a list where it is short, found by typing where it is long.

import { clear, h } from "./dom.js";

const LONGEST_LIST = 25;
const MOST_FOUND = 12;

/**
 * @param {Array<[string, string]>} options id and words
 * @param {string} value the id chosen
 * @param {{onchange: function(string): void, required?: boolean, label?: string, empty?: string}} how
 */
export function drawPicker(options, value, { onchange, required = false, label = "", empty = "" }) {
  if (options.length <= LONGEST_LIST) {
    return list(options, value, { onchange, empty: empty || (required ? "Choose" : "None") });
  }
  const words = (id) => options.find(([each]) => each === id)?.[1] || "";
  const found = h("ul", { class: "told-found", "aria-label": `Found for ${label}` });
  const input = h("input", {
    type: "search",
    autocomplete: "off",
    value: words(value),
    placeholder: `One of ${options.length}: type a part of it`,
    oninput: () => seek(),
    onkeydown: (event) => {
      if (event.key !== "Enter") return;
      event.preventDefault();
      found.querySelector("button")?.click();
    },
  });
  const take = (id) => {
    input.value = words(id);
    clear(found);
    onchange(id);
  };
  function seek() {
    clear(found);
    // What is typed over a choice takes the choice away until another is made.
    if (value) onchange((value = ""));
    if (!input.value.trim()) return;
    const hits = matching(options, input.value);
    found.append(
      ...hits
        .slice(0, MOST_FOUND)
        .map(([id, told]) =>
          h("li", {}, h("button", { type: "button", class: "told-hit", onclick: () => take((value = id)) }, told)),
        ),
    );
    const more = hits.length - MOST_FOUND;
    if (more > 0) found.append(h("li", { class: "quiet" }, `and ${more} more: type on`));
    if (!hits.length) found.append(h("li", { class: "quiet" }, "None has that in its name."));
  }
  return h("div", { class: "told-picker" }, input, found);
}

/** Those that have every word typed in their words, those that begin with it first. */
export function matching(options, text) {
  const parts = text.toLowerCase().split(/\s+/).filter(Boolean);
  const hits = options.filter(([, words]) => parts.every((part) => words.toLowerCase().includes(part)));
  const begins = ([, words]) => Number(words.toLowerCase().startsWith(parts[0] || ""));
  return hits.sort((one, other) => begins(other) - begins(one));
}

function list(options, value, { onchange, empty }) {
  const input = h(
    "select",
    { onchange: () => onchange(input.value) },
    h("option", { value: "", selected: !value }, empty),
    options.map(([id, words]) => h("option", { value: id, selected: id === value }, words)),
  );
  return input;
}
