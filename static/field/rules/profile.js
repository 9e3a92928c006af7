/**
 * What is subtracted from thickness readings for the profile under the film, as a profile record gives it.
 * Source: ISO 19840, correction value by the grade of ISO 8503 (medium and coarse stored source, fine and unknown from
 * memory); SSPC-PA 2, May 2012, base metal reading (stored source).
 * Homes at the office: inspection/fieldwork/profile/correction.py and inspection/standards/profile.py. Only one way at
 * a time, or the profile is subtracted twice.
 */

import { less, mean, micrometres, ratio, rounded } from "./exact.js";
import { refuse } from "./checks.js";

const SEGMENTS_UM = { grit: [25, 60, 100, 150], shot: [25, 40, 70, 100] };
const GRADES = ["finer than fine", "fine", "medium", "coarse", "coarser than coarse"];
const CORRECTIONS_NM = { fine: 10000, medium: 25000, coarse: 40000, unknown: 25000 };
const FIELD = "profile_record";

/** The grade of a profile of a mean height in nm: from its comparator segment up to, but not including, the next. */
export function gradeOf(mean_nm, abrasive) {
  const height = micrometres(mean_nm);
  return GRADES[SEGMENTS_UM[abrasive].filter((segment) => !less(height, ratio(segment))).length];
}

/**
 * The correction that a profile record gives by the way the profile is dealt with.
 *
 * @param {{mean_nm: number, abrasive: ?string, base_metal_nm: ?number[]}} profile whole nanometres
 * @param {"correction"|"base_metal"|"adjusted"} way
 * @returns {{nm: number, words: string}}
 * @throws {Refused} where the record has none to give for this way
 */
export function correctionOf({ mean_nm, abrasive, base_metal_nm }, way) {
  if (way === "correction") return ofTable(mean_nm, abrasive);
  if (way !== "base_metal") {
    throw refuse("A gauge adjusted on the blasted surface takes no correction from a record.", FIELD);
  }
  if (!base_metal_nm || !base_metal_nm.length) {
    throw refuse("That record holds no base metal readings; add them by a correction of it.", FIELD);
  }
  const nm = Number(rounded(mean(base_metal_nm.map((reading) => ratio(reading)))));
  return { nm, words: `mean of ${base_metal_nm.length} base metal readings` };
}

function ofTable(mean_nm, abrasive) {
  const grade = abrasive ? gradeOf(mean_nm, abrasive) : "unknown";
  if (!(grade in CORRECTIONS_NM)) {
    throw refuse(`The profile of that record is ${grade}, for which the table of ISO 19840 has no value; find it on ` +
      "the surface (its Annex D) and type it.", FIELD);
  }
  return { nm: CORRECTIONS_NM[grade], words: `ISO 19840, profile ${grade}` };
}

/**
 * What is subtracted: as typed, or as the profile record gives it.
 *
 * @throws {Refused} where the two disagree
 */
export function settledCorrection({ way, correction_nm, profile }) {
  if (!profile) return correction_nm;
  const given = correctionOf(profile, way);
  if (correction_nm !== 0 && correction_nm !== given.nm) {
    const told = `${given.nm / 1000} µm (${given.words})`;
    throw refuse(`The profile record gives ${told}; leave this out, or choose no record.`, "correction");
  }
  return given.nm;
}
