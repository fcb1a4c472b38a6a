// The body to make, to be turned in the hand: drag or arrow keys turn it, it can be cut open along the axis, in the colour wanted.
//
//   const view = new BodyView(desk);
//   view.renew(section);      // under the head of the section "body"; the picture is made when it is unfolded

import { bundle, lightsOf, modelOf, stateOf } from "./model.js";
import { element } from "./slips.js";

/** Turn of one arrow key, radians. */
const STEP = Math.PI / 24;

export class BodyView {
  /** @type {import("./desk.js").Desk} */
  #desk;
  #fold = element("details", { class: "slips" }, [element("summary", {}, ["Turn the body"])]);
  #canvas = /** @type {HTMLCanvasElement} */ (element("canvas", { class: "body-view", tabindex: "0", role: "application", "aria-label": "The body to make. Arrow keys turn it, plus and minus bring it nearer, C cuts it open." }, []));
  #told = element("p", { class: "told", role: "status" }, [""]);
  #cut = /** @type {HTMLButtonElement} */ (element("button", { type: "button", "aria-pressed": "false" }, ["Cut it open"]));
  /** @type {any} the bundle, once loaded */
  #three = null;
  /** @type {any} */
  #renderer = null;
  /** @type {any} */
  #scene = null;
  /** @type {any} */
  #camera = null;
  /** @type {{group: any, skins: any[], colour: (hex: string) => void} | null} */
  #model = null;
  /** The light that the colour is seen under, by its name. */
  #light = /** @type {HTMLSelectElement} */ (element("select", { id: "body-light" }, []));
  /** The file's axis of the body. */
  #axis = "z";
  /** Which body is shown. */
  #shown = "";
  /** Seen from: round the axis, above it, and how near, in radii of the body: at 4.4 all of it is seen. */
  #seen = { round: 1.05, above: 0.3, near: 4.4 };
  /** @type {{x: number, y: number, seen: {round: number, above: number, near: number}} | null} */
  #press = null;

