// The photo on the bench: pan, zoom to pixels, place and correct clicks and corners, with a loupe while dragging.
//
//   section.append(new PhotoTable(desk, entry).place);
//
// Dragging the ground pans; wheel, + and - zoom; a handle is dragged, or focused and moved with the arrow keys (1 px; 10 px with Shift).
// Escape while dragging leaves no trace. A finished move is one step of undo.

import { element } from "./slips.js";
import { fitted, inside, panned, toPhoto, toScreen, zoomed } from "./mapping.js";

/**
 * @typedef {import("./desk.js").Desk} Desk
 * @typedef {import("./mapping.js").Pair} Pair
 * @typedef {import("./mapping.js").View} View
 * @typedef {{label: string, list: string, at: Pair, index: number}} Handle
 */

const SVG = "http://www.w3.org/2000/svg";
/** Screen px that make a press a drag. */
const DRAG_FROM = 3;

/** The lists of places that can be put on a photo: key of the document, words, how many places it starts with. */
const LISTS = [
  { key: "axis", words: "axis", names: ["where the rod enters", "free end"] },
  { key: "neutral", words: "grey patch", names: ["corner 1", "corner 2", "corner 3", "corner 4"] },
  { key: "colour_region", words: "where to read the colour", names: ["corner 1", "corner 2", "corner 3", "corner 4"] },
];

export class PhotoTable {
  /** @type {HTMLElement} */
  place;
  /** @type {Desk} */
  #desk;
  /** @type {any} the photo's entry in the document */
  #entry;
  /** @type {any} what was found on it */
  #found;
  /** @type {Pair} */
  #size = [1, 1];
  /** @type {View} */
  #view = { scale: 1, left: 0, top: 0 };
  /** @type {HTMLElement} */
  #window;
  /** @type {HTMLImageElement} */
  #image;
  /** @type {SVGSVGElement} */
  #marks;
  /** @type {HTMLElement} */
  #loupe;
  /** @type {{handle: Handle | null, from: Pair, view: View, moving: boolean} | null} */
  #press = null;
  /** @type {Handle[]} */
  #handles = [];

  /** @param {Desk} desk @param {any} entry @param {any} found */
  constructor(desk, entry, found) {
    this.#desk = desk;
    this.#entry = entry;
    this.#found = found;
    this.#image = /** @type {HTMLImageElement} */ (element("img", { alt: "", draggable: "false" }, []));
    this.#marks = /** @type {SVGSVGElement} */ (document.createElementNS(SVG, "svg"));
    this.#loupe = element("div", { class: "loupe", hidden: "" }, []);
    this.#window = element("div", { class: "photo-window", role: "group", "aria-label": `Photo ${entry.name}: drag to pan, wheel to zoom` }, [this.#image, this.#marks, this.#loupe]);
    this.place = element("div", { class: "photo-table" }, [this.#window, this.#buttons()]);
    this.#image.addEventListener("load", () => this.#start());
    this.#image.src = `/photo/${encodeURIComponent(entry.name)}?side=3000`;
    this.#window.addEventListener("wheel", (event) => this.#wheel(event), { passive: false });
    this.#window.addEventListener("pointerdown", (event) => this.#down(event));
    this.#window.addEventListener("pointermove", (event) => this.#move(event));
    this.#window.addEventListener("pointerup", (event) => this.#up(event));
    this.#window.addEventListener("pointercancel", () => this.#cancel());
    this.#window.addEventListener("keydown", (event) => this.#key(event));
    new ResizeObserver(() => this.#draw()).observe(this.#window);
  }

  #start() {
    // What the server sent may be smaller than the photo; places are px of the photo itself.
    const width = this.#found?.size_px?.[0] ?? this.#image.naturalWidth;
    const height = this.#found?.size_px?.[1] ?? this.#image.naturalHeight;
    this.#size = [width, height];
    this.#view = fitted(this.#size, [this.#window.clientWidth, this.#window.clientHeight]);
    this.#collect();
    this.#draw();
  }

  #collect() {
    this.#handles = [];
    for (const list of LISTS) {
      const places = list.key === "neutral" ? this.#entry.neutral?.polygon : this.#entry[list.key];
      (places ?? []).forEach((/** @type {Pair} */ at, /** @type {number} */ index) =>
        this.#handles.push({ label: `${list.words}: ${list.names[index] ?? `corner ${index + 1}`}`, list: list.key, at: [at[0], at[1]], index }));
    }
  }

  #buttons() {
    const zoom = (/** @type {string} */ words, /** @type {number} */ factor) => this.#button(words, () => this.#zoom(factor));
    const whole = this.#button("Whole photo", () => this.#start());
    const lists = LISTS.map((list) => {
      const has = list.key === "neutral" ? this.#entry.neutral : this.#entry[list.key];
      return this.#button(has ? `Take the ${list.words} out` : `Mark ${list.words}`, () => (has ? this.#desk.edit([{ path: [...this.#path(), list.key], value: null }]) : this.#mark(list)));
    });
    return element("p", { class: "photo-buttons" }, [zoom("Larger", 1.5), zoom("Smaller", 1 / 1.5), whole, ...lists]);
  }

  /** @param {string} words @param {() => void} work */
  #button(words, work) {
    const button = element("button", { type: "button" }, [words]);
    button.addEventListener("click", work);
    return button;
  }

