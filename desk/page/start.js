// An empty folder: the sheet's first page asks what is to be made. Gone as soon as there is a job.
//
//   startPage(sheet, desk, desk.standing);

import { element } from "./slips.js";

/**
 * The first sheet of a job takes seconds, may be stopped, and may meet an error: the page says so where the sheet will stand.
 * @param {HTMLElement} sheet
 * @param {import("./desk.js").Desk} desk
 * @param {import("./desk.js").Standing} standing
 */
function first(sheet, desk, standing) {
  const before = sheet.querySelector(":scope > .first");
  const words = standing.result !== null ? "" : standing.working !== null ? "The sheet is being made for the first time. Photos are read, outlines found, the profile fitted; this takes some seconds. It can be stopped: what is written stays." : standing.stopped ? "The making of the first sheet was stopped. \u201cMake it\u201d takes it up again." : standing.problems.length > 0 ? "There is no sheet yet: the job has the error that is told above. Undo the last change, or correct job.toml by hand; this page sees it at once." : "";
  if (before?.getAttribute("data-words") === words) return;
  before?.remove();
  if (words === "") return;
  const title = element("header", { class: "masthead" }, [element("p", { class: "kind" }, ["Job sheet"]), element("h1", {}, [standing.document?.title ?? "A job"])]);
  sheet.prepend(element("div", { class: "first", "data-words": words }, [title, element("p", {}, [words])]));
}

/**
 * @param {HTMLElement} sheet
 * @param {import("./desk.js").Desk} desk
 * @param {import("./desk.js").Standing} standing
 */
export function startPage(sheet, desk, standing) {
  const before = sheet.querySelector(":scope > .start");
  if (!standing.empty) {
    // The example goes with the questions.
    if (before) for (const piece of sheet.querySelectorAll(":scope > [data-piece]")) piece.remove();
    before?.remove();
    first(sheet, desk, standing);
    return;
  }
  if (before) {
    const told = /** @type {HTMLElement} */ (before.querySelector("#example"));
    const words = exampleWords(standing);
    if (told.textContent !== words) told.textContent = words;
    return;
  }
  const title = /** @type {HTMLInputElement} */ (element("input", { id: "start-title", type: "text", autocomplete: "off", placeholder: "Focus knob, bench enlarger" }, []));
  const rod = /** @type {HTMLInputElement} */ (element("input", { id: "start-rod", type: "text", autocomplete: "off", placeholder: "1/4 in, 6 mm" }, []));
  const form = element("form", { class: "entry new" }, [element("p", { class: "line long" }, [element("label", { for: "start-title" }, ["What is made, for which machine?"]), title]), element("p", { class: "line" }, [element("label", { for: "start-rod" }, ["The rod it sits on, if you know its size"]), rod]), element("button", { type: "submit" }, ["Start this job"])]);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    desk.start({ title: title.value, rod: rod.value });
  });
  const photos = /** @type {HTMLInputElement} */ (element("input", { id: "start-photos", type: "file", accept: "image/jpeg,image/png", multiple: "" }, []));
  photos.addEventListener("change", async () => {
    for (const file of photos.files ?? []) await desk.addPhoto(file);
  });
  const demo = element("button", { type: "button" }, ["Lay out the demo job"]);
  demo.addEventListener("click", () => desk.start({ demo: true }));
  sheet.replaceChildren(element("div", { class: "start" }, [
    element("header", { class: "masthead" }, [element("p", { class: "kind" }, ["Job sheet"]), element("h1", {}, ["Nothing is on this sheet yet"])]),
    element("p", {}, ["A job needs photographs of the part with the rod it sits on, and the rod\u2019s size. Everything else can come later. Nothing is written into the folder before you start."]),
    element("section", {}, [element("h2", {}, ["Start your own"]), form, element("p", { class: "line" }, [element("label", { for: "start-photos" }, ["or start with photos (drop them anywhere on this page)"]), photos])]),
    element("section", {}, [element("h2", {}, ["Or look at one that is done"]), element("p", {}, ["The focus knob of a bench enlarger, from four photographs and one known size. It is laid out in this folder; change what you like, every change can be undone."]), element("p", {}, [demo]), element("p", { id: "example", role: "status" }, [exampleWords(standing)])]),
  ]));
}

/** The demo job's sheet stands below as an example. @param {import("./desk.js").Standing} standing */
function exampleWords(standing) {
  if (standing.coming) return "Its sheet is being worked out from the photographs, to be shown below; this takes some seconds.";
  return standing.pieces.length > 0 ? "Below is its sheet, to be read. Once it is laid out it can be worked on." : "";
}
