// What is drawn over a photo: steps taken one after the other, and what then is drawn, said and sent.
import { createInterface } from "node:readline";
import * as marks from "./marks.js";

for await (const line of createInterface({ input: process.stdin })) {
  const { steps, width, height } = JSON.parse(line);
  let now = marks.begin();
  for (const [name, ...how] of steps) now = marks[name](now, ...how);
  const drawn = now.shapes.map((mark) => marks.drawn(mark, width, height));
  const told = { shapes: now.shapes, drawn, words: now.shapes.map(marks.inWords), sent: marks.sent(now.shapes) };
  console.log(JSON.stringify({ ...told, past: now.past.length }));
}