  /** @param {import("./desk.js").Desk} desk */
  constructor(desk) {
    this.#desk = desk;
    const button = (/** @type {string} */ words, /** @type {() => void} */ work) => {
      const made = element("button", { type: "button" }, [words]);
      made.addEventListener("click", work);
      return made;
    };
    const look = (/** @type {number} */ round, /** @type {number} */ above) => () => this.#look({ ...this.#seen, round, above });
    this.#cut.addEventListener("click", () => this.#toggleCut());
    const buttons = element("p", {}, [button("From the side", look(Math.PI / 2, 0)), button("The free end", look(0.35, 0.3)), button("The rod end", look(Math.PI - 0.35, 0.3)), this.#cut, button("Nearer", () => this.#nearer(0.8)), button("Farther", () => this.#nearer(1.25))]);
    this.#light.addEventListener("change", () => this.#colour());
    const light = element("p", { class: "seen-under" }, [element("label", { for: "body-light" }, ["Seen under"]), this.#light]);
    this.#fold.append(this.#told, this.#canvas, element("div", { class: "photo-buttons" }, [buttons, light]));
    this.#fold.addEventListener("toggle", () => this.#fold.hasAttribute("open") && this.#load());
    this.#canvas.addEventListener("keydown", (event) => this.#key(event));
    this.#canvas.addEventListener("pointerdown", (event) => {
      this.#canvas.setPointerCapture(event.pointerId);
      this.#press = { x: event.clientX, y: event.clientY, seen: { ...this.#seen } };
    });
    this.#canvas.addEventListener("pointermove", (event) => {
      if (this.#press) this.#look({ ...this.#press.seen, round: this.#press.seen.round - (event.clientX - this.#press.x) / 120, above: this.#press.seen.above + (event.clientY - this.#press.y) / 120 });
    });
    for (const end of ["pointerup", "pointercancel"]) this.#canvas.addEventListener(end, () => (this.#press = null));
    new ResizeObserver(() => this.#draw()).observe(this.#canvas);
  }

  /** @param {Element} section */
  renew(section) {
    const body = section.querySelector(".body");
    const made = this.#desk.standing?.files.includes("part.glb");
    if (!made) return this.#fold.remove();
    if (body && this.#fold.parentElement !== body) body.prepend(this.#fold);
    if (this.#fold.hasAttribute("open")) this.#load();
  }

  async #load() {
    this.#fillLights();
    const which = stateOf(this.#desk);
    if (which === this.#shown || this.#desk.standing?.working) return this.#colour();
    this.#shown = which;
    try {
      this.#three ??= await bundle();
      this.#renderer ??= new this.#three.WebGLRenderer({ canvas: this.#canvas, antialias: true, alpha: true });
      this.#model = await modelOf(this.#three);
      this.#put();
      this.#colour();
      this.#told.textContent = "";
    } catch {
      // The page stands without it: the section drawing shows the same body.
      this.#told.textContent = "This browser can\u2019t show the body in space; the drawing below shows it in section.";
      this.#canvas.hidden = true;
    }
  }

  #fillLights() {
    const lights = lightsOf(this.#desk);
    const from = JSON.stringify(lights);
    if (this.#light.dataset.from === from) return;
    const chosen = this.#light.value;
    this.#light.dataset.from = from;
    this.#light.replaceChildren(...lights.map(({ light, words }) => element("option", { value: light }, [light ? `${light}: ${words}` : words])));
    this.#light.value = lights.some(({ light }) => light === chosen) ? chosen : lights[0].light;
  }

  /** The wanted colour as an eye sees it that is used to the chosen light. */
  #colour() {
    const lights = lightsOf(this.#desk);
    const chosen = lights.find(({ light }) => light === this.#light.value) ?? lights[0];
    this.#model?.colour(chosen.srgb);
    this.#draw();
  }

  #put() {
    const three = this.#three;
    const group = this.#model?.group;
    this.#scene = new three.Scene();
    // Round a body the light must come from one side, or nothing tells a bead from a groove.
    const light = new three.DirectionalLight(0xffffff, 2.4);
    this.#camera = new three.PerspectiveCamera(28, 1, 0.001, 1000);
    light.position.set(-2, 3, 2);
    this.#camera.add(light);
    const sky = new three.HemisphereLight(0xffffff, 0x8a8378, 1.1);
    this.#scene.add(this.#camera, sky);
    const box = new three.Box3().setFromObject(group);
    const size = box.getSize(new three.Vector3());
    const radius = size.length() / 2 || 1;
    group.position.sub(box.getCenter(new three.Vector3()));
    const scaled = new three.Scene();
    scaled.add(group);
    scaled.scale.setScalar(1 / radius);
    // The longest side is the axis; it lies across the picture.
    this.#axis = size.x >= size.y && size.x >= size.z ? "x" : size.y >= size.z ? "y" : "z";
    sky.position.set(...this.#up());
    this.#scene.add(scaled);
    this.#applyCut();
    this.#draw();
  }

  /** Which way is up when the axis lies across the picture. @returns {[number, number, number]} */
  #up() {
    return this.#axis === "y" ? [1, 0, 0] : [0, 1, 0];
  }

  /** @param {{round: number, above: number, near: number}} seen */
  #look(seen) {
    this.#seen = { round: seen.round, above: Math.min(1.5, Math.max(-1.5, seen.above)), near: Math.min(12, Math.max(1.4, seen.near)) };
    this.#draw();
  }

  /** @param {number} factor */
  #nearer(factor) {
    this.#look({ ...this.#seen, near: this.#seen.near * factor });
  }

  #toggleCut() {
    this.#cut.setAttribute("aria-pressed", String(this.#cut.getAttribute("aria-pressed") !== "true"));
    this.#applyCut();
    this.#draw();
  }

  #applyCut() {
    if (!this.#renderer) return;
    this.#renderer.localClippingEnabled = true;
    const cut = this.#cut.getAttribute("aria-pressed") === "true";
    // What lies above the axis is taken off.
    const plane = new this.#three.Plane(new this.#three.Vector3(...this.#up().map((v) => -v)), 0);
    for (const material of this.#model?.skins ?? []) material.clippingPlanes = cut ? [plane] : [];
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const turn = /** @type {Record<string, [number, number]>} */ ({ ArrowLeft: [STEP, 0], ArrowRight: [-STEP, 0], ArrowUp: [0, STEP], ArrowDown: [0, -STEP] })[event.key];
    if (turn) {
      event.preventDefault();
      this.#look({ ...this.#seen, round: this.#seen.round + turn[0], above: this.#seen.above + turn[1] });
    } else if (event.key === "+" || event.key === "=") this.#nearer(0.8);
    else if (event.key === "-") this.#nearer(1.25);
    else if (event.key.toLowerCase() === "c") this.#toggleCut();
  }

  #draw() {
    if (!this.#renderer || !this.#camera || this.#canvas.clientWidth === 0) return;
    const [wide, high] = [this.#canvas.clientWidth, this.#canvas.clientHeight];
    this.#renderer.setPixelRatio(Math.min(2, devicePixelRatio));
    this.#renderer.setSize(wide, high, false);
    this.#camera.aspect = wide / high;
    const { round, above, near } = this.#seen;
    const flat = [Math.cos(round) * Math.cos(above), Math.sin(above), Math.sin(round) * Math.cos(above)].map((v) => v * near);
    // Along the axis, up, to the side; whichever way the file has the axis.
    const places = this.#axis === "x" ? flat : this.#axis === "z" ? [flat[2], flat[1], flat[0]] : [flat[1], flat[0], flat[2]];
    this.#camera.up.set(...this.#up());
    this.#camera.position.set(places[0], places[1], places[2]);
    this.#camera.lookAt(0, 0, 0);
    this.#camera.updateProjectionMatrix();
    this.#renderer.render(this.#scene, this.#camera);
  }
}
