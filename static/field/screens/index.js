// The screens of the app: one import and one name a screen.

import check from "./check.js";
import climate from "./climate.js";
import drawing from "./drawing.js";
import file from "./file.js";
import phone from "./phone.js";
import send from "./send.js";
import thickness from "./thickness.js";
import form from "./form.js";
import forms from "./forms.js";
import packs from "./packs.js";
import places from "./places.js";
import today from "./today.js";

export const screens = [
  check,
  climate,
  drawing,
  file,
  phone,
  send,
  thickness,
  form,
  forms,
  packs,
  places,
  today,
];
