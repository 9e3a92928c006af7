// Fills told forms as somebody would who types the sample, and says what body comes of each. Lines of JSON in and out.
import { createInterface } from "node:readline";
import { bodyOf, faultsOf, startOf, typedOf } from "./told.js";
import { momentsOf, localOf, sentMoment } from "./moments.js";

const asks = {
  /** Filled with a sample over what the form starts from, then read. */
  filled({ form, sample, of }) {
    const values = { ...startOf(form, { now: Date.parse(of.now), zone: of.zone, unit: of.unit }), ...typedOf(form, sample, of.zone) };
    return bodyOf(form, values, of);
  },
  read: ({ form, values, of }) => bodyOf(form, values, of),
  started: ({ form, from }) => startOf(form, from),
  answered: ({ form, errors }) => faultsOf(errors, form),
  moment: ({ local, zone }) => momentsOf(local, zone).map((at) => [sentMoment(at, zone), localOf(at, zone)]),
};

for await (const line of createInterface({ input: process.stdin })) {
  const { ask, ...given } = JSON.parse(line);
  console.log(JSON.stringify(asks[ask](given)));
}
