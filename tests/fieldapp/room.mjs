// What the head says of the room that is left. One question in, one answer out.
import { createInterface } from "node:readline";
import { roomTold } from "./room.js";

for await (const line of createInterface({ input: process.stdin })) {
  const { estimate, waiting } = JSON.parse(line);
  console.log(JSON.stringify(roomTold(estimate, waiting)));
}
