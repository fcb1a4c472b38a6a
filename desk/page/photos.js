// All photos of the job, each behind a fold; a photo is read when its fold is opened.
//
//   const tables = new PhotoTables(desk);
//   tables.renew(section);      // under the head of the section "outline"

import { PhotoTable } from "./photo.js";
import { element } from "./slips.js";

/** @typedef {import("./desk.js").Desk} Desk */

/** Tells `still` when a hand lets go. */
export class PhotoTables extends EventTarget {
  /** @type {Desk} */
  #desk;
  /** @type {Map<string, {fold: HTMLElement, table: PhotoTable | null}>} */
  #all = new Map();
  #place = element("div", { class: "photo-tables slips" }, []);

  /** @param {Desk} desk */
  constructor(desk) {
    super();
    this.#desk = desk;
  }

  /** Whether a hand is on a picture. */
  get held() {
    return [...this.#all.values()].some(({ table }) => table?.held);
  }

  /** @param {Element} section */
  renew(section) {
    const body = section.querySelector(".body");
    if (body && this.#place.parentElement !== body) body.prepend(this.#place);
    const photos = /** @type {any[]} */ (this.#desk.standing?.document?.photo ?? []);
    const names = photos.map((entry) => entry.name);
    for (const [name, { fold }] of this.#all) {
      if (names.includes(name)) continue;
      fold.remove();
      this.#all.delete(name);
    }
    for (const name of names) if (!this.#all.has(name)) this.#add(name);
    for (const entry of photos) this.#all.get(entry.name)?.table?.renew(entry);
  }

  /** @param {string} name */
  #add(name) {
    const fold = element("details", {}, [element("summary", {}, [`Photo ${name}: marks, edges, likeness`])]);
    const one = { fold, table: /** @type {PhotoTable | null} */ (null) };
    fold.addEventListener("toggle", () => {
      if (!fold.hasAttribute("open") || one.table) return;
      const entry = this.#desk.standing?.document?.photo?.find((/** @type {any} */ photo) => photo.name === name);
      one.table = new PhotoTable(this.#desk, entry, () => this.dispatchEvent(new Event("still")));
      fold.append(one.table.place);
    });
    this.#all.set(name, one);
    this.#place.append(fold);
  }
}
