/**
 * A large photo goes in parts, so that a link that breaks costs no more than the part that was on its way: the office
 * says how much of it came, by the photo's digest, and the phone goes on from there.
 */

import { ask } from "./http.js";

export const PART_BYTES = 256 * 1024;
// The office tells where it stands when a part does not follow on it; so often in one go and no more.
const MOST_ASKED = 3;

/** Whether a photo goes in parts; a small one is sent whole. */
export const inParts = (blob) => blob.size > PART_BYTES;

/**
 * Sends of a photo what the office does not have yet.
 * @param {{digest: string, blob: Blob}} photo
 * @param {{csrf: string, version: string}} how as `ask` takes it
 * @param {function(number): Promise<boolean>} tell how many bytes are there now; false where it is wanted no more
 * @returns {Promise<?Object>} the last answer: 200 where all is there; 404 where this office takes no parts; null where
 *   it was wanted no more
 */
export async function sendParts({ digest, blob }, how, tell) {
  const address = `/api/photos/parts/${digest}/`;
  let answer = await ask(address, how);
  for (let asked = 0; answer.status === 200 || (answer.status === 409 && asked < MOST_ASKED); ) {
    if (answer.status === 409) {
      asked += 1;
      answer = await ask(address, how);
      continue;
    }
    const came = Number(answer.json?.came) || 0;
    if (!(await tell(came))) return null;
    if (came >= blob.size) return answer;
    const part = blob.slice(came, came + PART_BYTES);
    answer = await ask(`${address}?from=${came}`, { ...how, method: "PUT", body: part });
  }
  return answer;
}
