// The live sheet: swaps the pieces that changed, puts the slips and photo tables into their stations, and minds keys, drops and news.

import { Desk } from "./desk.js";
import { PhotoTable } from "./photo.js";
import { element, renew } from "./slips.js";

const desk = new Desk();
const sheet = /** @type {HTMLElement} */ (document.getElementById("sheet"));
const news = /** @type {HTMLElement} */ (document.getElementById("news"));
const problems = /** @type {HTMLElement} */ (document.getElementById("problems"));
const undo = /** @type {HTMLButtonElement} */ (document.getElementById("undo"));
const redo = /** @type {HTMLButtonElement} */ (document.getElementById("redo"));

/** The HTML of each piece as last put on the page: an unchanged piece is left alone, with focus and all. @type {Map<string, string>} */
const shown = new Map();
/** Photo tables that are open, by the photo's name. @type {Set<string>} */
const openTables = new Set();

desk.addEventListener("standing", show);
desk.addEventListener("busy", () => {
  document.documentElement.toggleAttribute("data-busy", desk.waiting > 0);
  if (desk.waiting > 0) news.textContent = "Working it out\u2026";
  else if (news.textContent === "Working it out\u2026") news.textContent = "";
});
desk.addEventListener("news", (event) => {
  const { text, trouble } = /** @type {CustomEvent} */ (event).detail;
  news.textContent = text;
  news.classList.toggle("trouble", trouble);
});

function show() {
  const standing = desk.standing;
  if (!standing) return;
  undo.disabled = !standing.can_undo;
  redo.disabled = !standing.can_redo;
  problems.hidden = standing.problems.length === 0;
  problems.textContent = standing.problems.join("\n");
  const focus = document.activeElement?.id;
  for (const [id, html] of standing.pieces) {
    let piece = sheet.querySelector(`:scope > [data-piece="${id}"]`);
    if (!piece) {
      piece = element("div", { "data-piece": id }, []);
      sheet.append(piece);
    }
    if (shown.get(id) !== html) {
      piece.innerHTML = html;
      shown.set(id, html);
    }
    const section = piece.querySelector(":scope > section.station");
    if (section) {
      renew(section, id, desk);
      if (id === "outline") photoTables(section);
    }
  }
  document.title = `${standing.document?.title ?? "Job"} \u2013 job sheet`;
  if (focus && document.activeElement?.id !== focus) document.getElementById(focus)?.focus();
}

/** @param {Element} section */
function photoTables(section) {
  const body = section.querySelector(".body");
  body?.querySelector(":scope > .photo-tables")?.remove();
  const photos = /** @type {any[]} */ (desk.standing?.document?.photo ?? []);
  const tables = photos.map((entry) => {
    const found = desk.standing?.result?.photos?.find((/** @type {any} */ photo) => photo.name === entry.name);
    const place = element("details", {}, [element("summary", {}, [`Put marks on photo ${entry.name}`])]);
    const fill = () => {
      if (place.hasAttribute("open") && !place.querySelector(".photo-table")) place.append(new PhotoTable(desk, entry, found).place);
    };
    place.addEventListener("toggle", () => {
      if (place.hasAttribute("open")) openTables.add(entry.name);
      else openTables.delete(entry.name);
      fill();
    });
    if (openTables.has(entry.name)) {
      place.setAttribute("open", "");
      fill();
    }
    return place;
  });
  if (tables.length > 0) body?.prepend(element("div", { class: "photo-tables slips" }, tables));
}

undo.addEventListener("click", () => desk.undo());
redo.addEventListener("click", () => desk.redo());
document.addEventListener("keydown", (event) => {
  const writing = event.target instanceof HTMLInputElement && event.target.type === "text";
  if (writing || !(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z") return;
  event.preventDefault();
  if (event.shiftKey) desk.redo();
  else desk.undo();
});
document.addEventListener("dragover", (event) => event.preventDefault());
document.addEventListener("drop", async (event) => {
  event.preventDefault();
  for (const file of event.dataTransfer?.files ?? []) await desk.addPhoto(file);
});

// The key has done its work: it need not stand in the address, where a glance or a history would keep it.
if (location.search.includes("key=")) history.replaceState(null, "", location.pathname + location.hash);
desk.listen();
desk.load();
