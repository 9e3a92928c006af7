/** Drawing over a photo by finger, mouse or keyboard alone: what is drawn is kept at each change, and can be undone. */

import { button, clear, h } from "./dom.js";
import * as marks from "./marks.js";

const SVG = "http://www.w3.org/2000/svg";
const TOOLS = [...marks.SHAPES, ["move", "Move"]];
const WAYS = [["Left", "←", -1, 0], ["Right", "→", 1, 0], ["Up", "↑", 0, -1], ["Down", "↓", 0, 1]];
const ENDS = {
  arrow: [["whole", "Whole arrow"], ["from", "Its tail"], ["to", "Its tip"]],
  circle: [["whole", "Whole circle"], ["from", "One side"], ["to", "Other side"]],
  text: [["whole", "Text"]],
};
// Of a picture that this browser cannot show.
const BLIND = { width: 1200, height: 900 };
let made = 0;

/** An element of a drawing; attributes only, no style. */
function s(tag, attrs, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attrs)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

/**
 * @param {{address: string, name: string, kept: ?Object, keep: function(Object): Promise}} photo `address` of the
 *   picture; `kept` as `marks.begin()` makes it; `keep` lays it on the disk
 */
export function drawMarkup(root, app, { address, name, kept, keep }) {
  let now = kept || marks.begin();
  let tool = "arrow";
  let stroke = null;
  let size = BLIND;
  made += 1;
  const group = `markup-${made}`;
  const over = s("svg", { class: "markup-over", "aria-hidden": "true" });
  const said = h("p", { class: "visually-hidden", "aria-live": "polite" });
  const list = h("ol", { class: "plain-list markup-marks" });
  const image = h("img", { alt: name, class: "markup-image", draggable: "false" });
  const blind = h("p", { class: "hint", hidden: true }, "This browser cannot show this kind of picture. What you " +
    "draw is kept by its place; the office shows it over the picture.");
  const undo = button("Undo", () => back(), { class: "button button-quiet" });

  function change(next, words) {
    if (next === now) return false;
    now = next;
    keep(now).catch(app.failed);
    draw();
    if (words) said.textContent = words;
    return true;
  }
  function draw() {
    const all = stroke?.made ? [...now.shapes, stroke.made] : now.shapes;
    clear(over).append(...all.flatMap((mark) => pictured(mark, size)));
    undo.disabled = !now.past.length;
  }
  function add(shape, from, to) {
    const next = marks.added(now, shape, from, to);
    if (next === now) return app.say(`At most ${marks.MOST} marks lie over a photo.`, "bad");
    change(next, `${marks.inWords(next.shapes[next.shapes.length - 1])}, drawn.`);
    rows();
    if (shape === "text") list.lastElementChild.querySelector("input").focus();
    return undefined;
  }
  function back() {
    change(marks.undone(now), "Undone.");
    rows();
    (undo.disabled ? root.querySelector("input[type=radio]:checked") : undo).focus();
  }

  // --- on the picture ---
  const at = (event) => {
    const box = over.getBoundingClientRect();
    const share = (value) => Math.min(1, Math.max(0, value));
    return [share((event.clientX - box.left) / box.width), share((event.clientY - box.top) / box.height)];
  };
  over.addEventListener("pointerdown", (event) => {
    if (event.button || stroke) return;
    const from = at(event);
    const held = tool === "move" ? marks.near(now, from) : null;
    if (tool === "move" && !held) return;
    event.preventDefault();
    over.setPointerCapture(event.pointerId);
    stroke = { pointer: event.pointerId, from, held, before: now };
  });
  over.addEventListener("pointermove", (event) => {
    if (stroke?.pointer !== event.pointerId) return;
    const to = at(event);
    if (stroke.held) {
      now = dragged(stroke, to);
    } else if (tool !== "text") {
      const next = marks.added(marks.begin(), tool, stroke.from, to);
      stroke.made = next.shapes[0];
    }
    draw();
  });
  over.addEventListener("pointerup", (event) => {
    if (stroke?.pointer !== event.pointerId) return;
    const { from, held, before } = stroke;
    const next = held ? dragged(stroke, at(event)) : null;
    stroke = null;
    if (!held) return void add(tool, from, at(event));
    now = before;
    if (change(next, `${marks.inWords(next.shapes[held.index])}, moved.`)) rows();
    else draw();
  });
  over.addEventListener("pointercancel", (event) => {
    if (stroke?.pointer !== event.pointerId) return;
    now = stroke.before;
    stroke = null;
    draw();
  });
  const dragged = ({ from, held, before }, to) =>
    marks.moved(before, held.index, held.end, [to[0] - from[0], to[1] - from[1]]);

  // --- by buttons ---
  function rows() {
    clear(list).append(...now.shapes.map(row));
  }
  function row(mark, index) {
    const told = h("strong", {}, marks.inWords(mark));
    const number = index + 1;
    const words = h("input", {
      type: "text", maxlength: marks.LONGEST_TEXT, value: mark.text, autocomplete: "off",
      "aria-label": `Words of mark ${number}`,
      placeholder: mark.shape === "text" ? "Words, or it is not sent" : "Words beside it",
      oninput: () => {
        change(marks.worded(now, index, words.value));
        told.textContent = marks.inWords(now.shapes[index]);
      },
    });
    const choices = ENDS[mark.shape];
    const what = h("select", { "aria-label": `What moves of mark ${number}` },
      choices.map(([value, label]) => h("option", { value }, label)));
    const move = (dx, dy) => {
      const done = change(marks.moved(now, index, what.value, [dx * marks.STEP, dy * marks.STEP]));
      told.textContent = marks.inWords(now.shapes[index]);
      said.textContent = done ? told.textContent : "It goes no further.";
    };
    const ways = WAYS.map(([way, sign, dx, dy]) =>
      button(sign, () => move(dx, dy), { class: "button button-quiet", "aria-label": `${way}: mark ${number}` }));
    const remove = () => {
      change(marks.removed(now, index), `${marks.inWords(mark)}, removed.`);
      rows();
      undo.focus();
    };
    return h("li", {}, told, words,
      h("div", { class: "markup-moves" }, choices.length > 1 && what, ways,
        button("Remove", remove, { class: "button button-quiet", "aria-label": `Remove mark ${number}` })));
  }
  const choose = h("fieldset", { class: "markup-tools" }, h("legend", {}, "Draw with a finger or the mouse"),
    TOOLS.map(([value, label]) => {
      const take = () => (tool = value);
      const input = h("input", { type: "radio", name: group, value, checked: value === tool, onchange: take });
      return h("label", {}, input, ` ${label}`);
    }));
  const middle = () => {
    if (tool === "move") return app.say("Choose arrow, circle or text first.");
    return add(tool, [0.5, 0.5]);
  };
  root.append(choose,
    h("div", { class: "markup-picture" }, image, over), blind,
    h("p", { class: "actions" }, button("Put one in the middle", middle, { class: "button button-quiet" }), undo),
    list, said,
    h("p", { class: "hint" }, "Marks lie over the photo; the photo itself is never changed."));
  const shown = (width, height) => {
    size = { width, height };
    over.setAttribute("viewBox", `0 0 ${width} ${height}`);
    draw();
  };
  shown(BLIND.width, BLIND.height);
  image.onload = () => shown(image.naturalWidth, image.naturalHeight);
  image.onerror = () => {
    image.hidden = true;
    blind.hidden = false;
    over.classList.add("markup-blind");
  };
  image.src = address;
  rows();
}

