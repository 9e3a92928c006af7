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

/** Each check of an answer as a sentence with limit and what was observed. */
export function checksTold(answer) {
  return (answer.result.checks || []).map((check) => {
    const mark = { true: "✓", false: "✗", null: "·" }[String(check.passed)];
    const where = check.where ? ` (${check.where})` : "";
    const said = check.passed === null ? "still open" : check.passed ? "met" : "not met";
    return {
      mark,
      passed: check.passed,
      words:
        `${check.sentence}${where} Limit ${plain(check.limit)} ${check.unit}, observed ${plain(check.observed)} ` +
        `${check.unit}: ${said}.`,
    };
  });
}

/** Why the phone says what it says, for beside the office's word: what is not met, else what is open or met. */
export function whyOf(answer) {
  const checks = checksTold(answer);
  const telling = checks.filter((check) => check.passed === false);
  return [...(telling.length ? telling : checks).map((check) => check.words), ...(answer.result.notes || [])];
}

function plain(value) {
  return value === null || value === undefined
    ? "–"
    : typeof value === "number"
      ? String(Number(value.toFixed(2)))
      : value;
}
