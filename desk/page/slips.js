// Slips: where a station's lines of the document are written. Each change is made when the field is left or Enter is pressed; there is
// nothing to save.
//
//   renew(section, "run", desk);      // puts the station's slips under its head, or brings them up to date

import { SLIPS, read, written } from "./fields.js";

/**
 * @typedef {import("./desk.js").Desk} Desk
 * @typedef {import("./desk.js").Where} Where
 * @typedef {import("./fields.js").Field} Field
 * @typedef {import("./fields.js").Slip} Slip
 */

/** Which slips are open, over redraws. @type {Set<string>} */
const open = new Set();

/**
 * @param {Element} section the station's section on the sheet
 * @param {string} station
 * @param {Desk} desk
 */
export function renew(section, station, desk) {
  const body = section.querySelector(".body");
  if (!body || !desk.standing?.document) return;
  body.querySelector(":scope > .slips")?.remove();
  const slips = SLIPS[station];
  if (!slips) return;
  const place = element("details", { class: "slips" }, [element("summary", {}, ["Write on this section"])]);
  if (open.has(station)) place.setAttribute("open", "");
  place.addEventListener("toggle", () => (place.hasAttribute("open") ? open.add(station) : open.delete(station)));
  for (const slip of slips) place.append(slip.list ? list(slip, station, desk) : single(slip, station, desk));
  body.prepend(place);
}

/** @param {Slip} slip @param {string} station @param {Desk} desk */
function single(slip, station, desk) {
  const path = slip.table === "" ? [] : slip.table.split(".");
  const values = path.reduce((place, key) => place?.[key], /** @type {any} */ (desk.standing?.document));
  return element("fieldset", {}, [element("legend", {}, [slip.title]), ...slip.fields.map((field) => line(field, path, values?.[field.key], `${station}-${slip.table}`, desk))]);
}

/** @param {Slip} slip @param {string} station @param {Desk} desk */
function list(slip, station, desk) {
  const entries = /** @type {any[]} */ (desk.standing?.document?.[slip.table] ?? []);
  const rows = entries.map((entry, index) => {
    /** @type {Where[]} */
    const path = [slip.table, entry.name === undefined ? index : { name: entry.name }];
    const away = element("button", { type: "button" }, [`Take out ${entry.name ?? `number ${index + 1}`}`]);
    away.addEventListener("click", () => desk.edit([{ path, value: null }]));
    const lines = slip.fields.map((field) => line(field, path, entry[field.key], `${station}-${slip.table}-${index}`, desk));
    return element("div", { class: "entry", role: "group", "aria-label": `${slip.title}: ${entry.name ?? index + 1}` }, [...lines, away]);
  });
  const parts = [element("legend", {}, [slip.title]), ...rows];
  if (slip.add) parts.push(adder(slip, station, entries, desk));
  if (slip.table === "photo") parts.push(photoAdder(desk));
  return element("fieldset", {}, parts);
}

/** A new entry is written whole before it is added: half an entry would be an error in the document. */
/** @param {Slip} slip @param {string} station @param {any[]} entries @param {Desk} desk */
function adder(slip, station, entries, desk) {
  /** @type {Map<Field, HTMLInputElement | HTMLSelectElement>} */
  const inputs = new Map();
  const lines = slip.fields.map((field) => {
    const input = entry(field, "", `${station}-${slip.table}-new-${field.key}`, desk);
    inputs.set(field, input);
    return labelled(field, input);
  });
  const add = element("button", { type: "submit" }, [slip.add ?? "Add"]);
  const form = element("form", { class: "entry new" }, [...lines, add]);
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    /** @type {Record<string, unknown>} */
    const value = {};
    for (const [field, input] of inputs) {
      const written = read(field, input.value);
      if (written !== null) value[field.key] = written;
    }
    const name = typeof value.name === "string" ? value.name : `${slip.table} ${entries.length + 1}`;
    await desk.edit([{ path: [slip.table, { name }], value: { ...value, name } }]);
  });
  return form;
}

/** @param {Desk} desk */
function photoAdder(desk) {
  const input = /** @type {HTMLInputElement} */ (element("input", { type: "file", accept: "image/jpeg,image/png", multiple: "", id: "photo-file" }, []));
  input.addEventListener("change", async () => {
    for (const file of input.files ?? []) await desk.addPhoto(file);
  });
  return element("p", { class: "line" }, [element("label", { for: "photo-file" }, ["Add photos (or drop them anywhere on the sheet)"]), input]);
}

/** @param {Field} field @param {Where[]} path @param {any} value @param {string} prefix @param {Desk} desk */
function line(field, path, value, prefix, desk) {
  const before = written(field, value);
  const input = entry(field, before, `${prefix}-${field.key}`, desk);
  const change = async () => {
    if (input.value.trim() === before) return;
    const done = await desk.edit([{ path: [...path, field.key], value: read(field, input.value) }]);
    input.setAttribute("aria-invalid", String(!done));
  };
  input.addEventListener("change", change);
  return labelled(field, input);
}

/** @param {Field} field @param {HTMLElement} input */
function labelled(field, input) {
  return element("p", { class: field.wide ? "line long" : "line" }, [element("label", { for: input.id }, [field.label]), input]);
}

/**
 * @param {Field} field @param {string} value @param {string} id @param {Desk} desk
 * @returns {HTMLInputElement | HTMLSelectElement}
 */
function entry(field, value, id, desk) {
  if (field.kind !== "choice") {
    const input = /** @type {HTMLInputElement} */ (element("input", { id, type: "text", autocomplete: "off", spellcheck: "false", placeholder: field.hint ?? "" }, []));
    if (field.kind === "number") input.setAttribute("inputmode", "decimal");
    input.value = value;
    return input;
  }
  const choices = typeof field.choices === "function" ? /** @type {any} */ (field.choices)(desk.standing?.document, desk.standing?.result) : field.choices ?? [];
  const all = choices.includes(value) || value === "" ? choices : [value, ...choices];
  const select = /** @type {HTMLSelectElement} */ (element("select", { id }, ["", ...all].map((choice) => element("option", { value: choice }, [choice === "" ? "not said" : choice]))));
  select.value = value;
  return select;
}

/**
 * @param {string} name @param {Record<string, string>} attributes @param {(Node | string)[]} children
 * @returns {HTMLElement}
 */
export function element(name, attributes, children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...children);
  return made;
}
