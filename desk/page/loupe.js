// The loupe: a round of the photo, enlarged, in the corner away from the hand.
//
//   const loupe = new Loupe();
//   loupe.show(image, [812, 1190], [300, 200], { wide: 900, size: [1600, 1200], scale: 0.5 });

/** @typedef {import("./mapping.js").Pair} Pair */

/** Screen px across, and from the window's edge. */
const SIDE = 140;
const EDGE = 8;
/** Screen px a photo px at least: single pixels are seen. */
const LEAST_TIMES = 6;

export class Loupe {
  place = document.createElement("div");

  constructor() {
    this.place.className = "loupe";
    this.place.hidden = true;
  }

  hide() {
    this.place.hidden = true;
  }

  /**
   * @param {HTMLImageElement} image @param {Pair} photo the place looked at, photo px @param {Pair} screen where the hand is
   * @param {{wide: number, size: Pair, scale: number}} window its width, the photo's size, screen px a photo px
   */
  show(image, photo, screen, window) {
    const times = Math.max(LEAST_TIMES, 3 * window.scale);
    const style = this.place.style;
    this.place.hidden = false;
    style.left = `${screen[0] > window.wide / 2 ? EDGE : window.wide - SIDE - EDGE}px`;
    style.backgroundImage = `url("${image.src}")`;
    style.backgroundSize = `${window.size[0] * times}px ${window.size[1] * times}px`;
    style.backgroundPosition = `${SIDE / 2 - photo[0] * times}px ${SIDE / 2 - photo[1] * times}px`;
  }
}
