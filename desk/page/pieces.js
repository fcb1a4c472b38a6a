// Brings a piece of the sheet up to date without disturbing what stayed as it was: a field that is being written in, a picture that is dragged
// on, a canvas and every ruler that did not change keep their elements, with focus, caret and listeners.
//
//   const place = new Piece(div);
//   place.swap(html);          // all of it anew
//   place.renew(id, parts);    // a station's section: only parts that are another by now are read and swapped

/**
 * @typedef {"head" | "body" | "foot"} Holder before the section's body, in it, after it
 * @typedef {[Holder, string, string | null]} Part where it stands, stamp, HTML unless the page has it; each is one element
 */

export class Piece {
  /** @type {Element} */
  #place;
  /** The parts on the page, in their order. @type {{holder: Holder, stamp: string, live: Element}[] | null} */
  #parts = null;

  /** @param {Element} place */
  constructor(place) {
    this.#place = place;
  }

  /** Stamps of the parts, by which the page says what it has; "" where it has none. */
  get stamps() {
    return (this.#parts ?? []).map(({ stamp }) => stamp).join(" ");
  }

  /** @param {string} html */
  swap(html) {
    this.#parts = null;
    this.#place.innerHTML = html;
  }

  /**
   * What the page came with is known by its parts' stamps. Nothing may have been put among them yet.
   * @param {Part[]} parts
   */
  adopt(parts) {
    const section = this.#place.querySelector(":scope > section.station");
    const body = section?.querySelector(":scope > .body");
    if (!section || !body) return;
    const beside = [...section.children].filter((child) => child !== body);
    const within = [...body.children];
    const live = (/** @type {Part} */ [holder]) => (holder === "body" ? within : beside).shift();
    const all = parts.map((part) => ({ holder: part[0], stamp: part[1], live: live(part) }));
    if (all.every(({ live }) => live) && within.length + beside.length === 0) this.#parts = /** @type {any} */ (all);
  }

  /** @param {string} id of the station @param {Part[]} parts @returns {boolean} false where the page lacks one that was not sent */
  renew(id, parts) {
    const section = (this.#parts && this.#place.querySelector(":scope > section.station")) ?? this.#empty(id);
    const body = /** @type {Element} */ (section.querySelector(":scope > .body"));
    // What somebody else's hand took off the page is not there any more.
    const old = (this.#parts ?? []).filter(({ live }) => section.contains(live));
    const kept = new Set();
    const wanted = parts.map(([holder, stamp, html], n) => {
      const here = old[n]?.stamp === stamp && old[n].holder === holder && !kept.has(old[n]) ? old[n] : old.find((one) => one.stamp === stamp && one.holder === holder && !kept.has(one));
      if (here) kept.add(here);
      return { holder, stamp, live: here?.live ?? read(html) };
    });
    if (wanted.some(({ live }) => live === null)) return false;
    for (const holder of /** @type {Holder[]} */ (["head", "body", "foot"])) {
      const inside = holder === "body" ? body : section;
      const start = document.createComment("");
      const first = old.find((one) => one.holder === holder)?.live;
      if (first) first.before(start);
      else if (holder === "head") section.prepend(start);
      else if (holder === "foot") body.after(start);
      else body.append(start);
      for (const one of old) if (one.holder === holder && !kept.has(one)) one.live.remove();
      // What stands where it should is not touched.
      /** @type {ChildNode | null} */
      let next = start.nextSibling;
      for (const { live } of wanted.filter((one) => one.holder === holder)) {
        if (live === next) next = live?.nextSibling ?? null;
        else inside.insertBefore(/** @type {Element} */ (live), next);
      }
      start.remove();
    }
    this.#parts = /** @type {any} */ (wanted);
    return true;
  }

  /** @param {string} id */
  #empty(id) {
    const section = document.createElement("section");
    section.className = "station";
    section.id = id;
    section.setAttribute("aria-labelledby", `${id}-question`);
    const body = document.createElement("div");
    body.className = "body";
    section.append(body);
    this.#place.replaceChildren(section);
    this.#parts = null;
    return section;
  }
}

/** @param {string | null} html of one element @returns {Element | null} */
function read(html) {
  if (html === null) return null;
  const template = document.createElement("template");
  template.innerHTML = html;
  return template.content.firstElementChild;
}
