// The bench view, for a phone beside the work: steps in large type with ticks, drops counted by tapping, timers, a photo from the bench.
// Ticks and counts are kept on the phone, by job and recipe: a changed recipe starts with clean ticks.

import { Desk } from "./desk.js";
import { element } from "./slips.js";

/** @typedef {{id: string, words: string, count?: number, minutes?: number}} Step */

const desk = new Desk();
const bench = /** @type {HTMLElement} */ (document.getElementById("bench"));
const news = /** @type {HTMLElement} */ (document.getElementById("news"));

desk.addEventListener("standing", show);
desk.addEventListener("news", (event) => {
  news.textContent = /** @type {CustomEvent} */ (event).detail.text;
});

/** What is ticked and counted. @type {Record<string, number>} */
let done = {};
let key = "";

function show() {
  const standing = desk.standing;
  if (!standing) return;
  if (standing.empty) return bench.replaceChildren(element("h1", {}, ["No job yet"]), element("p", {}, ["Start one on the sheet."]));
  if (!standing.result) return bench.replaceChildren(element("h1", {}, [standing.document?.title ?? "At the bench"]), element("p", {}, ["The sheet is still being made\u2026"]));
  const parts = stepsOf(standing.result);
  key = `bench ${standing.result.title} ${JSON.stringify(standing.result.pot?.scaled ?? standing.result.pot?.recipes?.[0] ?? "")}`;
  try {
    done = JSON.parse(localStorage.getItem(key) ?? "{}");
  } catch {
    done = {};
  }
  const focus = document.activeElement?.id;
  bench.replaceChildren(element("h1", {}, [standing.result.title]), ...parts.map(([title, steps]) => section(title, steps)), photo());
  if (focus) document.getElementById(focus)?.focus();
}

/** @param {any} result @returns {[string, Step[]][]} */
function stepsOf(result) {
  /** @type {[string, Step[]][]} */
  const parts = [];
  const recipe = result.pot?.recipes?.[0];
  const scaled = result.pot?.scaled;
  if (scaled) {
    const resin = scaled.resin_g ? `${scaled.resin_g.toFixed(1)} g (${scaled.resin_ml.toFixed(1)} mL)` : `${scaled.resin_ml.toFixed(1)} mL`;
    parts.push(["Pot for the run", [
      { id: "pot-resin", words: `Weigh in ${resin} of bare resin` },
      ...scaled.parts.map((/** @type {any} */ part) => ({ id: `pot-${part.colourant}`, words: `${part.colourant}: ${part.drops} drops${part.g ? `, ${part.g.toFixed(2)} g` : ""}`, count: part.drops })),
      { id: "pot-stir", words: "Stir until no streak is left, walls and bottom too", minutes: 3 },
      { id: "pot-rest", words: "Let it rest until the bubbles are gone", minutes: 10 } ]]);
  } else if (recipe) {
    parts.push(["Sample", [
      { id: "sample-resin", words: `${recipe.volume_ml} mL of bare resin` },
      ...Object.entries(recipe.drops).filter(([, n]) => n > 0).map(([name, n]) => ({ id: `sample-${name}`, words: `${name}: ${n} drops`, count: Number(n) })),
      { id: "sample-stir", words: "Stir until no streak is left", minutes: 3 } ]]);
  }
  if (result.run) {
    const each = result.run.per_load ?? [];
    parts.push(["Run", each.length > 0 ? each.map((/** @type {number} */ n, /** @type {number} */ i) => ({ id: `load-${i}`, words: `Load ${i + 1}: ${n} parts. Stir the vat before it.` })) : [{ id: "load", words: `Start ${result.run.start} parts` }]]);
  }
  const sizes = (result.dimensions ?? []).filter((/** @type {any} */ d) => d.kind !== "position").slice(0, 8);
  if (sizes.length > 0) parts.push(["Check the first parts", sizes.map((/** @type {any} */ d) => ({ id: `check-${d.name}`, words: `${d.name}: ${d.used_mm.toFixed(2)} mm` }))]);
  if (parts.length === 0) parts.push(["Nothing to do yet", []]);
  return parts;
}

