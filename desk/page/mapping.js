// The one transform between screen and photo: a window onto the picture, by its middle and its scale. Pure.
//
//   const view = fitted([1600, 1200], [800, 600]);
//   toPhoto(view, [400, 300]);          // the picture's middle
//   zoomed(view, 2, [400, 300]);        // twice as large, the place under the pointer stays

/**
 * @typedef {[number, number]} Pair x, y
 * @typedef {{scale: number, left: number, top: number}} View screen px a photo px; photo px at the window's top left
 */

/**
 * The whole picture, as large as the window holds it.
 * @param {Pair} photo @param {Pair} window @returns {View}
 */
export function fitted(photo, window) {
  const scale = Math.min(window[0] / photo[0], window[1] / photo[1]);
  return { scale, left: (photo[0] - window[0] / scale) / 2, top: (photo[1] - window[1] / scale) / 2 };
}

/** @param {View} view @param {Pair} at on the screen @returns {Pair} in the photo */
export function toPhoto(view, at) {
  return [view.left + at[0] / view.scale, view.top + at[1] / view.scale];
}

/** @param {View} view @param {Pair} at in the photo @returns {Pair} on the screen */
export function toScreen(view, at) {
  return [(at[0] - view.left) * view.scale, (at[1] - view.top) * view.scale];
}

/**
 * Larger or smaller about a place that stays where it is.
 * @param {View} view @param {number} factor @param {Pair} about on the screen @returns {View}
 */
export function zoomed(view, factor, about) {
  const scale = Math.min(40, Math.max(0.02, view.scale * factor));
  const [x, y] = toPhoto(view, about);
  return { scale, left: x - about[0] / scale, top: y - about[1] / scale };
}

/** @param {View} view @param {Pair} by screen px @returns {View} */
export function panned(view, by) {
  return { ...view, left: view.left - by[0] / view.scale, top: view.top - by[1] / view.scale };
}

/** @param {Pair} at @param {Pair} size @returns {Pair} the nearest place inside the picture */
export function inside(at, size) {
  return [Math.min(size[0], Math.max(0, at[0])), Math.min(size[1], Math.max(0, at[1]))];
}