  /** New marks start in the middle of what is seen, to be dragged where they belong. @param {typeof LISTS[number]} list */
  #mark(list) {
    const middle = toPhoto(this.#view, [this.#window.clientWidth / 2, this.#window.clientHeight / 2]);
    const reach = (0.15 * Math.min(this.#window.clientWidth, this.#window.clientHeight)) / this.#view.scale;
    /** @type {Pair[]} */
    const shifts = list.key === "axis" ? [[-reach, 0], [reach, 0]] : [[-reach, -reach], [reach, -reach], [reach, reach], [-reach, reach]];
    const places = shifts.map(([x, y]) => inside([middle[0] + x, middle[1] + y], this.#size).map(round));
    this.#desk.edit([{ path: [...this.#path(), list.key], value: list.key === "neutral" ? { polygon: places, reflectance: 0.18 } : places }]);
  }

  #path() {
    return ["photo", { name: this.#entry.name }];
  }

  /** @param {number} factor */
  #zoom(factor) {
    this.#view = zoomed(this.#view, factor, [this.#window.clientWidth / 2, this.#window.clientHeight / 2]);
    this.#draw();
  }

  /** @param {WheelEvent} event */
  #wheel(event) {
    event.preventDefault();
    this.#view = zoomed(this.#view, Math.exp(-event.deltaY / 400), this.#at(event));
    this.#draw();
  }

  /** @param {MouseEvent} event @returns {Pair} */
  #at(event) {
    const box = this.#window.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  /** @param {PointerEvent} event */
  #down(event) {
    if (this.#press || event.button !== 0) return this.#cancel();
    const number = /** @type {Element} */ (event.target).getAttribute("data-handle");
    this.#press = { handle: number === null ? null : this.#handles[Number(number)], from: this.#at(event), view: this.#view, moving: false };
    this.#window.setPointerCapture(event.pointerId);
  }

  /** @param {PointerEvent} event */
  #move(event) {
    if (!this.#press) return;
    const at = this.#at(event);
    const by = /** @type {Pair} */ ([at[0] - this.#press.from[0], at[1] - this.#press.from[1]]);
    if (!this.#press.moving && Math.hypot(...by) < DRAG_FROM) return;
    this.#press.moving = true;
    if (this.#press.handle) {
      this.#press.handle.at = inside(toPhoto(this.#view, at), this.#size);
      this.#showLoupe(this.#press.handle.at, at);
    } else {
      this.#view = panned(this.#press.view, by);
    }
    this.#draw();
  }

  /** @param {PointerEvent} event */
  #up(event) {
    const press = this.#press;
    this.#press = null;
    this.#loupe.hidden = true;
    if (press?.moving && press.handle) this.#put(press.handle);
    if (this.#window.hasPointerCapture(event.pointerId)) this.#window.releasePointerCapture(event.pointerId);
  }

  #cancel() {
    this.#press = null;
    this.#loupe.hidden = true;
    this.#collect();
    this.#draw();
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    if (event.key === "Escape") return this.#cancel();
    if (event.key === "+" || event.key === "=") return this.#zoom(1.25);
    if (event.key === "-") return this.#zoom(0.8);
    const number = /** @type {Element} */ (event.target).getAttribute("data-handle");
    const step = /** @type {Record<string, Pair>} */ ({ ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] })[event.key];
    if (number === null || !step) return;
    event.preventDefault();
    const handle = this.#handles[Number(number)];
    const far = event.shiftKey ? 10 : 1;
    handle.at = inside([handle.at[0] + far * step[0], handle.at[1] + far * step[1]], this.#size);
    this.#draw();
    clearTimeout(this.#keyTimer);
    this.#keyTimer = setTimeout(() => this.#put(handle), 600);
  }

  /** Keys that follow each other are one move. @type {ReturnType<typeof setTimeout> | undefined} */
  #keyTimer;

  /** @param {Handle} handle */
  #put(handle) {
    const places = this.#handles.filter((other) => other.list === handle.list).map((other) => other.at.map(round));
    const path = handle.list === "neutral" ? [...this.#path(), "neutral", "polygon"] : [...this.#path(), handle.list];
    this.#desk.edit([{ path, value: places }]);
  }

  /** @param {Pair} photo @param {Pair} screen */
  #showLoupe(photo, screen) {
    const times = Math.max(6, 3 * this.#view.scale);
    const side = 140;
    this.#loupe.hidden = false;
    this.#loupe.style.left = `${screen[0] > this.#window.clientWidth / 2 ? 8 : this.#window.clientWidth - side - 8}px`;
    this.#loupe.style.backgroundImage = `url("${this.#image.src}")`;
    this.#loupe.style.backgroundSize = `${this.#size[0] * times}px ${this.#size[1] * times}px`;
    this.#loupe.style.backgroundPosition = `${side / 2 - photo[0] * times}px ${side / 2 - photo[1] * times}px`;
  }

  #draw() {
    const [left, top] = toScreen(this.#view, [0, 0]);
    this.#image.style.transform = `translate(${left}px, ${top}px)`;
    this.#image.style.width = `${this.#size[0] * this.#view.scale}px`;
    this.#image.style.height = `${this.#size[1] * this.#view.scale}px`;
    const focused = document.activeElement?.getAttribute("data-handle");
    this.#marks.replaceChildren(...this.#curves(), ...this.#polygons(), ...this.#handles.map((handle, number) => this.#cross(handle, number)));
    if (focused !== null && focused !== undefined) /** @type {SVGElement | null} */ (this.#marks.querySelector(`[data-handle="${focused}"]`))?.focus();
  }

  #curves() {
    const outline = this.#found?.outline;
    const model = this.#found?.model;
    const curves = [["edge", outline?.left], ["edge", outline?.right], ["rod", outline?.rod_left], ["rod", outline?.rod_right], ["model", model?.left], ["model", model?.right]];
    return curves.filter(([, places]) => places?.length).map(([kind, places]) => this.#line(kind, places, false));
  }

  #polygons() {
    return ["neutral", "colour_region", "axis"].map((list) => this.#line(`mark ${list}`, this.#handles.filter((handle) => handle.list === list).map((handle) => handle.at), list !== "axis"));
  }

  /** @param {string} kind @param {Pair[]} places @param {boolean} closed */
  #line(kind, places, closed) {
    const line = document.createElementNS(SVG, closed ? "polygon" : "polyline");
    line.setAttribute("class", kind);
    line.setAttribute("points", places.map((at) => toScreen(this.#view, at).map((v) => v.toFixed(1)).join(",")).join(" "));
    return line;
  }

  /** @param {Handle} handle @param {number} number */
  #cross(handle, number) {
    const [x, y] = toScreen(this.#view, handle.at);
    const group = document.createElementNS(SVG, "g");
    group.setAttribute("transform", `translate(${x} ${y})`);
    const circle = document.createElementNS(SVG, "circle");
    circle.setAttribute("r", "12");
    circle.setAttribute("class", "handle");
    circle.setAttribute("tabindex", "0");
    circle.setAttribute("role", "button");
    circle.setAttribute("data-handle", String(number));
    circle.setAttribute("aria-label", `${handle.label}, ${Math.round(handle.at[0])} right, ${Math.round(handle.at[1])} down; arrow keys move it`);
    const cross = document.createElementNS(SVG, "path");
    cross.setAttribute("d", "M-9 0H9M0 -9V9");
    cross.setAttribute("class", "cross");
    group.append(cross, circle);
    return group;
  }
}

/** Tenths of a pixel: finer than any click. @param {number} value */
function round(value) {
  return Math.round(value * 10) / 10;
}
