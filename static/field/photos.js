/**
 * Photos of what is being recorded: each is kept on the phone under the SHA-256 of its bytes together with the draft
 * that names it, and leaves only when the office has named that digest as stored.
 */

import { button, clear, h, size } from "./dom.js";
import { StorageFull } from "./idb.js";
import { newId } from "./ids.js";
import { sent } from "./marks.js";
import { drawMarkup } from "./markup.js";

export const MOST_BYTES = 25_000_000;
const TAKEN = "image/jpeg,image/png,image/heic,image/webp";
const KINDS = /^image\/(jpeg|png|hei[cf]|webp)$/;
const NAMES = /\.(jpe?g|png|hei[cf]|webp)$/i;
const hex = (buffer) => Array.from(new Uint8Array(buffer), (byte) => byte.toString(16).padStart(2, "0")).join("");

/** The SHA-256 of a blob, as the office writes digests. */
export const digestOf = async (blob) => hex(await crypto.subtle.digest("SHA-256", await blob.arrayBuffer()));

/** What is wrong with a file as a photo, as a sentence; empty where nothing is. */
export function wrongWith(file) {
  if (!KINDS.test(file.type) && !NAMES.test(file.name)) return `${file.name} is no JPEG, PNG, HEIC or WebP.`;
  if (!file.size) return `${file.name} is empty.`;
  return file.size > MOST_BYTES ? `${file.name} has ${size(file.size)}; a photo may have 25 MB.` : "";
}

// Acts on a thing that is there already: the photos are of that.
const OF_GIVEN = {
  "rework-done": "rework", "rework-looked": "rework", "notice-read": "notice", "notice-outcome": "notice",
  "lot-end": "lot",
};
const OF_MADE = {
  nonconformance: "nonconformance", rework: "rework", attendance: "decision", "station-reading": "record",
  lot: "lot",
};

/**
 * What the photos of a form are of, as the office names it: {of, thing}, the thing by its id where it is there already;
 * null where the form is of nothing that has photos.
 */
export function subjectOf(form, given = {}) {
  const there = OF_GIVEN[form.name];
  if (there) return { of: there, thing: given[there] };
  const made = form.group ? OF_MADE[form.name] : "record";
  // An office that gives attendances ids of its own cannot be told what their photos are of.
  return made && (!form.group || form.body.includes("id")) ? { of: made } : null;
}

/**
 * The photos of a draft as items of the queue, under the ids that they have from the start: each follows its record,
 * and what is drawn over it follows the photo.
 */
function photoItems(photos, { of, thing, after, place }) {
  return photos.flatMap(({ id, digest, caption, marks, marks_id }) => {
    const photo = {
      id, address: "/api/photos/", needs: [after || thing], photos: [digest],
      words: { title: "Photo", place },
      body: { id, of, thing, caption: caption || "", file: { $photo: digest } },
    };
    const shapes = sent(marks?.shapes || []);
    if (!shapes.length) return [photo];
    const over = { address: `/api/photos/${id}/mark/`, needs: [id], body: { after: 0, shapes } };
    return [photo, { id: marks_id, ...over, words: { title: "Marks on a photo", place } }];
  });
}

/** The ids of the items that a draft's photos became. */
export const itemsOf = (photos) => photos.flatMap(({ id, marks_id }) => [id, marks_id]).filter(Boolean);

/**
 * The photos of a draft with a way to take more, on whatever screen; `draft.values.kept_photos` names them.
 * @returns {{leave: function(): void, items: function({of: string, thing: string, after: ?string, place: string}):
 *   Promise<Array<Object>>}} `items` gives what is sent of them: `thing` is what they are of, `after` the item that
 *   they follow where that is another
 */
