// What can be marked on a photo, each mark a list of places in the document: how many clicks make it, and the changes that write it.
//
//   for (const mark of marksOf(document, entry, found)) if (mark.places) draw(mark.places);
//   desk.edit(mark.write(places));

import { made } from "./curves.js";

/**
 * @typedef {import("./mapping.js").Pair} Pair
 * @typedef {{mark: Mark, index: number, at: Pair}} Handle one place of a mark, photo px
 * @typedef {import("./desk.js").Edit} Edit
 * @typedef {import("./desk.js").Where} Where
 * @typedef {{id: string, words: string, clicks: number, closed: boolean, prompts: string[], places: Pair[] | null, write: (places: Pair[]) => Edit[], remove: () => Edit[]}} Mark
 *   clicks: how many places make it; 0: as many as the person gives, at least 8
 */

const CORNERS = ["its first corner", "its second corner", "its third corner", "its last corner"];

/**
 * @param {any} document the job document
 * @param {any} entry the photo's entry in it
 * @returns {Mark[]}
 */
export function marksOf(document, entry) {
  /** @type {Where[]} */
  const photo = ["photo", { name: entry.name }];
  /** @type {Mark[]} */
  const marks = [
    simple("axis", "axis", 2, false, ["where the rod enters the part", "the part\u2019s free end"], entry.axis, [...photo, "axis"]),
    simple("outline", "own outline", 0, true, ["one place after the other round the part, beginning at the rod"], entry.outline, [...photo, "outline"]),
    {
      ...simple("neutral", "grey patch", 4, true, CORNERS.map((corner) => `${corner}, a little inside`), entry.neutral?.polygon, [...photo, "neutral"]),
      write: (places) => [entry.neutral ? { path: [...photo, "neutral", "polygon"], value: places } : { path: [...photo, "neutral"], value: { polygon: places, reflectance: 0.18 } }],
    },
    simple("colour_region", "spot for the colour", 1, true, ["the spot whose colour is meant, away from glints and edges"], entry.colour_region, [...photo, "colour_region"]),
  ];
  (entry.patch ?? []).forEach((/** @type {any} */ patch, /** @type {number} */ n) =>
    marks.push(simple(`patch-${n}`, `known colour ${n + 1}`, 4, true, CORNERS, patch.polygon, [...photo, "patch", n, "polygon"])));
  for (const [kind, words] of Object.entries(SQUARES)) {
    const places = entry.square?.[kind];
    if (places) marks.push({ ...simple(kind, words, places.length, kind !== "ruler", squarePrompts(kind), places, [...photo, "square", kind]), remove: () => [{ path: [...photo, "square"], value: null }] });
  }
  if (document.flat?.photo === entry.name) {
    marks.push(simple("within", "plain ground round the flat part", 0, true, ["one place after the other on plain ground round the part"], document.flat.within, ["flat", "within"]));
    const holes = document.flat.hole ?? [];
    for (let n = 0; n <= holes.length; n++) marks.push(simple(`hole-${n}`, `hole ${n + 1}`, 0, true, ["one place after the other round the hole"], holes[n], ["flat", "hole", n]));
  }
  if (entry.neutral) {
    for (const sample of document.sample ?? []) {
      const here = sample.region?.photo === entry.name;
      if (!here && (sample.lab || sample.spectrum || sample.region)) continue;
      /** @type {Where[]} */
      const path = ["sample", { name: sample.name }, "region"];
      marks.push({ ...simple(`chip-${sample.name}`, `chip ${sample.name}`, 4, true, CORNERS, here ? sample.region.polygon : null, path), write: (places) => [{ path, value: { photo: entry.name, polygon: places } }] });
    }
  }
  return marks;
}

/**
 * @param {string} id @param {string} words @param {number} clicks @param {boolean} closed @param {string[]} prompts
 * @param {Pair[] | undefined | null} places @param {Where[]} path
 * @returns {Mark}
 */
function simple(id, words, clicks, closed, prompts, places, path) {
  return { id, words, clicks, closed, prompts, places: places?.map((at) => [at[0], at[1]]) ?? null, write: (value) => [{ path, value }], remove: () => [{ path, value: null }] };
}

/**
 * A round spot of which one click is the middle.
 * @param {Pair} middle @param {Pair} size of the photo, px @returns {Pair[]}
 */
export function spot(middle, size) {
  const radius = Math.max(6, 0.012 * Math.min(...size));
  return Array.from({ length: 10 }, (_, n) => {
    const turn = (2 * Math.PI * n) / 10;
    return /** @type {Pair} */ ([Math.min(size[0], Math.max(0, middle[0] + radius * Math.cos(turn))), Math.min(size[1], Math.max(0, middle[1] + radius * Math.sin(turn)))]);
  });
}

/** What squares a photo up. @type {Record<string, string>} */
const SQUARES = { rectangle: "rectangle of known sides", circle: "circle of known diameter", ruler: "length on a ruler" };

/** @param {string} kind */
function squarePrompts(kind) {
  if (kind === "rectangle") return ["its top left corner", "its top right corner", "its bottom right corner", "its bottom left corner"];
  return kind === "ruler" ? ["one mark of the ruler", "another mark of it"] : ["a place on the circle\u2019s edge, one after the other round it"];
}

/**
 * A mark that squares the photo up; null where the sizes it needs are not written.
 * @param {any} entry the photo's entry @param {string} kind @param {string} text its sizes, "85.6 mm, 54 mm"
 * @returns {Mark | null}
 */
export function squareMark(entry, kind, text) {
  const sizes = text.split(/\s*[,;]\s*/).filter(Boolean);
  const keys = kind === "rectangle" ? ["width", "height"] : kind === "circle" ? ["diameter"] : ["length"];
  if (sizes.length !== keys.length) return null;
  const named = Object.fromEntries(keys.map((key, n) => [key, sizes[n]]));
  /** @type {Where[]} */
  const path = ["photo", { name: entry.name }, "square"];
  return { id: kind, words: SQUARES[kind], clicks: kind === "rectangle" ? 4 : kind === "ruler" ? 2 : 6, closed: kind !== "ruler", prompts: squarePrompts(kind), places: null, write: (places) => [{ path, value: { [kind]: places, ...named } }], remove: () => [] };
}

/**
 * A handle as a small cross with room for a finger.
 * @param {Handle} handle @param {number} number @param {Pair} at on the screen @param {boolean} dragged
 */
export function cross(handle, number, [x, y], dragged) {
  const { mark, index } = handle;
  const group = made("g", { transform: `translate(${x} ${y})` });
  const name = `${mark.words}: ${mark.clicks > 1 ? mark.prompts[index] : `place ${index + 1}`}`;
  const label = `${name}, ${Math.round(handle.at[0])} right, ${Math.round(handle.at[1])} down; arrow keys move it`;
  const circle = made("circle", { r: "12", class: dragged ? "handle dragged" : "handle", tabindex: "0", role: "button", "data-handle": String(number), "aria-label": label });
  group.append(made("path", { class: "cross", d: mark.clicks < 2 ? "M-4 0H4M0 -4V4" : "M-9 0H9M0 -9V9" }), circle);
  return group;
}
