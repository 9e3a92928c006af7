/**
 * The rules on the phone: a port of what the office judges by, held equal to it by tests/field on generated cases.
 * Pure: no page, no clock. What is told here is a help while one measures; the record's verdict is made at the office.
 */

export { Refused } from "./checks.js";
export { climateDoubts, climateLimits, dewPoint } from "./climate.js";
export { covers, judgeGaugeCheck, judgeInstrumentCheck } from "./gauge.js";
export { inUnit, toDecimal, toHumidity, toNm } from "./numbers.js";
export { nextSpot, soFar } from "./plan.js";
export { correctionOf, gradeOf, settledCorrection } from "./profile.js";
export { recoatWindow, rowsFor, windowState } from "./recoat.js";
export { accuracyAt, checkSlips, meantOf } from "./slips.js";
export {
  areaOfSpot, judgeSpot, judgeThickness, limitsOfOne, needsOf, spotsOf, stillWanted, wantedOf,
} from "./thickness.js";
