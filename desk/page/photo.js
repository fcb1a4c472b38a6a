// The photos on the bench: pan, zoom to pixels, place and correct marks with a loupe, see what was found and how well it fits.
//
//   const table = new PhotoTable(desk, entry, () => {});      // the last is told when a hand lets go
//   fold.append(table.place);
//
// Dragging the ground pans; wheel, two fingers, + and - zoom; a handle is dragged, or focused and moved with the arrow keys (1 px; 10 px with
// Shift). Escape while dragging or placing leaves no trace. A finished move is one step of undo.

import { curves, line, made, modelOf } from "./curves.js";
import { Likeness } from "./likeness.js";
import { Loupe } from "./loupe.js";
import { fitted, inside, panned, toPhoto, toScreen, zoomed } from "./mapping.js";
import { cross, marksOf, spot, squareMark } from "./marks.js";
import { element, sliderOf } from "./slips.js";

/**
 * @typedef {import("./desk.js").Desk} Desk
 * @typedef {import("./mapping.js").Pair} Pair
 * @typedef {import("./mapping.js").View} View
 * @typedef {import("./marks.js").Mark} Mark
 * @typedef {import("./marks.js").Handle} Handle
 */

/** Screen px that make a press a drag. */
const DRAG_FROM = 3;
/** Keys that follow each other this fast, ms, are one move. */
const KEYS_APART = 600;
/** A trace of fewer places tells no shape. */
const LEAST_TRACE = 8;

/** One photo on the bench. */
export class PhotoTable {
  /** @type {HTMLElement} */
  place;
  /** @type {Desk} */
  #desk;
  /** @type {() => void} */
  #still;
  /** @type {any} the photo's entry in the document */
  #entry;
  /** @type {any} what was found on it */
  #found = null;
  /** @type {Mark[]} */
  #marks = [];
  /** @type {Handle[]} */
  #handles = [];
  /** @type {Pair} */
  #size = [1, 1];
  /** @type {View} */
  #view = { scale: 1, left: 0, top: 0 };
  /** @type {HTMLElement} */
  #window;
  /** @type {HTMLImageElement} */
  #image;
  /** @type {SVGElement} */
  #drawing;
  /** @type {Likeness} */
  #likeness;
  #loupe = new Loupe();
  /** Colour of a patch that is going to be marked. */
  #patch = /** @type {HTMLInputElement} */ (element("input", { type: "text", autocomplete: "off", placeholder: "50.1, 45, 20.2" }, []));
  /** Numbers of the known colours that are marked. @type {HTMLInputElement[]} */
  #patches = [];
  /** Sides, diameter or length of what squares the photo up. */
  #sides = /** @type {HTMLInputElement} */ (element("input", { type: "text", autocomplete: "off", placeholder: "85.6 mm, 54 mm" }, []));
  #told = element("p", { class: "told", role: "status" }, [""]);
  #buttons = element("div", { class: "photo-buttons" }, []);
  /** `base`: the document as it was when the hand came down; what is changed elsewhere meanwhile must not be written over. @type {{handle: Handle | null, from: Pair, view: View, moving: boolean, base: string | undefined} | null} */
  #press = null;
  /** Fingers on the picture. @type {Map<number, Pair>} */
  #fingers = new Map();
  /** A mark that is being placed. @type {{mark: Mark, places: Pair[], cursor: Pair, base: string | undefined} | null} */
  #placing = null;
  /** The outline while a click is dragged. @type {any} */
  #coarse = null;
  #asking = false;
  #shown = { misfit: 0, likeness: 0 };
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #keyTimer;
  /** The document as it was before the first of the keys that move a mark. @type {string | undefined} */
  #keyBase;
  #drawn = 0;
  /** @type {HTMLInputElement[]} */
  #sliderInputs = [];
  #noModel = element("span", { class: "how" }, [""]);

