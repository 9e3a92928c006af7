/**
 * What is drawn over a photo, as data: arrows, circles and texts with places as shares of width and height from the top
 * left, in the shape that the office keeps (its `layers.py`, which draws them alike). Never burnt into the picture.
 */

/** Columns A to L, rows 1 to 12: how places are named for whoever does not see them. */
export const CELLS = 12;
export const MOST = 40;
export const LONGEST_TEXT = 80;
export const STEP = 1 / 24;
export const SHAPES = [["arrow", "Arrow"], ["circle", "Circle"], ["text", "Text"]];
const LETTERS = "ABCDEFGHIJKL";
const MOST_UNDONE = 60;
// A tap that hardly moved is a tap, also by a glove.
const STILL = 0.02;
const HALF = 1 / CELLS / 2;

const within = (share) => Math.round(Math.min(1, Math.max(0, share)) * 10_000) / 10_000;
const place = ([x, y]) => [within(x), within(y)];
const same = (one, other) => one[0] === other[0] && one[1] === other[1];

/** Nothing drawn yet. `past` are the states before, the newest last; `typing` is the mark whose words are typed. */
export const begin = () => ({ shapes: [], past: [], typing: null });

function changed(marks, shapes, typing = null) {
  // Words typed in one go are undone in one go.
  const goesOn = typing !== null && typing === marks.typing;
  const past = goesOn ? marks.past : [...marks.past, marks.shapes].slice(-MOST_UNDONE);
  return { shapes, past, typing };
}

/** A mark from a stroke over the picture, or from a tap: both places may be one. */
export function added(marks, shape, from, to = from) {
  if (marks.shapes.length >= MOST) return marks;
  const tap = Math.hypot(to[0] - from[0], to[1] - from[1]) < STILL;
  return changed(marks, [...marks.shapes, MADE[shape](from, to, tap)]);
}

const MADE = {
  arrow(from, to, tap) {
    if (!tap) return { shape: "arrow", from: place(from), to: place(to), text: "" };
    // Towards what was tapped, from where there is room.
    const begins = to.map((share) => share + (share > 0.5 ? -2 : 2) / CELLS);
    return { shape: "arrow", from: place(begins), to: place(to), text: "" };
  },
  // The office draws a circle around both of its cells with all between: half a cell further out than its places.
  circle(from, to, tap) {
    const [left, right] = tap ? [from[0], from[0]] : inside(from[0], to[0]);
    const [top, foot] = tap ? [from[1], from[1]] : inside(from[1], to[1]);
    return { shape: "circle", from: place([left, top]), to: place([right, foot]), text: "" };
  },
  text: (from, to) => ({ shape: "text", from: place(to), to: null, text: "" }),
};

function inside(one, other) {
  const [low, high] = [Math.min(one, other) + HALF, Math.max(one, other) - HALF];
  return low <= high ? [low, high] : [(low + high) / 2, (low + high) / 2];
}

/** One mark moved by shares: its whole, or one of its places (`from`, `to`). It never leaves the picture. */
export function moved(marks, index, what, [dx, dy]) {
  const mark = marks.shapes[index];
  const ends = what === "whole" ? ["from", "to"].filter((end) => mark[end]) : [what];
  const by = [0, 1].map((axis) => {
    const shares = ends.map((end) => mark[end][axis]);
    const wanted = axis ? dy : dx;
    return Math.min(1 - Math.max(...shares), Math.max(-Math.min(...shares), wanted));
  });
  const next = { ...mark };
  for (const end of ends) next[end] = place([mark[end][0] + by[0], mark[end][1] + by[1]]);
  if (next.shape === "arrow" && same(next.from, next.to)) return marks;
  if (ends.every((end) => same(next[end], mark[end]))) return marks;
  return changed(marks, marks.shapes.map((each, at) => (at === index ? next : each)));
}

export function worded(marks, index, text) {
  return changed(marks, marks.shapes.map((each, at) => (at === index ? { ...each, text } : each)), index);
}

export const removed = (marks, index) => changed(marks, marks.shapes.filter((_, at) => at !== index));

export function undone(marks) {
  if (!marks.past.length) return marks;
  return { shapes: marks.past[marks.past.length - 1], past: marks.past.slice(0, -1), typing: null };
}

/** The place nearest to a point, to be dragged by it; null where none is near. */
export function near(marks, [x, y], reach = 0.08) {
  let found = null;
  for (const [index, mark] of marks.shapes.entries()) {
    for (const end of ["from", "to"]) {
      if (!mark[end]) continue;
      const far = Math.hypot(mark[end][0] - x, mark[end][1] - y);
      if (far < reach && (!found || far < found.far)) found = { index, end, far };
    }
  }
  return found;
}

/** What the office is sent: a text that has no words yet is none. */
export const sent = (shapes) =>
  shapes
    .map((mark) => ({ ...mark, text: mark.text.trim() }))
    .filter((mark) => mark.shape !== "text" || mark.text);

const cellOf = ([x, y]) =>
  LETTERS[Math.min(Math.floor(x * CELLS), CELLS - 1)] + (Math.min(Math.floor(y * CELLS), CELLS - 1) + 1);

/** A mark as a sentence. */
export function inWords(mark) {
  const begins = cellOf(mark.from);
  const ends = mark.to ? cellOf(mark.to) : "";
  const said = mark.text.trim() ? `: ${mark.text.trim()}` : "";
  if (mark.shape === "arrow") return `Arrow from ${begins} to ${ends}${said}`;
  if (mark.shape === "circle") return `Circle around ${begins}${ends !== begins ? ` to ${ends}` : ""}${said}`;
  return `Text at ${begins}${said}`;
}

/** A mark as it is drawn on a picture of this size, as the office draws it. */
export function drawn(mark, width, height) {
  const unit = Math.max(width, height) / 60;
  const ends = mark.to || mark.from;
  let [x1, y1, x2, y2] = [mark.from[0] * width, mark.from[1] * height, ends[0] * width, ends[1] * height];
  let [text_x, text_y] = [x1, y1];
  let head = [];
  if (mark.shape === "circle") {
    const [half_x, half_y] = [width * HALF, height * HALF];
    [x1, x2] = [Math.min(x1, x2) - half_x, Math.max(x1, x2) + half_x];
    [y1, y2] = [Math.min(y1, y2) - half_y, Math.max(y1, y2) + half_y];
    [text_x, text_y] = [(x1 + x2) / 2, y2 + unit * 2.1];
    if (text_y > height - unit * 0.3) text_y = y1 - unit * 0.5;
  } else if (mark.shape === "arrow") {
    const towards = Math.atan2(y2 - y1, x2 - x1);
    const side = (turn) => [x2 - 1.6 * unit * Math.cos(towards + turn), y2 - 1.6 * unit * Math.sin(towards + turn)];
    head = [[x2, y2], side(0.45), side(-0.45)];
    text_y = y1 + (y2 > y1 ? -0.6 : 2.1) * unit;
  }
  const anchor = text_x < width / 3 ? "start" : text_x > (width * 2) / 3 ? "end" : "middle";
  text_y = Math.min(Math.max(text_y, unit * 2), height - unit * 0.5);
  return { shape: mark.shape, x1, y1, x2, y2, head, text: mark.text, text_x, text_y, anchor, unit };
}
