// What was found on a photo, as curves over it: edges with their doubt as a band, the model thrown back, the misfit between them drawn larger,
// the likeness in the colour wanted. Pure: places in, SVG out.
//
//   svg.append(...curves(found, view, { misfit: 20, likeness: 0.5, colour: "#98a492" }));

import { toScreen } from "./mapping.js";

/**
 * @typedef {import("./mapping.js").Pair} Pair
 * @typedef {import("./mapping.js").View} View
 * @typedef {{misfit: number, likeness: number, colour: string}} Shown misfit: how many times larger, 0 for none; likeness: 0..1
 */

const SVG = "http://www.w3.org/2000/svg";

/** @param {any} found the photo's part of the result @param {View} view @param {Shown} shown @returns {SVGElement[]} */
export function curves(found, view, shown) {
  const outline = found?.outline;
  if (!outline) return [];
  const model = modelOf(found);
  const drawn = [];
  if (shown.likeness > 0 && model) drawn.push(...likeness(model, outline.axis, view, shown));
  for (const side of ["left", "right"]) drawn.push(line("band", band(outline[side], outline[`${side}_sigma_px`]), view, true));
  for (const [kind, places] of [["edge", outline.left], ["edge", outline.right], ["rod", outline.rod_left], ["rod", outline.rod_right], ["model", model?.left], ["model", model?.right]]) {
    if (places?.length > 1) drawn.push(line(kind, places, view, false));
  }
  if (shown.misfit > 0 && model) drawn.push(...misfit(outline.left, model.left, view, shown.misfit), ...misfit(outline.right, model.right, view, shown.misfit));
  return drawn;
}

/** The model thrown back into the photo, if the profile was fitted to it. @param {any} found @returns {{left: Pair[], right: Pair[]} | null} */
export function modelOf(found) {
  const model = found?.model;
  return model?.left?.length > 1 && model?.right?.length > 1 ? model : null;
}

/** @param {string} kind @param {Pair[]} places @param {View} view @param {boolean} closed @returns {SVGElement} */
export function line(kind, places, view, closed) {
  return made(closed ? "polygon" : "polyline", { class: kind, points: points(places, view) });
}

/** One sigma to either side of an edge. @param {Pair[]} edge @param {number[] | undefined} sigmas @returns {Pair[]} */
export function band(edge, sigmas) {
  const beside = (/** @type {number} */ sign) => edge.map((at, n) => {
    const [nx, ny] = normal(edge, n);
    const by = sign * (sigmas?.[n] ?? 0);
    return /** @type {Pair} */ ([at[0] + by * nx, at[1] + by * ny]);
  });
  return [...beside(1), ...beside(-1).reverse()];
}

/** Hairs from the edge to where the model would be if it missed by `times` as much. @param {Pair[]} edge @param {Pair[]} model @param {View} view @param {number} times */
function misfit(edge, model, view, times) {
  if (!edge?.length) return [];
  const offsets = offsetsOf(edge, model);
  const far = edge.map((at, n) => /** @type {Pair} */ ([at[0] + times * offsets[n][0], at[1] + times * offsets[n][1]]));
  const hairs = edge.map((at, n) => `M${points([at], view)}L${points([far[n]], view)}`).join("");
  return [made("path", { class: "hairs", d: hairs }), line("misfit", far, view, false)];
}

/** Panning draws the same misfits many times. @type {WeakMap<Pair[], Pair[]>} */
const known = new WeakMap();
/** The model is farther from a stray point than this, px: the two do not belong together. */
const FAR_PX = 12;

/** From each place of the edge to the nearest place on the model. @param {Pair[]} edge @param {Pair[]} model @returns {Pair[]} */
function offsetsOf(edge, model) {
  const before = known.get(edge);
  if (before) return before;
  const offsets = edge.map((at) => {
    let best = /** @type {Pair} */ ([0, 0]);
    let least = FAR_PX;
    for (let n = 1; n < model.length; n++) {
      const [from, to] = [model[n - 1], model[n]];
      const along = [to[0] - from[0], to[1] - from[1]];
      const share = Math.min(1, Math.max(0, ((at[0] - from[0]) * along[0] + (at[1] - from[1]) * along[1]) / (along[0] ** 2 + along[1] ** 2 || 1)));
      const by = /** @type {Pair} */ ([from[0] + share * along[0] - at[0], from[1] + share * along[1] - at[1]]);
      const distance = Math.hypot(...by);
      if (distance < least) [least, best] = [distance, by];
    }
    return best;
  });
  known.set(edge, offsets);
  return offsets;
}

/** The part in its colour, shaded across its axis so that it reads as round. @param {any} model @param {[Pair, Pair]} axis @param {View} view @param {Shown} shown */
function likeness(model, axis, view, shown) {
  const [from, to] = axis.map((at) => toScreen(view, at));
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]) || 1;
  const across = [-(to[1] - from[1]) / length, (to[0] - from[0]) / length];
  const places = [...model.left, ...[...model.right].reverse()];
  const reach = Math.max(...places.map((at) => {
    const [x, y] = toScreen(view, at);
    return Math.abs((x - from[0]) * across[0] + (y - from[1]) * across[1]);
  }));
  const gradient = made("linearGradient", { id: "round", gradientUnits: "userSpaceOnUse", x1: String(from[0] - reach * across[0]), y1: String(from[1] - reach * across[1]), x2: String(from[0] + reach * across[0]), y2: String(from[1] + reach * across[1]) });
  // A matt round body in light from the left: brightness falls with the cosine.
  for (const [offset, dark] of [[0, 0.45], [0.15, 0.1], [0.35, 0], [0.7, 0.25], [1, 0.65]]) gradient.append(made("stop", { offset: String(offset), "stop-color": "#000", "stop-opacity": String(dark) }));
  const shape = points(places, view);
  return [gradient, made("polygon", { class: "likeness", points: shape, fill: shown.colour, "fill-opacity": String(shown.likeness) }), made("polygon", { class: "likeness", points: shape, fill: "url(#round)", "fill-opacity": String(shown.likeness) })];
}

/** @param {Pair[]} edge @param {number} n @returns {Pair} */
function normal(edge, n) {
  const before = edge[Math.max(0, n - 2)];
  const after = edge[Math.min(edge.length - 1, n + 2)];
  const length = Math.hypot(after[0] - before[0], after[1] - before[1]) || 1;
  return [-(after[1] - before[1]) / length, (after[0] - before[0]) / length];
}

/** @param {Pair[]} places @param {View} view */
function points(places, view) {
  return places.map((at) => toScreen(view, at).map((v) => v.toFixed(1)).join(",")).join(" ");
}

/** @param {string} name @param {Record<string, string>} attributes @returns {SVGElement} */
export function made(name, attributes) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  return element;
}
