// Brings a piece of the sheet up to date without disturbing what stayed as it was: a field that is being written in, a picture that is dragged
// on, a canvas and every ruler that did not change keep their elements, with focus, caret and listeners.
//
//   const place = new Piece(div, html);   // what the page came with
//   place.renew(html);                    // only parts whose HTML differs are swapped

/** A section is swapped in these: its margin, head, doubts, and each block of its body. @param {Element} root */
function parts(root) {
  const section = root.querySelector(":scope > section.station");
  if (!section || root.children.length > 1) return null;
  return [...section.children].flatMap((child) => (child.classList.contains("body") ? [...child.children] : [child]));
}

/** A part's place: which container it stands in. @param {Element} part */
function holder(part) {
  return part.parentElement?.classList.contains("body") ? "body" : "section";
}

export class Piece {
  /** @type {Element} */
  #place;
  /** Each part's HTML as it came, and its element on the page. @type {{html: string, live: Element}[] | null} */
  #parts = null;

  /** @param {Element} place */
  constructor(place) {
    this.#place = place;
  }

  /** @param {string} html */
  renew(html) {
    const template = document.createElement("template");
    template.innerHTML = html;
    const fresh = document.createElement("div");
    fresh.append(template.content);
    const wanted = parts(fresh);
    if (!wanted || !this.#parts || !this.#patched(wanted)) this.#swapped(fresh, wanted);
  }

  /** All of it anew. @param {Element} fresh @param {Element[] | null} wanted */
  #swapped(fresh, wanted) {
    this.#parts = wanted?.map((live) => ({ html: live.outerHTML, live })) ?? null;
    this.#place.replaceChildren(...fresh.childNodes);
  }

  /**
   * Parts that stayed keep their elements: those before the first that differs and those behind the last.
   * @param {Element[]} wanted
   */
  #patched(wanted) {
    const before = this.#parts ?? [];
    // Somebody else's hand on the page: what is known of it can't be trusted.
    if (before.some(({ live }) => !this.#place.contains(live))) return false;
    const texts = wanted.map((part) => part.outerHTML);
    const kept = (/** @type {number} */ from, /** @type {number} */ to) => before[from] !== undefined && before[from].html === texts[to] && holder(before[from].live) === holder(wanted[to]);
    let head = 0;
    while (head < texts.length && head < before.length && kept(head, head)) head++;
    let tail = 0;
    while (tail < texts.length - head && tail < before.length - head && kept(before.length - 1 - tail, texts.length - 1 - tail)) tail++;
    const middle = wanted.slice(head, wanted.length - tail);
    const old = before.slice(head, before.length - tail);
    // One for one where as many came as went; a part in between that stayed keeps its element, too.
    if (middle.length === old.length && middle.every((part, n) => holder(part) === holder(old[n].live))) {
      const now = middle.map((part, n) => {
        const html = texts[head + n];
        if (old[n].html === html) return old[n];
        old[n].live.replaceWith(part);
        return { html, live: part };
      });
      this.#parts = [...before.slice(0, head), ...now, ...before.slice(before.length - tail)];
      return true;
    }
    // More or fewer: all of them stand in one container, or the section is made anew.
    if ([...middle, ...old.map(({ live }) => live)].some((part) => holder(part) !== "body")) return false;
    const body = this.#place.querySelector(":scope > section.station > .body");
    const last = before[head - 1]?.live;
    const next = before[before.length - tail];
    for (const { live } of old) live.remove();
    if (last && holder(last) === "body") last.after(...middle);
    else if (next && holder(next.live) === "body") next.live.before(...middle);
    else body?.append(...middle);
    this.#parts = [...before.slice(0, head), ...middle.map((live, n) => ({ html: texts[head + n], live })), ...before.slice(before.length - tail)];
    return body !== null;
  }
}
