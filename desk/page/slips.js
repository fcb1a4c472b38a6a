// Slips: where a station's lines of the document are written. Each change is made when the field is left or Enter is pressed; there is
// nothing to save.
//
//   renew(section, "run", desk);      // puts the station's slips under its head, or brings them up to date
//   write("run", "run", "wanted");    // opens the slip and puts the cursor into the field

import { SLIPS, read, written } from "./fields.js";

/**
 * @typedef {import("./desk.js").Desk} Desk
 * @typedef {import("./desk.js").Where} Where
 * @typedef {import("./fields.js").Field} Field
 * @typedef {import("./fields.js").Slip} Slip
 */

/** A field that leaves the page while it is written in tells a change, which no hand has made. */
let redrawing = false;
/** What a field on the page is for. @type {WeakMap<Element, Field>} */
const fieldsOf = new WeakMap();
/** A slip as it stands on the page, and what it was made from. @typedef {{from: string, node: HTMLElement}} Made */
/** Each station's slips. @type {Map<string, {place: HTMLElement, made: Map<Slip, Made>}>} */
const places = new Map();

/**
 * @param {Element} section the station's section on the sheet
 * @param {string} station
 * @param {Desk} desk
 */
export function renew(section, station, desk) {
  const body = section.querySelector(".body");
  const slips = SLIPS[station];
  if (!body || !slips || !desk.standing?.document) return;
  const { place, made } = places.get(station) ?? { place: details(), made: new Map() };
  if (place.parentElement !== body) body.prepend(place);
  const wanted = slips.filter((slip) => !slip.needs || desk.standing?.document?.[slip.needs]);
  const from = new Map(wanted.map((slip) => [slip, JSON.stringify([linesOf(slip, desk.standing?.document), choicesOf(slip, desk)])]));
  // Slips whose lines stayed as they were keep their fields: only the others are made anew.
  const anew = wanted.filter((slip) => made.get(slip)?.from !== from.get(slip));
  const gone = [...made].filter(([slip]) => !from.has(slip));
  if (anew.length === 0 && gone.length === 0) return;
  const old = anew.map((slip) => made.get(slip)?.node);
  const kept = old.flatMap((node) => (node ? unsent(node) : []));
  const caret = old.some((node) => node?.contains(document.activeElement)) ? caretOf(document.activeElement) : null;
  redrawing = true;
  for (const [slip, { node }] of gone) {
    node.remove();
    made.delete(slip);
  }
  for (const slip of anew) {
    const before = made.get(slip)?.node;
    const unfolded = before?.matches("details.rare[open]") ? [slip.title] : [];
    const node = folded(slip, slip.list ? list(slip, station, desk) : single(slip, station, desk), unfolded, desk);
    if (before) before.replaceWith(node);
    else (wanted.slice(0, wanted.indexOf(slip)).reverse().map((one) => made.get(one)?.node).find(Boolean) ?? place.firstElementChild)?.after(node);
    made.set(slip, { from: from.get(slip) ?? "", node });
  }
  redrawing = false;
  places.set(station, { place, made });
  for (const [id, value, before] of kept) {
    const input = /** @type {HTMLInputElement | null} */ (document.getElementById(id));
    if (!input || input.value === value) continue;
    const now = input.dataset.before ?? "";
    const field = fieldsOf.get(input);
    // It was sent and is written, in the document's own way.
    if (field && now !== before && written(field, read(field, value)) === now) continue;
    input.value = value;
    input.dataset.typed = "";
    // Whoever writes here must hear that the line is another by now, before Enter writes over it.
    if (now !== before) desk.warn(`\u201c${input.labels?.[0]?.textContent ?? id}\u201d was changed elsewhere to ${now === "" ? "nothing" : `\u201c${now}\u201d`} while you wrote \u201c${value}\u201d. Enter writes yours, Escape takes the other.`);
  }
  caret?.();
}

/** What a slip shows of the document. @param {Slip} slip @param {any} document */
function linesOf(slip, document) {
  const table = slip.table.split(".")[0];
  const needed = slip.needs ? Boolean(document?.[slip.needs]) : true;
  return [needed, table === "" ? slip.fields.map((field) => document?.[field.key.split(".")[0]]) : document?.[table]];
}

