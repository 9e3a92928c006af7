// The pack fetched over links that break: what the store holds afterwards. One question in, one answer out.
import { createInterface } from "node:readline";
import { fetchPack, forgetOthers, keptPacks, packAge } from "./pack.js";

const PROJECT = "p1";

function store() {
  const rows = new Map();
  const tx = { put: (_, row) => rows.set(row.project, row), remove: (_, key) => rows.delete(key) };
  return {
    rows, get: async (_, key) => rows.get(key), put: async (_, row) => void rows.set(row.project, row),
    each: async (_, fn) => [...rows.values()].forEach(fn), transact: async (_, fn) => fn(tx),
    keys: async () => [...rows.keys()], remove: async (_, key) => void rows.delete(key),
  };
}

/** A server of one body: it breaks off after so many bytes of each answer, where `breaks` says so. */
function serve({ body, version, breaks = [] }, asked) {
  const bytes = new TextEncoder().encode(body);
  return async (address, { headers }) => {
    asked.push(headers);
    if (headers["If-None-Match"] === `"${version}"`) return answer(304, new Uint8Array(0), version, 0);
    const from = headers.Range && headers["If-Range"] === `"${version}"` ? Number(/(\d+)-/.exec(headers.Range)[1]) : 0;
    const most = breaks.shift();
    if (most === null) throw new TypeError("no network");
    return answer(from ? 206 : 200, bytes.slice(from), version, bytes.length, most);
  };
}

function answer(status, bytes, version, whole, most = Infinity) {
  const stream = new ReadableStream({
    pull(controller) {
      if (most < bytes.length) {
        if (!this.begun) controller.enqueue(bytes.slice(0, most));
        else controller.error(new TypeError("the link broke"));
        this.begun = true;
        return;
      }
      controller.enqueue(bytes);
      controller.close();
    },
  });
  return new Response(status === 304 ? null : stream, {
    status, headers: { ETag: `"${version}"`, "X-Plain-Length": String(whole), Date: "Wed, 04 Mar 2026 07:00:00 GMT" },
  });
}

for await (const line of createInterface({ input: process.stdin })) {
  const { steps } = JSON.parse(line);
  const app = { store: store() };
  const told = [];
  for (const step of steps) {
    const asked = [];
    globalThis.fetch = serve(step, asked);
    let outcome;
    try {
      outcome = await fetchPack(app, PROJECT);
    } catch (error) {
      outcome = `${error.constructor.name}: ${error.message}`;
    }
    const row = app.store.rows.get(PROJECT);
    told.push({
      outcome, asked, name: row?.content.name ?? null, parts: app.store.rows.size - (row ? 1 : 0),
      age: packAge(row, new Date("2026-03-04T07:05:00Z")), kept: (await keptPacks(app)).length,
    });
  }
  // Kept beside what broke off, then the project is theirs no more.
  for (const projects of [[{ id: PROJECT }], []]) {
    await forgetOthers(app.store, projects);
    told.push(app.store.rows.size);
  }
  console.log(JSON.stringify(told));
}