/** A mark in red with a light edge, so that it is seen on every ground. */
function pictured(mark, { width, height }) {
  const told = marks.drawn(mark, width, height);
  const [line, edge] = [told.unit / 4, told.unit / 2];
  const both = (tag, attrs) => [["#fff", edge], ["#c00014", line]].map(([stroke, thick]) =>
    s(tag, { ...attrs, fill: "none", stroke, "stroke-width": thick }));
  const parts = [];
  if (told.shape === "circle") {
    const middle = { cx: (told.x1 + told.x2) / 2, cy: (told.y1 + told.y2) / 2 };
    parts.push(...both("ellipse", { ...middle, rx: (told.x2 - told.x1) / 2, ry: (told.y2 - told.y1) / 2 }));
  }
  if (told.shape === "arrow") {
    parts.push(...both("path", { d: `M${told.x1} ${told.y1}L${told.x2} ${told.y2}` }));
    const points = told.head.map((point) => point.join(",")).join(" ");
    const look = { fill: "#c00014", stroke: "#fff", "stroke-width": line, "paint-order": "stroke" };
    parts.push(s("polygon", { points, ...look }));
  }
  const words = told.text || (told.shape === "text" ? "…" : "");
  if (words) {
    parts.push(s("text", {
      x: told.text_x, y: told.text_y, "text-anchor": told.anchor, "font-size": told.unit * 2, "font-weight": "bold",
      fill: "#c00014", stroke: "#fff", "stroke-width": edge, "paint-order": "stroke",
    }, words));
  }
  return parts;
}
