// Which addresses the app sends to. One question in, one answer out.
import { createInterface } from "node:readline";
import { isSentByApp } from "./sent_to.js";

for await (const line of createInterface({ input: process.stdin })) {
  process.stdout.write(`${JSON.stringify(isSentByApp(JSON.parse(line)))}\n`);
}
