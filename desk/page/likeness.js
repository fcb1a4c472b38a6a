// The body laid over a photo in the photo's own perspective: the same pinhole, the part where it stood.
//
//   const likeness = new Likeness(desk);          // likeness.canvas goes over the picture
//   likeness.show(pose, [1600, 1200], view, 0.5);

import { bundle, lightsOf, modelOf, stateOf } from "./model.js";

/**
 * @typedef {import("./mapping.js").Pair} Pair
 * @typedef {import("./mapping.js").View} View
 * @typedef {{origin_mm: [number, number, number], direction: [number, number, number], focal_px: number}} Pose camera axes right, down, forward
 */

export class Likeness {
  canvas = /** @type {HTMLCanvasElement} */ (document.createElement("canvas"));
  /** Whether this browser can show it. */
  able = true;
  /** @type {import("./desk.js").Desk} */
  #desk;
  /** @type {any} */
  #three = null;
  /** @type {any} */
  #renderer = null;
  /** @type {any} */
  #scene = null;
  /** @type {any} */
  #camera = null;
  /** @type {any} */
  #model = null;
  #shown = "";
  /** @type {{pose: Pose, size: Pair, view: View, share: number} | null} */
  #wanted = null;
  #loading = false;

  /** @param {import("./desk.js").Desk} desk */
  constructor(desk) {
    this.#desk = desk;
    this.canvas.className = "likeness-body";
    this.canvas.setAttribute("aria-hidden", "true");
    this.canvas.hidden = true;
  }

  hide() {
    this.canvas.hidden = true;
    this.#wanted = null;
  }

  /** @param {Pose} pose @param {Pair} size of the photo, px @param {View} view @param {number} share how much of it is seen, 0..1 */
  show(pose, size, view, share) {
    this.#wanted = { pose, size, view, share };
    this.canvas.hidden = false;
    this.canvas.style.opacity = String(share);
    if (this.#model && this.#shown === stateOf(this.#desk)) this.#draw();
    else this.#load();
  }

  async #load() {
    if (this.#loading || !this.able) return;
    this.#loading = true;
    try {
      const state = stateOf(this.#desk);
      const three = (this.#three ??= await bundle());
      this.#renderer ??= new three.WebGLRenderer({ canvas: this.canvas, antialias: true, alpha: true });
      this.#camera ??= new three.PerspectiveCamera();
      this.#model = await modelOf(three);
      this.#scene = new three.Scene();
      const light = new three.DirectionalLight(0xffffff, 2.4);
      // From the upper left, before the part: how most photographs of parts are lit.
      light.position.set(-2, 3, 4);
      this.#scene.add(light, new three.HemisphereLight(0xffffff, 0x8a8378, 1.1), this.#model.group);
      this.#shown = state;
      this.#draw();
    } catch {
      this.able = false;
      this.canvas.hidden = true;
    } finally {
      this.#loading = false;
    }
  }

  #draw() {
    const wanted = this.#wanted;
    const three = this.#three;
    if (!wanted || !this.canvas.parentElement) return;
    const { pose, size, view } = wanted;
    const [wide, high] = [this.canvas.parentElement.clientWidth, this.canvas.parentElement.clientHeight];
    this.#renderer.setPixelRatio(Math.min(2, devicePixelRatio));
    this.#renderer.setSize(wide, high, false);
    this.#model.colour(lightsOf(this.#desk)[0].srgb);
    // Their axes are right, down, forward; here they are right, up, backward. The file is in metres with the part's axis upright.
    const turned = (/** @type {[number, number, number]} */ v) => new three.Vector3(v[0], -v[1], -v[2]);
    const group = this.#model.group;
    group.position.copy(turned(pose.origin_mm));
    group.quaternion.setFromUnitVectors(new three.Vector3(0, 1, 0), turned(pose.direction).normalize());
    group.scale.setScalar(1000);
    // The part of the picture plane that the window shows; the lens's distortion, a pixel or two at the edge, is left out.
    const far = Math.hypot(...pose.origin_mm);
    const near = far / 10;
    const x = (/** @type {number} */ screen) => (near * (view.left + screen / view.scale - size[0] / 2)) / pose.focal_px;
    const y = (/** @type {number} */ screen) => (-near * (view.top + screen / view.scale - size[1] / 2)) / pose.focal_px;
    this.#camera.projectionMatrix.makePerspective(x(0), x(wide), y(0), y(high), near, far * 10);
    this.#camera.projectionMatrixInverse.copy(this.#camera.projectionMatrix).invert();
    this.#renderer.render(this.#scene, this.#camera);
  }
}
