/**
 * The rules on the phone: a port of what the office judges by, held equal to it by tests/field on generated cases.
 * Pure: no page, no clock. What is told here is a help while one measures; the record's verdict is made at the office.
 */

export { Refused } from "./checks.js";
export { inUnit, toDecimal, toNm } from "./numbers.js";
export {
  areaOfSpot, judgeThickness, limitsOfOne, needsOf, spotsOf, stillWanted, wantedOf,
} from "./thickness.js";