/** @param {string} title @param {Step[]} steps */
function section(title, steps) {
  const left = () => steps.filter((step) => !done[step.id]).length;
  const heading = element("h2", {}, [title]);
  const said = element("p", { class: "left" }, [leftWords(left(), steps.length)]);
  return element("section", {}, [heading, said, element("ol", {}, steps.map((step) => one(step, () => (said.textContent = leftWords(left(), steps.length)))))]);
}

/** @param {number} left @param {number} all */
function leftWords(left, all) {
  return all === 0 ? "The sheet waits for evidence." : left === 0 ? "All done." : `${left} of ${all} to do`;
}

/** @param {Step} step @param {() => void} changed */
function one(step, changed) {
  const box = /** @type {HTMLInputElement} */ (element("input", { type: "checkbox", id: `tick-${step.id}` }, []));
  box.checked = Boolean(done[step.id]);
  box.addEventListener("change", () => put(step.id, box.checked ? 1 : 0, changed));
  const parts = [element("label", { for: box.id }, [box, element("span", {}, [step.words])])];
  if (step.count) parts.push(counter(step, box, changed));
  if (step.minutes) parts.push(timer(step.minutes, box));
  return element("li", {}, parts);
}

/** A large field to tap once a drop. @param {Step} step @param {HTMLInputElement} box @param {() => void} changed */
function counter(step, box, changed) {
  const id = `${step.id}#`;
  const all = step.count ?? 0;
  const words = () => {
    const now = done[id] ?? 0;
    return now > all ? `${now} of ${all}: ${now - all} too many` : `${now} of ${all}`;
  };
  const tap = element("button", { type: "button", class: "tap", id: `tap-${step.id}` }, []);
  const less = element("button", { type: "button", "aria-label": `One less, ${step.words}` }, ["One less"]);
  const show = (/** @type {string} */ text) => {
    tap.textContent = text;
    tap.classList.toggle("over", (done[id] ?? 0) > all);
    tap.setAttribute("aria-label", `${text}: one drop more, ${step.words}`);
  };
  show(words());
  const count = (/** @type {number} */ by) => {
    const now = Math.max(0, (done[id] ?? 0) + by);
    put(id, now, () => show(words()));
    if (now >= all !== box.checked) {
      box.checked = now >= all;
      put(step.id, box.checked ? 1 : 0, changed);
      if (box.checked) navigator.vibrate?.(200);
    }
  };
  tap.addEventListener("click", () => count(1));
  less.addEventListener("click", () => count(-1));
  return element("p", { class: "count" }, [tap, less]);
}

/** @param {number} minutes @param {HTMLInputElement} box */
function timer(minutes, box) {
  const button = element("button", { type: "button" }, [`Start ${minutes} minutes`]);
  /** @type {ReturnType<typeof setInterval> | undefined} */
  let ticking;
  button.addEventListener("click", () => {
    if (ticking) {
      clearInterval(ticking);
      ticking = undefined;
      button.textContent = `Start ${minutes} minutes`;
      return;
    }
    const until = Date.now() + minutes * 60000;
    const tick = () => {
      const left = Math.max(0, Math.ceil((until - Date.now()) / 1000));
      button.textContent = left > 0 ? `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")} left; tap to stop` : "Time is up";
      if (left > 0) return;
      clearInterval(ticking);
      ticking = undefined;
      navigator.vibrate?.([300, 100, 300]);
      news.textContent = "Time is up";
      box.focus();
    };
    ticking = setInterval(tick, 500);
    tick();
  });
  return element("p", { class: "count" }, [button]);
}

/** @param {string} id @param {number} value @param {() => void} changed */
function put(id, value, changed) {
  done[id] = value;
  localStorage.setItem(key, JSON.stringify(done));
  changed();
}

function photo() {
  const input = /** @type {HTMLInputElement} */ (element("input", { type: "file", id: "bench-photo", accept: "image/jpeg,image/png", capture: "environment" }, []));
  input.addEventListener("change", async () => {
    for (const file of input.files ?? []) if (await desk.addPhoto(file)) news.textContent = "The photo is on the sheet.";
    input.value = "";
  });
  return element("section", {}, [element("h2", {}, ["A photo from the bench"]), element("p", {}, [element("label", { for: "bench-photo" }, ["It is laid into the job as evidence."]), input])]);
}

if (location.search.includes("key=")) history.replaceState(null, "", location.pathname);
desk.listen();
desk.load();
