/**
 * What was recorded on this phone and has not reached the office yet, as things of the pack: a lot begun an hour
 * ago can be ended, a batch that came this morning can be mixed.
 */

import { contentOf } from "./pack.js";

// The address a thing was sent to, the list of the pack it belongs in, and how it looks there.
const KNOWN = [
  [
    /\/lots\/begin\/$/,
    "lots",
    (body) => ({
      number: "(waits here)",
      of: body.activity,
      activity: body.activity,
      coat: body.coat || null,
      crew: body.crew,
      begun_at: body.begun_at,
      ended_at: body.ended_at || null,
      areas: body.places.map((place) => place.area),
      mixes: [],
    }),
  ],
  [
    /\/api\/batches\/$/,
    "batches",
    (body) => ({
      product: body.product,
      component: body.component,
      number: body.number,
      unit: body.unit,
      left: body.received,
      fit: "waits here to be sent",
      doubts: [],
      party: body.party || null,
    }),
  ],
  [
    /\/api\/mixes\/$/,
    "mixes",
    (body, pack) => ({
      number: "(waits here)",
      coat: body.coat || null,
      mixed_at: body.mixed_at,
      usable_from: null,
      usable_until: null,
      used_from: body.used_from || null,
      products: [
        ...new Set(body.parts.map((part) => pack.batches.find((each) => each.id === part.batch)?.product || "paint")),
      ],
    }),
  ],
  [
    /\/api\/rework\/$/,
    "rework",
    (body) => ({
      area: body.area,
      coat: body.coat || null,
      what: body.what,
      place: body.place,
      state: "open",
      opened_at: null,
    }),
  ],
  [
    /\/api\/drawing-notes\/$/,
    "drawing_notes",
    (body, pack) => ({
      drawing: pack.drawings?.find((each) => each.revision_id === body.revision)?.id || null,
      number: "(waits here)",
      x: body.x ?? null,
      y: body.y ?? null,
      text: body.text,
      area: body.area || null,
      at: body.at,
    }),
  ],
];

/**
 * The pack with what waits in the queue among its lists.
 * @returns {Promise<{pack: Object, waiting: Set<string>}>} `waiting` are the ids that the office does not know yet
 */
export async function withOwn(app) {
  const pack = { ...contentOf(app.pack) };
  const waiting = new Set();
  for (const row of await app.queue.list()) {
    const known = KNOWN.find(([address]) => address.test(row.address));
    if (!known || row.project !== app.project.id) continue;
    const body = await app.queue.body(row.id);
    if (!body?.id) continue;
    const [, name, told] = known;
    pack[name] = [{ id: body.id, ...told(body, pack) }, ...(pack[name] || [])];
    waiting.add(body.id);
  }
  return { pack, waiting };
}

/** Which of the ids in what is sent must reach the office first. */
export function needed(waiting, address, body) {
  const text = `${address} ${JSON.stringify(body)}`;
  return [...waiting].filter((id) => id !== body.id && text.includes(id));
}
