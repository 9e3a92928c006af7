// The screens of the app: one import and one name a screen.

import file from "./file.js";
import phone from "./phone.js";
import send from "./send.js";

export const screens = [
  file,
  phone,
  send,
];
