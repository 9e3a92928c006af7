/**
 * The running figures of an area while it is measured: what stands so far, what is still wanted and where, and the
 * verdict if it ended now. Homes at the office: inspection/fieldwork/judging.py and views/sheets.py (`next_spot`).
 */

import { Refused } from "./checks.js";
import { areaOfSpot, judgeSpot, judgeThickness, spotsOf, stillWanted } from "./thickness.js";
import { READINGS_PER_SPOT, SPOTS_PER_AREA } from "./pa2.js";

/**
 * @param {object} rule what the pack tells of the coat
 * @param {object} wanted from `wantedOf`
 * @param {object[]} readings `{spot, order, value_nm, void_reason}`, none or more
 * @param {number} correction_nm subtracted from every reading, for the profile under the film
 * @returns {{count: number, mean_nm: ?number, lowest_nm: ?number, highest_nm: ?number, verdict: string,
 *   still_wanted: number, spots_left: number, next_spot: number, result: ?object, faults: object[],
 *   spots: {number: number, mean_nm: ?number, state: string, final: boolean, wants: number}[]}}
 *   `verdict` is empty where nothing can be judged yet, as `faults` say; a mean is that of the spot means where the
 *   rule judges spots
 */
export function soFar(rule, wanted, readings, correction_nm = 0) {
  const spots = spotsOf(readings), still_wanted = stillWanted(wanted, spots);
  const found = {
    count: 0, mean_nm: null, lowest_nm: null, highest_nm: null, verdict: "", result: null, faults: [], still_wanted,
    spots_left: spotsLeft(wanted, spots, still_wanted), next_spot: nextSpot(wanted, spots),
    spots: spots.map((spot) => spotShown(rule, wanted, spot, correction_nm)),
  };
  if (!spots.some((spot) => spot.shown_nm.length)) return found;
  try {
    const { count, mean_nm, lowest_nm, highest_nm, verdict, result } = judgeThickness(
      rule, wanted, readings, correction_nm);
    return { ...found, count, mean_nm, lowest_nm, highest_nm, verdict, result };
  } catch (wrong) {
    if (!(wrong instanceof Refused)) throw wrong;
    return { ...found, faults: wrong.faults };
  }
}

/** Where to measure next: a spot that still wants readings, else the first free number. */
export function nextSpot(wanted, spots) {
  const wanting = spots.find((spot) => wants(wanted, spot) > 0);
  if (wanting) return wanting.number;
  const taken = new Set(spots.map((spot) => spot.number));
  let number = 1;
  while (taken.has(number)) number += 1;
  return number;
}

/** How many readings a spot that was begun still wants. */
function wants(wanted, { shown_nm, repeat_missing }) {
  if (!wanted.areas) return Number(repeat_missing);
  return Math.max(READINGS_PER_SPOT - shown_nm.length, Number(repeat_missing));
}

/** Places still to be gone to: those not begun, and those begun that want more. */
function spotsLeft(wanted, spots, still_wanted) {
  if (!wanted.areas) return still_wanted;
  const areas = Math.max(wanted.areas, new Set(spots.map((spot) => areaOfSpot(spot.number))).size);
  return areas * SPOTS_PER_AREA - spots.length + spots.filter((spot) => wants(wanted, spot) > 0).length;
}

function spotShown(rule, wanted, spot, correction_nm) {
  const { number, shown_nm } = spot, wanting = wants(wanted, spot);
  if (!shown_nm.length) return { number, mean_nm: null, state: "within", final: false, wants: wanting };
  return { number, ...judgeSpot(rule, shown_nm, correction_nm), wants: wanting };
}
