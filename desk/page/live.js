// The live sheet: swaps the pieces that changed, puts slips, photo tables and rulers into their stations, and minds keys, drops and news.

import { BodyView } from "./body.js";
import { Desk } from "./desk.js";
import { PhotoTables } from "./photos.js";
import { underLight } from "./lights.js";
import { Piece } from "./pieces.js";
import { choosable } from "./sizes.js";
import { element, renew } from "./slips.js";
import { startPage } from "./start.js";
import { answerable } from "./wants.js";

/** What is printed for the bench: file, words. */
const PAPERS = [["sheet", "Job sheet"], ["steps", "Steps for the bench"], ["gauge", "Gauge to hold against a part"], ["label", "Labels"], ["record", "Record of the batch"]];
/** What the other files are for. @type {Record<string, string>} */
const FILES = {
  "part.step": "the exact body", "section.svg": "its drawing", "part.stl": "its mesh", "part.3mf": "its mesh, with its colour", "section.dxf": "its outline, for cutting", "part.glb": "its mesh, for looking at", "plate.3mf": "a full plate",
  "master.3mf": "the master for the mould", "master.stl": "the master for the mould", "fit-test.3mf": "the test bar for the fit", "fit-test.txt": "its list of bores", "learnt.toml": "what the batch teaches", "shelf.toml": "the colourants, for the next job",
};

const desk = new Desk();
const body = new BodyView(desk);
const tables = new PhotoTables(desk);
const sheet = byId("sheet");
const strip = byId("strip");
const news = byId("news");
const problems = byId("problems");
const undo = /** @type {HTMLButtonElement} */ (byId("undo"));
const redo = /** @type {HTMLButtonElement} */ (byId("redo"));

/** @param {string} id @returns {HTMLElement} */
function byId(id) {
  return /** @type {HTMLElement} */ (document.getElementById(id));
}

// What the page came with need not be sent again.
for (const piece of sheet.querySelectorAll(":scope > [data-piece]")) desk.known[piece.getAttribute("data-piece") ?? ""] = piece.getAttribute("data-stamp") ?? "";

desk.addEventListener("standing", show);
tables.addEventListener("still", show);
/** Words of trouble stay until something is done; words of work go when it is done. */
let trouble = "";
/** @type {ReturnType<typeof setTimeout> | undefined} */
let soon;

desk.addEventListener("news", (event) => {
  const { text, trouble: isTrouble } = /** @type {CustomEvent} */ (event).detail;
  trouble = isTrouble ? text : "";
  tell();
});
desk.addEventListener("step", (event) => tell(/** @type {CustomEvent} */ (event).detail.text));
desk.addEventListener("busy", () => {
  clearTimeout(soon);
  strip.toggleAttribute("data-busy", busy());
  // Quick answers need no words.
  if (desk.waiting > 0) soon = setTimeout(() => tell(), 200);
  else tell();
});

/** Whether the page is not yet what the job is. */
function busy() {
  return desk.waiting > 0 || Boolean(desk.standing?.working) || unseen.size > 0;
}

/** @param {string} [step] */
function tell(step) {
  const working = desk.standing?.working ?? null;
  strip.toggleAttribute("data-busy", busy());
  const words = trouble || (working !== null ? `Working it out: ${step ?? working}. Grey is the sheet as it was.` : desk.standing?.stopped ? (desk.standing.result ? "Stopped: the sheet below is older than what you wrote." : "Stopped before the first sheet was made. Nothing is lost.") : desk.waiting > 0 ? "Working it out\u2026" : "");
  if (news.textContent !== words) news.textContent = words;
  news.classList.toggle("trouble", trouble !== "");
  byId("stop").hidden = working === null;
  byId("again").hidden = !desk.standing?.stopped;
  sheet.classList.toggle("stale", working !== null || Boolean(desk.standing?.stopped));
}

function show() {
  const standing = desk.standing;
  // A redraw would take the picture out of the hand that drags on it; it comes when the hand lets go.
  if (!standing || tables.held) return;
  undo.disabled = !standing.can_undo;
  redo.disabled = !standing.can_redo;
  problems.hidden = standing.problems.length === 0;
  tellProblems(standing);
  offer(standing.problems.length > 0 ? [] : standing.files);
  startPage(sheet, desk, standing);
  const focus = document.activeElement?.id;
  const seen = new Set([...inSight].filter((place) => place.isConnected).map((place) => place.getAttribute("data-piece")));
  for (const one of standing.pieces) {
    const [id] = one;
    unseen.delete(id);
    if (seen.size === 0 || seen.has(id) || !sheet.querySelector(`:scope > [data-piece="${id}"]`)) piece(one);
    else unseen.set(id, one);
  }
  // The frame that shows the change comes first.
  if (unseen.size > 0) requestAnimationFrame(() => setTimeout(catchUp));
  document.title = standing.empty ? "A new job sheet" : `${standing.document?.title ?? "Job"} \u2013 job sheet`;
  if (focus && document.activeElement?.id !== focus) document.getElementById(focus)?.focus();
  tell();
}