export function drawPhotos(root, app, draft) {
  let taking = null;
  const shown = [];
  // By digest: what a full phone could not keep, and the photos whose drawing is open.
  const unkept = new Map();
  const opened = new Set();
  const list = h("ul", { class: "plain-list shots" });
  const faults = h("div");
  const input = h("input", {
    type: "file", accept: TAKEN, capture: "environment", multiple: true, id: "shots-take",
    // Whoever keeps the record meanwhile waits for this, by `items`.
    onchange: () => void (taking = take().catch(app.failed)),
  });
  async function take() {
    clear(faults);
    const files = [...input.files];
    const wrong = files.map(wrongWith).filter(Boolean);
    if (wrong.length) faults.append(h("p", { class: "fault", role: "alert" }, wrong.join(" ")));
    try {
      for (const file of files) if (!wrongWith(file)) await keep(file);
    } finally {
      input.value = "";
      await draw();
    }
    if (unkept.size) app.failed(new StorageFull());
  }
  async function keep(file) {
    const digest = await digestOf(file);
    if (unkept.has(digest) || (draft.values.kept_photos || []).some((photo) => photo.digest === digest)) return;
    try {
      await lay(digest, file);
    } catch (error) {
      if (!(error instanceof StorageFull)) throw error;
      unkept.set(digest, file);
    }
  }
  /** Both on the disk, the bytes and the draft that names them, or neither. */
  async function lay(digest, file) {
    const photo = { id: newId(), digest, caption: "", marks_id: newId(), marks: null };
    draft.values.kept_photos = [...(draft.values.kept_photos || []), photo];
    try {
      await draft.save([{ digest, name: file.name, blob: new Blob([file], { type: file.type }) }]);
    } catch (error) {
      draft.values.kept_photos = draft.values.kept_photos.filter((each) => each !== photo);
      throw error;
    }
    unkept.delete(digest);
    // The head tells how much room is left.
    app.queue.changed();
  }
  async function layAll() {
    for (const [digest, file] of unkept) await lay(digest, file);
  }
  async function drop(photo) {
    draft.values.kept_photos = draft.values.kept_photos.filter((each) => each !== photo);
    await draft.save();
    await forget(app, [photo.digest]);
    await draw();
    input.focus();
  }
  async function draw() {
    const photos = draft.values.kept_photos || [];
    const rows = [];
    for (const [index, photo] of photos.entries()) rows.push(await row(photo, index + 1));
    clear(list).append(...rows, ...[...unkept].map(([digest, file]) => unkeptRow(digest, file)));
  }
  function pictured(blob) {
    const address = URL.createObjectURL(blob);
    shown.push(address);
    return address;
  }
  /** One that a full phone could not keep: on this screen, until there is room or it is saved as a file. */
  function unkeptRow(digest, file) {
    const address = pictured(file);
    const again = () => layAll().then(draw, async (error) => (await draw(), app.failed(error)));
    return h("li", { "data-digest": digest, "data-unkept": true },
      h("img", { src: address, alt: file.name, class: "shot" }),
      h("p", { class: "fault" }, "The phone's storage is full: this photo is on this screen alone. Make room and try " +
        "again, or save it as a file, before you leave."),
      h("div", { class: "shot-does" },
        button("Try again", () => void again(), {}),
        h("a", { class: "button button-quiet", href: address, download: file.name }, "Save as a file"),
        button("Take out", () => (unkept.delete(digest), draw().catch(app.failed)), {
          class: "button button-quiet", "aria-label": `Take out ${file.name}`,
        })));
  }
  async function row(photo, number) {
    const kept = await app.store.get("photos", photo.digest);
    const address = kept ? pictured(kept.blob) : "";
    const caption = h("input", {
      type: "text", maxlength: 200, value: photo.caption, placeholder: "What it shows",
      "aria-label": `What photo ${number} shows`,
      oninput: () => {
        photo.caption = caption.value;
        draft.save().catch(app.failed);
      },
    });
    return h("li", { "data-digest": photo.digest },
      address ? h("img", { src: address, alt: `Photo ${number}`, class: "shot" }) : "It is no longer on this phone.",
      caption,
      h("div", { class: "shot-does" },
        button("Take out", () => drop(photo).catch(app.failed), {
          class: "button button-quiet", "aria-label": `Take out photo ${number}`,
        })),
      address && over(photo, number, address));
  }
  /** What is drawn over it, opened by whoever wants to; it stays open while the rest is drawn anew. */
  function over(photo, number, address) {
    photo.marks_id ||= newId();
    const told = h("summary", {});
    const tell = () => {
      const many = photo.marks?.shapes.length || 0;
      told.textContent = many ? `Drawn over photo ${number}: ${many}` : `Draw over photo ${number}`;
    };
    const place = h("div", { class: "markup" });
    const keepMarks = (marks) => {
      photo.marks = marks;
      tell();
      return draft.save();
    };
    const open = () => {
      opened[box.open ? "add" : "delete"](photo.digest);
      if (place.childElementCount || !box.open) return;
      drawMarkup(place, app, { address, name: `Photo ${number}`, kept: photo.marks, keep: keepMarks });
    };
    const box = h("details", { class: "shot-over", open: opened.has(photo.digest), ontoggle: open }, told, place);
    tell();
    return box;
  }
  root.append(
    h("section", { class: "field", "data-photos": true },
      h("label", { for: input.id }, "Photos", h("span", { class: "quiet" }, " (may be empty)")),
      h("p", { class: "hint" }, "JPEG, PNG, HEIC or WebP, up to 25 MB each. They are sent after the record."),
      input, faults, list));
  draw().catch(app.failed);
  const hold = (event) => unkept.size && event.preventDefault();
  window.addEventListener("beforeunload", hold);
  return {
    leave() {
      window.removeEventListener("beforeunload", hold);
      shown.forEach((address) => URL.revokeObjectURL(address));
      if (unkept.size) app.say("A photo that the full phone could not keep was left behind.", "bad");
    },
    async items(what) {
      await taking;
      // Nothing is sent without a photo that is still on this screen alone.
      await layAll();
      return photoItems(draft.values.kept_photos || [], what);
    },
  };
}

/** Takes photos off the phone that no draft, nothing in the queue and nothing set aside names any more. */
export async function forget(app, digests) {
  await app.store.transact(["photos", "queue", "drafts", "receipts"], async (tx) => {
    for (const digest of digests) if (!(await named(tx, digest))) await tx.remove("photos", digest);
  });
}

/** Whether anything on the phone still names a photo. */
export async function named(tx, digest, but = "") {
  let found = false;
  await tx.each("queue", (row) => ((found = row.id !== but && row.photos.includes(digest)), !found));
  if (!found) {
    const of = (values) => (values?.kept_photos || []).some((photo) => photo.digest === digest);
    await tx.each("drafts", (row) => ((found = of(row.values)), !found));
  }
  if (!found) await tx.each("receipts", (row) => ((found = Boolean(row.row?.photos?.includes(digest))), !found));
  return found;
}
