/** How much room the phone has left for the app, and from when on the person is warned. */

import { size } from "./dom.js";

/** Used so much of what the browser gives, or so little left: some photos more and nothing can be kept. */
const MUCH = 0.8;
const LITTLE_BYTES = 100_000_000;
// Of a phone's camera (common practice, no source).
const A_PHOTO_BYTES = 4_000_000;

/**
 * The warning, with what to do; empty where there is room, or the browser does not say.
 * @param {?{usage: number, quota: number}} estimate as `navigator.storage.estimate` gives it
 * @param {number} waiting how many things are not sent
 */
export function roomTold(estimate, waiting) {
  if (!estimate?.quota) return "";
  const left = Math.max(0, estimate.quota - estimate.usage);
  if (estimate.usage / estimate.quota < MUCH && left >= LITTLE_BYTES) return "";
  const many = Math.floor(left / A_PHOTO_BYTES);
  const photos = many < 1 ? "not enough for a photo" : `about ${many} ${many === 1 ? "photo" : "photos"} of 4 MB`;
  const does = waiting
    ? "Send what waits; what the office has leaves the phone. With no signal save it to a file, and"
    : "Nothing waits to be sent:";
  const room = `The phone has ${size(left)} left for this app, ${photos}.`;
  return `${room} ${does} make room on the phone (photos, other apps).`;
}