/**
 * Puts focus and caret back where they were: whoever writes while the sheet is redrawn goes on writing. What was marked stays marked, so that the
 * next letter takes its place instead of standing beside it.
 * @param {Element | null} active @returns {(() => void) | null}
 */
function caretOf(active) {
  if (!active?.id) return null;
  const { id } = active;
  const text = active instanceof HTMLInputElement && active.type === "text" ? active : null;
  const marked = text ? [text.selectionStart ?? 0, text.selectionEnd ?? 0] : [0, 0];
  const all = text !== null && text.value.length > 0 && marked[0] === 0 && marked[1] === text.value.length;
  return () => {
    const now = document.getElementById(id);
    if (!now) return;
    if (document.activeElement !== now) now.focus({ preventScroll: true });
    if (!text || !(now instanceof HTMLInputElement)) return;
    if (all) now.select();
    else now.setSelectionRange(marked[0], marked[1]);
  };
}

/**
 * Opens a station's slip and puts the cursor into a field; without one, into the first.
 * @param {string} station @param {string} [table] @param {string} [key]
 */
export function write(station, table, key) {
  const place = places.get(station)?.place;
  if (!place) return;
  place.setAttribute("open", "");
  const inputs = /** @type {HTMLElement[]} */ ([...place.querySelectorAll("input,select")]);
  const wanted = inputs.find((input) => input.dataset.table === table && input.dataset.key === key) ?? inputs.find((input) => input.dataset.table === table) ?? inputs[0];
  wanted?.closest("details.rare")?.setAttribute("open", "");
  wanted?.focus();
  wanted?.scrollIntoView({ block: "center" });
}

function details() {
  const place = element("details", { class: "slips" }, [element("summary", {}, ["Write on this section"])]);
  place.addEventListener("input", (event) => event.target instanceof HTMLElement && (event.target.dataset.typed = ""));
  return place;
}

/** What a person has typed and not yet sent must outlive a redraw: field, text, what stood there before. @param {HTMLElement} place @returns {[string, string, string][]} */
function unsent(place) {
  const inputs = /** @type {(HTMLInputElement | HTMLSelectElement)[]} */ ([...place.querySelectorAll("input:not([type=file]),select")]);
  return inputs.filter((input) => input.dataset.typed !== undefined && input.value !== (input.dataset.before ?? "")).map((input) => [input.id, input.value, input.dataset.before ?? ""]);
}

/**
 * What few parts have stays folded until it is written.
 * @param {Slip} slip @param {HTMLElement} fields @param {string[]} unfolded summaries that the person has unfolded @param {Desk} desk
 */
function folded(slip, fields, unfolded, desk) {
  const here = valueAt(desk.standing?.document, slip.table);
  if (!slip.rare || (Array.isArray(here) ? here.length > 0 : here !== undefined && here !== null)) return fields;
  const fold = element("details", { class: "rare" }, [element("summary", {}, [slip.title]), fields]);
  fold.toggleAttribute("open", unfolded.includes(slip.title));
  return fold;
}

/** @param {Slip} slip @param {Desk} desk */
function choicesOf(slip, desk) {
  return slip.fields.map((field) => choices(field, desk));
}

/** @param {Field} field @param {Desk} desk @returns {string[]} */
function choices(field, desk) {
  if (field.kind === "yesno") return ["yes", "no"];
  if (typeof field.choices === "function") return /** @type {any} */ (field.choices)(desk.standing?.document, desk.standing?.result);
  return field.choices ?? [];
}

/** @param {any} table @param {string} key */
function valueAt(table, key) {
  return key.split(".").reduce((place, step) => place?.[step], table);
}

/** @param {Slip} slip @param {string} station @param {Desk} desk */
function single(slip, station, desk) {
  const path = slip.table === "" ? [] : slip.table.split(".");
  const values = path.length === 0 ? desk.standing?.document : valueAt(desk.standing?.document, slip.table);
  const prefix = `${station}-${path.join("-")}`;
  const legend = element("legend", {}, [slip.title]);
  if (slip.required && values === undefined) {
    const form = whole(slip, prefix, "Write it", desk, (value) => [{ path, value }]);
    return element("fieldset", {}, [legend, form]);
  }
  const parts = slip.fields.map((field) => line(field, slip, path, valueAt(values, field.key), prefix, desk));
  if (slip.required && values !== undefined) {
    const away = element("button", { type: "button" }, [`Take out: ${slip.title.toLowerCase()}`]);
    away.addEventListener("click", () => desk.edit([{ path, value: null }]));
    parts.push(away);
  }
  return element("fieldset", {}, [legend, ...parts]);
}

