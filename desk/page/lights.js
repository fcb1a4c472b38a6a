// The chips under another light: one switch for the whole sheet. The pictures keep their numbers, which are those under D65; what the chosen light
// makes of them is said below.
//
//   underLight(section, "pot", desk);      // the switch above the chips, and the chips in the colours of the chosen light

import { element } from "./slips.js";

/** @typedef {import("./desk.js").Desk} Desk */
/** @typedef {{light: string, words: string, lab: number[][], srgb: string[], de00?: number | null, known: boolean}} Under what a light makes of the wanted colour and the recipe's */

/** The light chosen last, by its name; "" as the pictures come, under D65. */
let chosen = "";
/** Pictures of chips by their titles. @type {Record<string, RegExp>} */
const CHIPS = { colour: /^The wanted colour$/, pot: /^Wanted colour against / };

/** @param {Element} section @param {string} station @param {Desk} desk */
export function underLight(section, station, desk) {
  const figure = [...section.querySelectorAll(".body > figure")].find((one) => CHIPS[station]?.test(one.querySelector("svg title")?.textContent ?? ""));
  const lights = lightsOf(station, desk);
  if (!figure || lights.length < 2) return;
  const id = `${station}-light`;
  const from = JSON.stringify(lights);
  let place = figure.querySelector(":scope > .seen-under");
  if (place?.getAttribute("data-from") !== from) {
    place?.remove();
    const select = /** @type {HTMLSelectElement} */ (element("select", { id }, lights.map(({ light, words }) => element("option", { value: light }, [`${light}: ${words}`]))));
    select.addEventListener("change", () => {
      chosen = select.value;
      document.dispatchEvent(new Event("light"));
    });
    place = element("div", { class: "seen-under", "data-from": from }, [element("p", {}, [element("label", { for: id }, ["Chips seen under"]), " ", select]), element("p", { class: "how", role: "status" }, [""])]);
    figure.prepend(place);
    document.addEventListener("light", () => place?.isConnected && show(figure, lights));
  }
  show(figure, lights);
}

/** @param {Element} figure @param {Under[]} lights */
function show(figure, lights) {
  const now = lights.find(({ light }) => light === chosen) ?? lights[0];
  const select = /** @type {HTMLSelectElement | null} */ (figure.querySelector(".seen-under select"));
  if (select && select.value !== now.light) select.value = now.light;
  for (const shape of /** @type {NodeListOf<SVGElement>} */ (figure.querySelectorAll("svg path[fill]"))) {
    const n = lights[0].srgb.indexOf(shape.getAttribute("fill") ?? "");
    if (n >= 0 && wide(shape) > LEAST_CHIP_MM) shape.style.fill = now.srgb[n];
  }
  const told = /** @type {HTMLElement} */ (figure.querySelector(".seen-under .how"));
  told.textContent = now === lights[0] ? "" : `Under ${now.light}: ${now.lab.map((lab, n) => `${n === 0 ? "wanted" : "recipe"} L* ${lab.map((v) => v.toFixed(1)).join(", ").replace(/^([^,]*), ([^,]*), /, "$1, a* $2, b* ")}`).join("; ")}${now.de00 === undefined || now.de00 === null ? "" : `; CIEDE2000 ${now.de00.toFixed(1)}`}.${now.known ? "" : " A guess: of the wanted colour only the Lab under D65 is known, not its spectrum."} The numbers in the picture are those under D65.`;
}

/** Chips are wider than this, mm; the small ones beside them show the doubt, under D65. */
const LEAST_CHIP_MM = 20;

/** How wide a path of straight lines is, mm: one that is not on the screen can't be measured there. @param {SVGElement} path */
function wide(path) {
  const places = (path.getAttribute("d") ?? "").match(/-?\d+(?:\.\d+)?/g)?.map(Number).filter((_, n) => n % 2 === 0) ?? [];
  return Math.max(...places) - Math.min(...places);
}

/** The lights of [target], the first as the pictures come. @param {string} station @param {Desk} desk @returns {Under[]} */
function lightsOf(station, desk) {
  const result = desk.standing?.result;
  if (station === "pot") return (result?.pot?.lights ?? []).map((/** @type {any} */ pair) => ({ light: pair.light, words: pair.words, lab: [pair.wanted, pair.predicted], srgb: pair.srgb, de00: pair.de00, known: pair.de00 !== null && pair.de00 !== undefined }));
  return (result?.colour?.lights ?? []).map((/** @type {any} */ one) => ({ light: one.light, words: one.words, lab: [one.lab], srgb: [one.srgb], known: one.known }));
}
