// The screens of the app: one import and one name a screen.

import check from "./check.js";
import climate from "./climate.js";
import file from "./file.js";
import phone from "./phone.js";
import send from "./send.js";
import thickness from "./thickness.js";

export const screens = [
  check,
  climate,
  file,
  phone,
  send,
  thickness,
];