/** What is wrong with the job, each with its way out; a program's own lines say "error:" and "hint:". @param {import("./desk.js").Standing} standing */
function tellProblems({ problems: lines, result, can_undo: undoable }) {
  const words = lines.join("\n");
  if (problems.dataset.words === words) return;
  problems.dataset.words = words;
  const head = element("p", {}, [element("b", {}, [result ? "The job has an error; the sheet below is the last that could be made." : "The job has an error."]), ` Correct it on the sheet or in job.toml${undoable ? ", or undo the last change" : ""}.`]);
  problems.replaceChildren(...(lines.length > 0 ? [head] : []), ...lines.map((line) => element("p", {}, [line.trim().replace(/^error: /, "").replace(/^hint: /, "Way out: ")])));
}

/** Pieces off the screen that wait for the frame to be shown, by name. @type {Map<string, import("./desk.js").Piece>} */
const unseen = new Map();

/**
 * Those above the screen in one frame, those below in the next: a browser redraws the rectangle round all that changed in a frame, and one round both
 * would be the whole screen.
 */
function catchUp() {
  if (tables.held) return;
  const focus = document.activeElement?.id;
  const above = [...unseen.values()].filter(([id]) => sides.get(id) === "above");
  for (const one of above.length > 0 ? above : [...unseen.values()]) {
    unseen.delete(one[0]);
    piece(one);
  }
  if (focus && document.activeElement?.id !== focus) document.getElementById(focus)?.focus({ preventScroll: true });
  if (unseen.size > 0) requestAnimationFrame(() => setTimeout(catchUp));
  else strip.toggleAttribute("data-busy", busy());
}

/** Places on the screen, told by the browser as they come and go: to measure them at each change would lay out the sheet once more. @type {Set<Element>} */
const inSight = new Set();
/** On which side of the screen a piece went off it, by its name. @type {Map<string, "above" | "below">} */
const sides = new Map();
const sight = new IntersectionObserver((all) => {
  for (const { target, isIntersecting, boundingClientRect } of all) {
    if (isIntersecting) inSight.add(target);
    else inSight.delete(target);
    sides.set(target.getAttribute("data-piece") ?? "", boundingClientRect.top < 0 ? "above" : "below");
  }
});

/** Papers to print and files to take, as far as they are made. @param {string[]} files */
function offer(files) {
  byId("prints").hidden = files.length === 0;
  const links = PAPERS.filter(([name]) => files.includes(`${name}.pdf`)).map(([name, words]) => element("li", {}, [`${words}: `, link(`${name}.pdf`, "A4", words), " ", link(`${name}-letter.pdf`, "Letter", words)]));
  const parts = files.filter((file) => !file.endsWith(".pdf")).map((file) => element("li", {}, [link(file, file, "Take the file"), FILES[file] ? ` ${FILES[file]}` : ""]));
  const list = byId("offered");
  if (list.dataset.files === files.join()) return;
  list.dataset.files = files.join();
  list.replaceChildren(...links, ...parts);
}

/** @param {string} file @param {string} words @param {string} of */
function link(file, words, of) {
  return element("a", { href: `/out/${file}`, "aria-label": `${of}: ${words}`, ...(file.endsWith(".pdf") ? {} : { download: file }) }, [words]);
}

/** The pieces of the sheet, by their places. @type {WeakMap<Element, Piece>} */
const pieces = new WeakMap();

/** @param {import("./desk.js").Piece} one */
function piece([id, stamp, html, parts]) {
  let place = sheet.querySelector(`:scope > [data-piece="${id}"]`);
  if (!place) {
    place = element("div", { "data-piece": id }, []);
    sheet.append(place);
  }
  const known = pieces.get(place) ?? new Piece(place);
  if (!pieces.has(place)) sight.observe(place);
  pieces.set(place, known);
  if (place.getAttribute("data-stamp") === stamp) {
    if (parts && known.stamps === "") known.adopt(parts);
  } else {
    if (parts) {
      if (!known.renew(id, parts)) return desk.forget(id);
    } else if (html !== null) known.swap(html);
    place.setAttribute("data-stamp", stamp);
  }
  const section = place.querySelector(":scope > section.station");
  if (!section) return;
  if (id === "outline") tables.renew(section);
  if (id === "sizes") choosable(section, desk);
  if (id === "body") body.renew(section);
  if (id === "colour" || id === "pot") underLight(section, id, desk);
  renew(section, id, desk);
  answerable(section, id, desk);
}

undo.addEventListener("click", () => desk.undo());
redo.addEventListener("click", () => desk.redo());
byId("stop").addEventListener("click", () => desk.stop());
byId("again").addEventListener("click", () => desk.again());
document.addEventListener("keydown", (event) => {
  const writing = event.target instanceof HTMLInputElement && event.target.type === "text" && event.target.value !== (event.target.dataset.before ?? "");
  const key = event.key.toLowerCase();
  if (writing || !(event.ctrlKey || event.metaKey) || (key !== "z" && key !== "y")) return;
  event.preventDefault();
  if (event.shiftKey || key === "y") desk.redo();
  else desk.undo();
});
document.addEventListener("dragover", (event) => {
  event.preventDefault();
  sheet.classList.add("over");
});
document.addEventListener("dragleave", (event) => event.relatedTarget ?? sheet.classList.remove("over"));
document.addEventListener("drop", async (event) => {
  event.preventDefault();
  sheet.classList.remove("over");
  for (const file of event.dataTransfer?.files ?? []) await desk.addPhoto(file);
});

// The key has done its work: it need not stand in the address, where a glance or a history would keep it.
if (location.search.includes("key=")) history.replaceState(null, "", location.pathname + location.hash);
desk.listen();
desk.load();
