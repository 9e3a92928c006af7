// Which places want measuring, by what a pack knows.
import { createInterface } from "node:readline";
import { wanting } from "./places.js";

for await (const line of createInterface({ input: process.stdin })) {
  const found = wanting(JSON.parse(line).pack);
  console.log(JSON.stringify(found.map(({ area, coat, why, held }) => [area.code, coat.name, why, held])));
}