/** @param {Slip} slip @param {string} station @param {Desk} desk */
function list(slip, station, desk) {
  const entries = /** @type {any[]} */ (valueAt(desk.standing?.document, slip.table) ?? []);
  const table = slip.table.split(".");
  const rows = entries.map((entry, index) => {
    /** @type {Where[]} */
    const path = [...table, entry.name === undefined ? index : { name: entry.name }];
    const name = entry.name ?? entry.part ?? `number ${index + 1}`;
    const away = element("button", { type: "button" }, [`Take out ${name}`]);
    away.addEventListener("click", () => desk.edit([{ path, value: null }]));
    const fields = slip.fields.filter((field) => !field.part || entry[field.key.split(".")[0]]);
    const lines = fields.map((field) => line(field, slip, path, valueAt(entry, field.key), `${station}-${table.join("-")}-${index}`, desk));
    return element("div", { class: "entry", role: "group", "aria-label": `${slip.title}: ${name}` }, [...lines, away]);
  });
  const parts = [element("legend", {}, [slip.title]), ...rows];
  if (slip.add) {
    parts.push(whole(slip, `${station}-${table.join("-")}-new`, slip.add, desk, (value) => {
      if (!slip.fields.some((field) => field.key === "name")) return [{ path: [...table, entries.length], value }];
      const name = typeof value.name === "string" ? value.name : `${slip.table} ${entries.length + 1}`;
      return [{ path: [...table, { name }], value: { ...value, name } }, ...(slip.table === "known" && entries.length === 0 && !value.of ? firstRod(name, desk) : [])];
    }));
  }
  if (slip.table === "photo") parts.push(photoAdder(desk));
  return element("fieldset", {}, parts);
}

/** The first known rod is most likely the one that the photos show. @param {string} name @param {Desk} desk @returns {import("./desk.js").Edit[]} */
function firstRod(name, desk) {
  const photos = /** @type {any[]} */ (desk.standing?.document?.photo ?? []);
  return photos.filter((photo) => !photo.shaft).map((photo) => ({ path: ["photo", { name: photo.name }, "shaft"], value: name }));
}

/**
 * A new entry or table is written whole before it is sent: half of one would be an error in the document.
 * @param {Slip} slip @param {string} prefix @param {string} words @param {Desk} desk
 * @param {(value: Record<string, unknown>) => import("./desk.js").Edit[]} edits
 */
function whole(slip, prefix, words, desk, edits) {
  /** @type {Map<Field, HTMLInputElement | HTMLSelectElement>} */
  const inputs = new Map();
  const lines = slip.fields.filter((field) => !field.part).map((field) => {
    const input = entry(field, slip, "", `${prefix}-${field.key.replace(".", "-")}`, desk);
    inputs.set(field, input);
    return labelled(field, input, desk);
  });
  const form = element("form", { class: "entry new" }, [...lines, element("button", { type: "submit" }, [words])]);
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    /** @type {Record<string, unknown>} */
    const value = {};
    for (const [field, input] of inputs) {
      const written = read(field, input.value);
      if (written === null) continue;
      const [key, below] = field.key.split(".");
      value[key] = below ? { .../** @type {any} */ (value[key]), [below]: written } : written;
    }
    const before = [...inputs.values()].map((input) => input.value);
    // What was sent is no longer unsent: the redraw must not bring it back into the fields of the next entry.
    for (const input of inputs.values()) input.value = "";
    if (!(await desk.edit(edits(value)))) [...inputs.values()].forEach((input, n) => (input.value = before[n]));
  });
  return form;
}

/** @param {Desk} desk */
function photoAdder(desk) {
  const input = /** @type {HTMLInputElement} */ (element("input", { type: "file", accept: "image/jpeg,image/png", multiple: "", id: "photo-file", "data-table": "files", "data-key": "photo" }, []));
  input.addEventListener("change", async () => {
    for (const file of input.files ?? []) await desk.addPhoto(file);
    input.value = "";
  });
  return element("p", { class: "line long" }, [element("label", { for: "photo-file" }, ["Add photos (or drop them anywhere on the sheet)"]), input]);
}