  /** @param {Desk} desk @param {any} entry @param {() => void} still */
  constructor(desk, entry, still) {
    this.#desk = desk;
    this.#entry = entry;
    this.#still = still;
    this.#image = /** @type {HTMLImageElement} */ (element("img", { alt: "", draggable: "false" }, []));
    this.#drawing = made("svg", {});
    this.#likeness = new Likeness(desk);
    this.#window = element("div", { class: "photo-window", role: "application", tabindex: "0", "aria-label": `Photo ${entry.name}. Arrow keys pan, plus and minus zoom; Tab goes to its marks, which arrow keys move.` }, [this.#image, this.#likeness.canvas, this.#drawing, this.#loupe.place]);
    this.place = element("div", { class: "photo-table" }, [this.#told, this.#window, this.#buttons, this.#sliders()]);
    this.#image.addEventListener("load", () => this.#start());
    this.#image.addEventListener("error", () => {
      this.#told.textContent = "The photo can\u2019t be shown. Its file may be gone from the folder, or be no whole picture. Put it back, and it is shown again.";
      this.place.classList.add("gone");
    });
    this.#fetch();
    this.#listen();
    this.renew(entry);
  }

  #listen() {
    const window = this.#window;
    window.addEventListener("wheel", (event) => this.#wheel(event), { passive: false });
    window.addEventListener("pointerdown", (event) => this.#down(event));
    window.addEventListener("pointermove", (event) => this.#move(event));
    window.addEventListener("pointerup", (event) => this.#up(event));
    window.addEventListener("pointercancel", (event) => this.#lost(event));
    window.addEventListener("lostpointercapture", (event) => this.#fingers.has(event.pointerId) && this.#lost(event));
    window.addEventListener("keydown", (event) => this.#key(event));
    new ResizeObserver(() => this.#draw()).observe(window);
  }

  /** Whether a hand is on it, or keys have moved a mark that is not written yet. */
  get held() {
    return this.#press !== null || this.#keyTimer !== undefined;
  }

  /** @param {any} entry */
  renew(entry) {
    const standing = this.#desk.standing;
    this.#entry = entry;
    this.#found = standing?.result?.photos?.find((/** @type {any} */ photo) => photo.name === entry.name) ?? null;
    this.#marks = marksOf(standing?.document, entry);
    if (!standing?.working) this.#coarse = null;
    if (this.place.classList.contains("gone") && standing?.problems.length === 0) this.#fetch();
    this.#collect();
    this.#fillButtons();
    // Without a profile that meets this photo there is nothing to lay over it.
    for (const slider of this.#sliderInputs) slider.disabled = !modelOf(this.#found);
    this.#noModel.textContent = this.#found && !modelOf(this.#found) ? "The part can be laid over once the profile is fitted to this photo." : "";
    this.#draw();
  }

  #fetch() {
    this.#told.textContent = "The photo is being read\u2026";
    this.#image.src = `/photo/${encodeURIComponent(this.#entry.name)}?side=4000&at=${Date.now()}`;
  }

  #start() {
    this.place.classList.remove("gone");
    // What the server sent may be smaller than the photo; places are px of the photo itself.
    this.#size = this.#found?.size_px ?? [this.#image.naturalWidth, this.#image.naturalHeight];
    this.#told.textContent = "";
    this.#window.style.aspectRatio = `${this.#size[0]} / ${this.#size[1]}`;
    this.#whole();
  }

  #whole() {
    this.#view = fitted(this.#size, [this.#window.clientWidth, this.#window.clientHeight]);
    this.#draw();
  }

  #collect() {
    this.#handles = this.#marks.flatMap((mark) => (mark.places ?? []).map((at, index) => ({ mark, index, at: /** @type {Pair} */ ([at[0], at[1]]) })));
  }

  #fillButtons() {
    const zoom = (/** @type {string} */ words, /** @type {number} */ factor) => this.#button(words, () => this.#zoom(factor));
    const marks = this.#marks.flatMap((mark) => {
      const place = this.#button(mark.places ? `Mark ${mark.words} anew` : `Mark ${mark.words}`, () => this.#place(mark));
      return mark.places ? [place, this.#button(`Take ${mark.words} out`, () => this.#desk.edit(mark.remove()))] : [place];
    });
    const labelled = (/** @type {string} */ words, /** @type {HTMLInputElement} */ input) => element("label", { class: "known-colour" }, [words, input]);
    const colour = [labelled("L*, a*, b* of a known colour", this.#patch), this.#button("Mark a known colour", () => this.#placePatch()), ...this.#knownColours().map(([words, input]) => labelled(words, input))];
    const square = [labelled("Flat part: sides, diameter or length", this.#sides), ...["rectangle", "circle", "ruler"].map((kind) => this.#button(`Mark a known ${kind}`, () => this.#placeSquare(kind)))];
    const rows = this.#placing ? [[this.#button("Stop marking", () => this.#cancel()), ...(this.#placing.mark.clicks === 0 ? [this.#button("The outline is closed", () => this.#close())] : [])]] : [marks, colour, square];
    const focus = /** @type {HTMLElement | null} */ (this.#buttons.contains(document.activeElement) ? document.activeElement : null)?.textContent;
    this.#buttons.replaceChildren(element("p", {}, [zoom("Larger", 1.5), zoom("Smaller", 1 / 1.5), this.#button("Whole photo", () => this.#whole()), this.#button("Pixels", () => this.#zoom(8 / this.#view.scale))]), ...rows.map((row) => element("p", {}, row)));
    if (focus) /** @type {HTMLElement | undefined} */ ([...this.#buttons.querySelectorAll("button")].find((button) => button.textContent === focus))?.focus();
  }

  #sliders() {
    const slider = (/** @type {string} */ words, /** @type {number} */ most, /** @type {number} */ step, /** @type {(value: number) => void} */ put) => {
      const [label, input] = sliderOf(words, most, step, put, () => this.#draw());
      this.#sliderInputs.push(input);
      return label;
    };
    return element("p", { class: "sliders" }, [
      slider("Lay the part over the photo", 1, 0.05, (value) => (this.#shown.likeness = value)),
      slider("Draw the misfit larger, up to 60 times", 60, 1, (value) => (this.#shown.misfit = value)),
      this.#noModel,
    ]);
  }

  /** @param {string} words @param {() => void} work */
  #button(words, work) {
    const button = element("button", { type: "button" }, [words]);
    button.addEventListener("click", work);
    return button;
  }

  /** Places are then given by clicks, or by arrow keys and Enter. @param {Mark} mark */
  #place(mark) {
    this.#placing = { mark, places: [], base: this.#desk.standing?.text, cursor: toPhoto(this.#view, [this.#window.clientWidth / 2, this.#window.clientHeight / 2]) };
    this.#window.focus();
    this.#fillButtons();
    this.#prompt();
    this.#draw();
  }

  #placePatch() {
    const lab = this.#patch.value.split(/[,;\s]+/).filter(Boolean).map(Number);
    if (lab.length !== 3 || !lab.every(Number.isFinite)) {
      this.#told.textContent = "Write the three numbers of the known colour first.";
      return this.#patch.focus();
    }
    const n = this.#entry.patch?.length ?? 0;
    this.#place({ id: `patch-${n}`, words: "known colour", clicks: 4, closed: true, prompts: this.#marks[2].prompts, places: null, write: (polygon) => [{ path: ["photo", { name: this.#entry.name }, "patch", n], value: { polygon, lab } }], remove: () => [] });
  }

  /** Numbers of the colours that are marked already, to be corrected. @returns {[string, HTMLInputElement][]} */
  #knownColours() {
    const patches = /** @type {any[]} */ (this.#entry.patch ?? []);
    this.#patches.length = Math.min(this.#patches.length, patches.length);
    return patches.map(({ lab }, n) => {
      const known = this.#patches[n] ?? element("input", { type: "text", autocomplete: "off" }, []);
      const input = (this.#patches[n] = /** @type {HTMLInputElement} */ (known));
      if (input !== document.activeElement) input.value = lab.join(", ");
      input.onchange = () => this.#desk.edit([{ path: ["photo", { name: this.#entry.name }, "patch", n, "lab"], value: input.value.split(/[,;\s]+/).filter(Boolean).map((part) => (Number.isFinite(Number(part)) ? Number(part) : part)) }]);
      return [`known colour ${n + 1}`, input];
    });
  }

  /** @param {string} kind */
  #placeSquare(kind) {
    const mark = squareMark(this.#entry, kind, this.#sides.value);
    if (mark) return this.#place(mark);
    this.#told.textContent = kind === "rectangle" ? "Write its two sides first: 85.6 mm, 54 mm." : "Write its size first: 25 mm.";
    this.#sides.focus();
  }

  #prompt() {
    const placing = this.#placing;
    if (!placing) return;
    const { mark, places } = placing;
    const what = mark.prompts[Math.min(places.length, mark.prompts.length - 1)];
    this.#told.textContent = `Mark ${mark.words}: click ${what}. By keys: arrows move the cross, Enter sets it, Escape stops.${mark.clicks === 0 ? ` ${places.length} set; ${LEAST_TRACE} or more are needed.` : ""}`;
  }

  /** @param {Pair} at */
  #set(at) {
    const placing = this.#placing;
    if (!placing) return;
    const { mark, places } = placing;
    places.push(inside(at, this.#size));
    placing.cursor = at;
    if (mark.clicks === 1) return this.#finish(spot(at, this.#size));
    if (mark.clicks > 0 && places.length === mark.clicks) return this.#finish(places);
    this.#prompt();
    this.#draw();
  }

  #close() {
    const places = this.#placing?.places ?? [];
    if (places.length >= LEAST_TRACE) this.#finish(places);
  }

  /** @param {Pair[]} places */
  #finish(places) {
    const { mark, base } = this.#placing ?? {};
    this.#placing = null;
    this.#told.textContent = "";
    this.#fillButtons();
    if (mark) this.#desk.edit(mark.write(places.map((at) => /** @type {Pair} */ (at.map(tenths)))), base);
    this.#window.focus();
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
    if (event.button !== 0) return this.#cancel();
    this.#fingers.set(event.pointerId, this.#at(event));
    this.#window.setPointerCapture(event.pointerId);
    // A second finger ends what the first began, and both zoom.
    if (this.#fingers.size > 1) return this.#letGo();
    const number = /** @type {Element} */ (event.target).getAttribute("data-handle");
    this.#press = { handle: number === null || this.#placing ? null : this.#handles[Number(number)], from: this.#at(event), view: this.#view, moving: false, base: this.#desk.standing?.text };
  }

  /** @param {PointerEvent} event */
  #move(event) {
    const at = this.#at(event);
    const before = this.#fingers.get(event.pointerId);
    if (before) this.#fingers.set(event.pointerId, at);
    if (this.#fingers.size === 2 && before) return this.#pinch(event.pointerId, before, at);
    if (!this.#press) return;
    const by = /** @type {Pair} */ ([at[0] - this.#press.from[0], at[1] - this.#press.from[1]]);
    if (!this.#press.moving && Math.hypot(...by) < DRAG_FROM) return;
    this.#press.moving = true;
    if (this.#press.handle) {
      performance.mark("drag");
      this.#press.handle.at = inside(toPhoto(this.#view, at), this.#size);
      this.#loupe.show(this.#image, this.#press.handle.at, at, { wide: this.#window.clientWidth, size: this.#size, scale: this.#view.scale });
      this.#askCoarse();
    } else {
      this.#view = panned(this.#press.view, by);
    }
    this.#draw();
  }

  /** @param {number} finger @param {Pair} before @param {Pair} at */
  #pinch(finger, before, at) {
    const other = [...this.#fingers].find(([id]) => id !== finger)?.[1];
    if (!other) return;
    const apart = (/** @type {Pair} */ a) => Math.hypot(a[0] - other[0], a[1] - other[1]) || 1;
    const middle = /** @type {Pair} */ ([(at[0] + other[0]) / 2, (at[1] + other[1]) / 2]);
    this.#view = panned(zoomed(this.#view, apart(at) / apart(before), middle), [(at[0] - before[0]) / 2, (at[1] - before[1]) / 2]);
    this.#draw();
  }

  /** @param {PointerEvent} event */
  #up(event) {
    this.#fingers.delete(event.pointerId);
    if (this.#window.hasPointerCapture(event.pointerId)) this.#window.releasePointerCapture(event.pointerId);
    const press = this.#press;
    this.#press = null;
    this.#loupe.hide();
    if (!press) return;
    if (press.moving && press.handle) this.#put(press.handle, press.base);
    else if (!press.moving && this.#placing) this.#set(toPhoto(this.#view, press.from));
    this.#still();
  }

  /** @param {PointerEvent} event */
  #lost(event) {
    this.#fingers.delete(event.pointerId);
    this.#letGo();
  }

  /** Ends a drag without a trace. */
  #letGo() {
    const held = this.#press !== null;
    this.#press = null;
    this.#coarse = null;
    this.#loupe.hide();
    this.#collect();
    this.#draw();
    if (held) this.#still();
  }

  #cancel() {
    this.#placing = null;
    this.#told.textContent = "";
    this.#fillButtons();
    this.#letGo();
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Escape") return this.#cancel();
    if (event.key === "+" || event.key === "=") return this.#zoom(1.25);
    if (event.key === "-") return this.#zoom(0.8);
    if (event.key === "Enter" && this.#placing && event.target === this.#window) return this.#set(this.#placing.cursor);
    const step = /** @type {Record<string, Pair>} */ ({ ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] })[event.key];
    if (!step) return;
    event.preventDefault();
    const far = event.shiftKey ? 10 : 1;
    const number = /** @type {Element} */ (event.target).getAttribute("data-handle");
    if (number !== null) return this.#nudge(this.#handles[Number(number)], [far * step[0], far * step[1]]);
    if (this.#placing) this.#placing.cursor = inside([this.#placing.cursor[0] + (far * step[0] * 2) / this.#view.scale, this.#placing.cursor[1] + (far * step[1] * 2) / this.#view.scale], this.#size);
    else this.#view = panned(this.#view, [-40 * step[0], -40 * step[1]]);
    this.#draw();
  }

  /** @param {Handle} handle @param {Pair} by */
  #nudge(handle, by) {
    handle.at = inside([handle.at[0] + by[0], handle.at[1] + by[1]], this.#size);
    this.#askCoarse();
    this.#draw();
    if (this.#keyTimer === undefined) this.#keyBase = this.#desk.standing?.text;
    clearTimeout(this.#keyTimer);
    this.#keyTimer = setTimeout(() => {
      this.#keyTimer = undefined;
      this.#put(handle, this.#keyBase);
    }, KEYS_APART);
  }

  /** @param {Handle} handle @param {string | undefined} base */
  #put(handle, base) {
    this.#desk.edit(handle.mark.write(this.#placesOf(handle.mark).map((at) => /** @type {Pair} */ (at.map(tenths)))), base);
  }

  /** @param {Mark} mark @returns {Pair[]} */
  #placesOf(mark) {
    return this.#handles.filter((other) => other.mark === mark).map((other) => other.at);
  }

  /** One question at a time, the newest places in it. */
  async #askCoarse() {
    const axis = this.#handles.filter((handle) => handle.mark.id === "axis").map((handle) => handle.at);
    if (this.#asking || axis.length !== 2 || this.#press?.handle?.mark.id === "neutral") return;
    this.#asking = true;
    performance.mark("outline-asked");
    const told = await this.#desk.outlineOfDrag(this.#entry.name, axis);
    this.#asking = false;
    if (!this.held) return;
    this.#coarse = told?.part ? told : null;
    this.#told.textContent = told?.why ? `No outline from here: ${told.why}` : "";
    this.#draw();
    performance.measure("outline while dragging", "outline-asked");
    const now = this.#handles.filter((handle) => handle.mark.id === "axis").map((handle) => handle.at);
    if (String(now) !== String(axis)) this.#askCoarse();
  }

  /** Draws once a frame, however many events ask for it. */
  #draw() {
    if (this.#drawn) return;
    this.#drawn = requestAnimationFrame(() => {
      this.#drawn = 0;
      this.#drawNow();
      if (this.#press?.moving && this.#press.handle && performance.getEntriesByName("drag").length) {
        performance.measure("handle while dragging", "drag");
        performance.clearMarks("drag");
      }
    });
  }

  #drawNow() {
    const [left, top] = toScreen(this.#view, [0, 0]);
    this.#image.style.transform = `translate(${left}px, ${top}px)`;
    this.#image.style.width = `${this.#size[0] * this.#view.scale}px`;
    this.#image.style.height = `${this.#size[1] * this.#view.scale}px`;
    this.#image.classList.toggle("pixels", this.#view.scale > 3);
    const dragged = this.#press?.handle ?? null;
    const flat = this.#layOver();
    const found = this.#coarse ? [line("coarse", this.#coarse.part, this.#view, false), line("rod", this.#coarse.rod_left, this.#view, false), line("rod", this.#coarse.rod_right, this.#view, false)] : curves(this.#found, this.#view, { ...this.#shown, likeness: flat, colour: this.#desk.standing?.result?.colour?.srgb ?? "#808080" });
    const polygons = this.#marks.filter((mark) => mark.places).map((mark) => line(`mark ${mark.id}`, this.#placesOf(mark), this.#view, mark.closed));
    const focused = this.#drawing.contains(document.activeElement) ? document.activeElement?.getAttribute("data-handle") : null;
    this.#drawing.replaceChildren(...found, ...polygons, ...this.#handles.map((handle, number) => cross(handle, number, toScreen(this.#view, handle.at), handle === dragged)), ...this.#placed());
    if (focused !== null && focused !== undefined) /** @type {SVGElement | null} */ (this.#drawing.querySelector(`[data-handle="${focused}"]`))?.focus();
  }

  /** The body over the photo; how much of a flat likeness is to be drawn instead, where the body can't be shown in space. */
  #layOver() {
    const share = this.#shown.likeness;
    const pose = this.#found?.pose;
    if (share <= 0 || this.#coarse || !pose || !this.#likeness.able || !this.#desk.standing?.files.includes("part.glb")) {
      this.#likeness.hide();
      return this.#coarse ? 0 : share;
    }
    this.#likeness.show(pose, this.#size, this.#view, share);
    return 0;
  }

  /** What has been set of a mark that is being placed, and the cross for keys. */
  #placed() {
    if (!this.#placing) return [];
    const { places, cursor } = this.#placing;
    const [x, y] = toScreen(this.#view, cursor);
    const crosses = places.map((at) => {
      const [px, py] = toScreen(this.#view, at);
      return made("path", { class: "cross", d: `M${px - 9} ${py}h18M${px} ${py - 9}v18` });
    });
    return [line("mark", places, this.#view, false), ...crosses, made("path", { class: "cursor", d: `M${x - 14} ${y}h28M${x} ${y - 14}v28` })];
  }
}

/** Tenths of a pixel: finer than any click. @param {number} value */
function tenths(value) {
  return Math.round(value * 10) / 10;
}
