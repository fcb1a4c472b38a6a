// The rulers, taken in hand: a click on a blade takes that round size for the body, a click on the taken one gives it back to the odds. The
// same by buttons below each ruler.
//
//   choosable(section, desk);

import { element } from "./slips.js";

/**
 * @typedef {import("./desk.js").Desk} Desk
 * @typedef {{label: string, mm: number, odds: number}} Candidate
 * @typedef {{name: string, value_mm: number, sigma_mm: number, candidates: Candidate[], chosen?: string}} Dimension
 */

/** Candidates less likely than this get no button; the slip takes any size. */
const LEAST_ODDS = 0.005;
/** Most buttons under a ruler. */
const MOST = 6;
/** A click farther from a blade than this, mm on paper, is meant for none. */
const REACH_MM = 4;

/** @param {Element} section @param {Desk} desk */
export function choosable(section, desk) {
  const dimensions = /** @type {Dimension[]} */ (desk.standing?.result?.dimensions ?? []);
  for (const figure of section.querySelectorAll(".body > figure")) {
    const caption = figure.querySelector("figcaption");
    const dimension = dimensions.find((one) => caption?.textContent?.toLowerCase().startsWith(`${one.name.toLowerCase()}:`));
    if (!dimension || !caption) continue;
    const places = round(dimension).filter((candidate) => candidate.odds >= LEAST_ODDS || candidate.label === dimension.chosen).slice(0, MOST);
    const before = figure.querySelector(":scope > .candidates");
    const from = JSON.stringify([dimension, decision(dimension, desk)]);
    if (before?.getAttribute("data-from") === from) continue;
    before?.remove();
    if (places.length === 0) continue;
    const buttons = places.map((candidate, n) => button(dimension, candidate, n, desk));
    caption.after(element("p", { class: "candidates", role: "group", "aria-label": `Round sizes for ${dimension.name}`, "data-from": from }, [element("span", {}, ["Take"]), ...buttons]));
    for (const svg of figure.querySelectorAll("svg")) {
      svg.classList.add("ruler");
      svg.onclick = (event) => {
        const candidate = under(svg, event, dimension);
        if (candidate) take(dimension, candidate, desk);
      };
    }
  }
}

/** @param {Dimension} dimension @param {Candidate} candidate @param {number} n @param {Desk} desk */
function button(dimension, candidate, n, desk) {
  const decided = decision(dimension, desk)?.choose !== undefined && dimension.chosen === candidate.label;
  const made = element("button", { type: "button", id: `take-${dimension.name.replace(/\W+/g, "-")}-${n}`, "aria-pressed": String(decided) }, [candidate.label, " ", element("span", { class: "odds" }, [percent(candidate.odds)])]);
  made.title = decided ? "Your choice. Once more gives it back to the odds." : `Take ${candidate.label} for the ${dimension.name}`;
  made.addEventListener("click", () => take(dimension, candidate, desk));
  return made;
}

/** Writes [[size]] choose, or takes it back if it stands there. @param {Dimension} dimension @param {Candidate} candidate @param {Desk} desk */
function take(dimension, candidate, desk) {
  const entry = { name: dimension.name };
  const known = decision(dimension, desk);
  if (known?.choose !== undefined && dimension.chosen === candidate.label) {
    const rest = Object.keys(known).filter((key) => key !== "name" && key !== "choose");
    return desk.edit([{ path: rest.length > 0 ? ["size", entry, "choose"] : ["size", entry], value: null }]);
  }
  return desk.edit([known ? { path: ["size", entry, "choose"], value: candidate.label } : { path: ["size", entry], value: { ...entry, choose: candidate.label } }]);
}

/** @param {Dimension} dimension @param {Desk} desk @returns {Record<string, unknown> | undefined} */
function decision(dimension, desk) {
  return desk.standing?.document?.size?.find((/** @type {any} */ entry) => entry.name === dimension.name);
}

/**
 * The candidate whose blade is nearest to a click on the ruler. The picture's scale is that of the sheet's ruler.
 * @param {SVGSVGElement} svg @param {MouseEvent} event @param {Dimension} dimension
 */
function under(svg, event, dimension) {
  const box = svg.getBoundingClientRect();
  const wide = svg.viewBox.baseVal.width;
  const at = ((event.clientX - box.left) / box.width) * wide;
  const [low, high] = ends(dimension);
  const x = (/** @type {number} */ mm) => 1 + ((mm - low) / (high - low)) * (wide - 2);
  const near = round(dimension).filter((c) => c.odds > 0.002 && c.mm > low && c.mm < high && Math.abs(x(c.mm) - at) < REACH_MM);
  return near.sort((a, b) => Math.abs(x(a.mm) - at) - Math.abs(x(b.mm) - at))[0];
}

/** @param {Dimension} size @returns {[number, number]} */
export function ends(size) {
  let half = Math.max(5 * Math.abs(size.sigma_mm), 0.8);
  const shown = [...round(size).filter((c) => c.odds > 0.01), ...size.candidates.filter((c) => c.label === size.chosen)];
  for (const candidate of shown) half = Math.max(half, Math.min(Math.abs(candidate.mm - size.value_mm) * 1.15, 20 * half));
  return [size.value_mm - half, size.value_mm + half];
}

/** @param {Dimension} size */
function round(size) {
  return size.candidates.slice(0, 60).filter((candidate) => candidate.label !== "not round");
}

/** @param {number} share */
function percent(share) {
  return share < 0.01 ? "under 1 %" : share > 0.995 ? "over 99 %" : `${Math.round(100 * share)} %`;
}
