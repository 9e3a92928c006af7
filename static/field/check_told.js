/** What the rules on the phone say of a check of a gauge, shim by shim, and what looks like a slip. Pure. */

import { figure, shown } from "./measuring.js";
import { Refused, accuracyAt, checkSlips, judgeGaugeCheck } from "./rules/index.js";

/** What an uncertainty is stated at where the pack does not say: the usual factor (JCGM 100, 6.2.1). */
const USUAL_FACTOR = 2;

/**
 * The verdict on what is read so far, a line for each shim, a question for each likely slip; null without a reading.
 * @returns {{verdict: string, lines: string[], questions: string[], kept: object}|null} `kept` is what a measurement
 *   has to know of the check
 */
export function judgeCheck(pack, gauge, set, c) {
  const points = set.points
    .map((point, at) => ({ point, readings_nm: c.readings[at] }))
    .filter(({ readings_nm }) => readings_nm.length);
  if (!points.length) return null;
  const given = points.map(({ point, readings_nm }) => ({ standards: point.shims.map(stated), readings_nm }));
  try {
    const answer = judgeGaugeCheck(gauge, given, pack.combination || undefined);
    const { verdict, verified_from_nm, verified_to_nm } = answer;
    const lines = answer.result.points.map((found, at) => lineOf(points[at].point, found, set));
    return {
      verdict,
      lines: [...lines, ...answer.result.notes],
      questions: slips(gauge, set, points, answer.result.points),
      kept: { verdict, verified_from_nm, verified_to_nm },
    };
  } catch (wrong) {
    if (!(wrong instanceof Refused)) throw wrong;
    return { verdict: "", lines: wrong.faults.map((fault) => fault.message), questions: [], kept: {} };
  }
}

function stated(standard) {
  const { certified_nm: value_nm, expanded_uncertainty_nm, coverage_factor } = standard;
  return { value_nm, expanded_uncertainty_nm, coverage_factor: coverage_factor || USUAL_FACTOR };
}

function lineOf(point, found, set) {
  const nm = (um) => Math.round(um * 1000);
  const mean = found.mean_um < 0 ? `−${figure(nm(-found.mean_um), set)}` : figure(nm(found.mean_um), set);
  const error = `${found.error_um < 0 ? "−" : "+"}${figure(nm(Math.abs(found.error_um)), set)}`;
  return (
    `${point.name}: mean ${mean}, error ${error}, allowed ±${shown(nm(found.tolerance_um), set)}: ` +
    (found.verdict === "pass" ? "within." : "outside.")
  );
}

/** As the office asks: a reading belongs to the shim under the probe as far as the check's own tolerance reaches. */
function slips(gauge, set, points, judged) {
  const shims = set.points.map((point) => shim(gauge, point));
  return points.flatMap(({ point, readings_nm }, at) => {
    const under = { ...shim(gauge, point), within_nm: judged[at].tolerance_um * 1000 };
    return checkSlips(readings_nm, under, shims, accuracyAt(gauge, point.certified_nm), undefined, set.unit);
  });
}

function shim(gauge, { name, certified_nm, shims }) {
  const uncertain_nm = shims.reduce((sum, one) => sum + (one.expanded_uncertainty_nm || 0), 0);
  const within_nm = accuracyAt(gauge, certified_nm) + uncertain_nm;
  return { name, value_nm: certified_nm, within_nm };
}
