/** What is told of a measurement while it runs and at its end, by the rules on the phone. Pure. */

import { figure, shown } from "./measuring.js";
import { Refused, judgeThickness } from "./rules/index.js";

/** The verdict as the pages word it. */
export const VERDICTS = {
  pass: "Pass",
  fail: "Fail",
  incomplete: "More readings wanted",
  "not judged": "Not judged",
};

/**
 * What the rule says of the readings as they are.
 * @returns {{answer: object|null, figures: string, trouble: string}} `figures` for a line while measuring; `trouble`
 *   where nothing can be judged
 */
export function soFar(m, set) {
  if (!m.readings.some((one) => !one.void_reason)) return { answer: null, figures: "", trouble: "" };
  try {
    const answer = judgeThickness(set.rule, set.wanted, m.readings, set.correction_nm);
    const figures =
      `Mean ${figure(Math.round(answer.mean_nm), set)}, ${figure(answer.lowest_nm, set)} to ` +
      `${shown(answer.highest_nm, set)}` +
      (answer.verdict === "fail" ? " · Fails so far" : "");
    return { answer, figures, trouble: "" };
  } catch (wrong) {
    if (!(wrong instanceof Refused)) throw wrong;
    return { answer: null, figures: "", trouble: wrong.faults.map((fault) => fault.message).join("; ") };
  }
}
