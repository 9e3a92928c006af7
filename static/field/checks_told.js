/** The checks of a verdict in sentences, of the phone's rules and of the office's answer alike. Pure. */

/** Each check of an answer as a sentence with limit and what was observed. */
export function checksTold(answer) {
  return (answer.result?.checks || []).map((check) => {
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

/** Why a verdict is what it is: what is not met, else what is open or met; and the notes. */
export function whyOf(answer) {
  const checks = checksTold(answer);
  const telling = checks.filter((check) => check.passed === false);
  return [...(telling.length ? telling : checks).map((check) => check.words), ...(answer.result?.notes || [])];
}

function plain(value) {
  return value === null || value === undefined
    ? "–"
    : typeof value === "number"
      ? String(Number(value.toFixed(2)))
      : value;
}
