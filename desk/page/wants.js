// Where a section names a line of job.toml, by which an assumption is changed or evidence is given, a button leads to its field on the sheet.
//
//   answerable(section, "body", desk);      // "[body] fit in job.toml." gets "Write it here"

import { SLIPS } from "./fields.js";
import { element, write } from "./slips.js";

/**
 * @param {Element} section
 * @param {string} station
 * @param {import("./desk.js").Desk} desk
 */
export function answerable(section, station, desk) {
  if (!desk.standing?.document) return;
  for (const code of section.querySelectorAll(".settle code, .want code")) {
    const holder = code.closest(".settle, .want");
    if (!holder || holder.querySelector(":scope > button.here")) continue;
    const text = code.textContent ?? "";
    const shown = text.includes("[[photo]]") && photoButton(text, desk);
    if (shown) {
      holder.append(shown);
      continue;
    }
    const place = placeOf(text, station);
    if (!place) continue;
    const button = element("button", { type: "button", class: "here" }, ["Write it here"]);
    button.setAttribute("aria-label", `Write it here: ${place.words}`);
    button.addEventListener("click", () => write(place.station, place.table, place.key));
    holder.append(button);
  }
}

/** What is wanted of a photo is given on the picture, or by a photo. @param {string} text @param {import("./desk.js").Desk} desk */
function photoButton(text, desk) {
  const fold = /axis|neutral|outline|region|patch/.test(text) && (desk.standing?.document?.photo ?? []).length > 0 ? document.querySelector(".photo-tables details") : null;
  const button = element("button", { type: "button", class: "here" }, [fold ? "Mark it on a photo" : "Add a photo"]);
  button.addEventListener("click", () => {
    if (!fold) return write("evidence", "files", "photo");
    fold.setAttribute("open", "");
    fold.scrollIntoView({ block: "start" });
    /** @type {HTMLElement | null} */ (fold.querySelector("summary"))?.focus();
  });
  return button;
}

/**
 * The field that "[body] fit" or "[[known]]\nvalue = ..." speaks of.
 * @param {string} text @param {string} station the station that speaks of it
 */
function placeOf(text, station) {
  const match = text.match(/\[+([\w.]+)\]+\s*([\w.]+)?/);
  if (!match) return null;
  const [, table, key] = match;
  const stations = [station, ...Object.keys(SLIPS)];
  for (const name of stations) {
    const slip = (SLIPS[name] ?? []).find((slip) => slip.table === table && (key === undefined || slip.fields.some((field) => field.key === key))) ?? null;
    if (slip) {
      const field = slip.fields.find((field) => field.key === key);
      return { station: name, table, key, words: field ? `${slip.title}, ${field.label}` : slip.title };
    }
  }
  return null;
}
