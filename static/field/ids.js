// Ids of records (RFC 9562, version 7) and the time, corrected by the server's clock as it was last heard.

/**
 * A new id: the milliseconds since 1970 by the corrected clock, then chance.
 * @returns {string}
 */
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  let at = Math.max(0, now().getTime());
  for (let place = 5; place >= 0; place -= 1) {
    bytes[place] = at % 256;
    at = Math.floor(at / 256);
  }
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

// Of an office far from the phone's clock: beyond this the person is told.
export const MUCH_MS = 2 * 60_000;
// A clock that jumps by more than the page's own count of time was set anew.
const JUMP_MS = 30_000;

const clock = {
  /** What to add to the phone's clock, in ms; null while the server was never heard. */
  offset: null,
  /** By the phone's clock, when the server was last heard. */
  heard: null,
  /** The largest time the phone's clock ever showed here. */
  seen: 0,
  /** The clock went back, or was set, since the server was heard. */
  moved: false,
};
let page = { wall: Date.now(), count: performance.now() };

/** Sets what was kept of the clock from an earlier run. */
export function setClock(kept) {
  if (!kept) return;
  clock.offset = kept.offset;
  clock.heard = kept.heard;
  clock.seen = kept.seen || 0;
  clock.moved = Boolean(kept.moved);
  watch();
}

/**
 * The server said what time it is; `asked` and `answered` are the phone's, in ms.
 * @returns {{offset: number, heard: number, seen: number, moved: boolean}} to be kept
 */
export function heardServer(serverAt, asked, answered) {
  clock.offset = Date.parse(serverAt) - (asked + answered) / 2;
  clock.heard = answered;
  clock.seen = answered;
  clock.moved = false;
  page = { wall: Date.now(), count: performance.now() };
  return keptClock();
}

/** What is to be kept of the clock. */
export function keptClock() {
  watch();
  return { offset: clock.offset, heard: clock.heard, seen: clock.seen, moved: clock.moved };
}

function watch() {
  const wall = Date.now();
  const counted = page.wall + (performance.now() - page.count);
  // Back by the page's own count, or behind a time that this phone has shown already: somebody set it. What the page
  // counted tells by how much; of a jump while it was shut nothing tells.
  if (wall < counted - JUMP_MS) {
    if (clock.offset !== null) clock.offset += counted - wall;
    page = { wall, count: performance.now() };
    clock.seen = wall;
  } else if (wall < clock.seen - JUMP_MS) {
    clock.moved = true;
  }
  clock.seen = Math.max(clock.seen, wall);
  return wall;
}

/** The time, by the server's clock as far as it was heard. */
export function now() {
  return new Date(watch() + (clock.offset || 0));
}

/**
 * The time with what it rests on: `at` corrected, `phone` as the phone said, `offset` in ms, `sure` whether the
 * server was heard and the phone's clock not set back since.
 */
export function stamp() {
  const wall = watch();
  return {
    at: new Date(wall + (clock.offset || 0)).toISOString(),
    phone: new Date(wall).toISOString(),
    offset: clock.offset === null ? null : Math.round(clock.offset),
    sure: clock.offset !== null && !clock.moved,
  };
}