/** @param {Field} field @param {Slip} slip @param {Where[]} path @param {any} value @param {string} prefix @param {Desk} desk */
function line(field, slip, path, value, prefix, desk) {
  const before = written(field, value);
  const input = entry(field, slip, before, `${prefix}-${field.key.replace(".", "-")}`, desk);
  /** What was sent last: Enter and leaving the field both send, once. */
  let sent = before;
  const send = async () => {
    if (redrawing || input.value.trim() === sent) return;
    sent = input.value.trim();
    const done = await desk.edit([{ path: [...path, ...field.key.split(".")], value: read(field, input.value) }]);
    input.setAttribute("aria-invalid", String(!done));
    if (!done) sent = before;
  };
  input.addEventListener("change", send);
  // Enter sends also what outlived a redraw, Escape brings back what stands in the document.
  input.addEventListener("keydown", (event) => {
    const key = /** @type {KeyboardEvent} */ (event).key;
    if (key === "Enter") send();
    if (key === "Escape") input.value = before;
  });
  return labelled(field, input, desk);
}

/** @param {Field} field @param {HTMLInputElement | HTMLSelectElement} input @param {Desk} desk */
function labelled(field, input, desk) {
  const parts = [element("label", { for: input.id }, [field.label]), input];
  return element("p", { class: field.wide ? "line long" : "line" }, field.kind === "file" ? [...parts, fileOf(field, input, desk)] : parts);
}

/** Brings a file into the folder and writes its name. @param {Field} field @param {HTMLInputElement | HTMLSelectElement} input @param {Desk} desk */
function fileOf(field, input, desk) {
  const file = /** @type {HTMLInputElement} */ (element("input", { type: "file", accept: ".csv,.txt,.cgats,.it8,.tsv,text/plain,text/csv", id: `${input.id}-file`, "aria-label": `${field.label}: bring the file here` }, []));
  file.addEventListener("change", async () => {
    const name = file.files?.[0] ? await desk.addReading(file.files[0]) : null;
    file.value = "";
    if (name === null) return;
    input.value = name;
    for (const event of ["input", "change"]) input.dispatchEvent(new Event(event, { bubbles: true }));
  });
  return file;
}

/**
 * @param {Field} field @param {Slip} slip @param {string} value @param {string} id @param {Desk} desk
 * @returns {HTMLInputElement | HTMLSelectElement}
 */
function entry(field, slip, value, id, desk) {
  const made = control(field, slip, value, id, desk);
  fieldsOf.set(made, field);
  return made;
}

/**
 * @param {Field} field @param {Slip} slip @param {string} value @param {string} id @param {Desk} desk
 * @returns {HTMLInputElement | HTMLSelectElement}
 */
function control(field, slip, value, id, desk) {
  const facts = { id, "data-table": slip.table, "data-key": field.key, "data-before": value };
  if (field.kind !== "choice" && field.kind !== "yesno") {
    const input = /** @type {HTMLInputElement} */ (element("input", { ...facts, type: "text", autocomplete: "off", spellcheck: "false", placeholder: field.hint ?? "" }, []));
    if (field.kind === "number") input.setAttribute("inputmode", "decimal");
    input.value = value;
    return input;
  }
  const all = choices(field, desk);
  const offered = all.includes(value) || value === "" ? all : [value, ...all];
  const select = /** @type {HTMLSelectElement} */ (element("select", facts, ["", ...offered].map((choice) => element("option", { value: choice }, [choice === "" ? "not said" : choice]))));
  select.value = value;
  return select;
}

/**
 * A slider from 0, with its words.
 * @param {string} words @param {number} most @param {number} step @param {(value: number) => void} put @param {() => void} then
 * @returns {[HTMLElement, HTMLInputElement]}
 */
export function sliderOf(words, most, step, put, then) {
  const input = /** @type {HTMLInputElement} */ (element("input", { type: "range", min: "0", max: String(most), step: String(step), value: "0" }, []));
  input.value = "0";
  input.addEventListener("input", () => {
    put(Number(input.value));
    then();
  });
  return [element("label", { class: "slider" }, [words, input]), input];
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
