// The one module that knows the server.
//
//   const desk = new Desk();
//   desk.addEventListener("standing", () => show(desk.standing));
//   await desk.load();
//   await desk.edit([{ path: ["run", "wanted"], value: 24 }]);

/**
 * @typedef {string | number | {name: string}} Where one step down into the document
 * @typedef {{path: Where[], value: unknown}} Edit what stands at `path` becomes `value`; null takes it out
 * @typedef {Record<string, any>} Fields a table of the document
 * @typedef {import("./pieces.js").Part} Part
 * @typedef {[string, string, string | null, Part[] | null]} Piece name, stamp, HTML unless the page has it or gets its parts, its parts
 * @typedef {{empty: boolean, coming?: boolean, stamp: string, text: string, document: Fields | null, can_undo: boolean, can_redo: boolean, problems: string[], working: string | null, stopped: boolean, files: string[], result: Fields | null, pieces: Piece[]}} Standing
 */

export class Desk extends EventTarget {
  /** @type {Standing | null} The job as last heard of. */
  standing = null;
  /** Stamps of the pieces and of the result's fields that the page has. @type {Record<string, string>} */
  known = {};
  /** Requests still on their way. */
  waiting = 0;
  /** Answers may overtake each other: only the one to the newest request counts. */
  #asked = 0;
  /** The state of the document's file that was heard of last; one's own change comes back as news, too. */
  #heard = "";
  /** The states of the last answers, the newest first; each write of the file makes another. @type {string[]} */
  #stamps = [];
  /** The document's text as told last; an answer that was overtaken may tell it. */
  #text = "";
  /** Changes wait for the one before: the next is made on what that one made, and never clashes with it. @type {Promise<unknown>} */
  #turn = Promise.resolve();
  /** It was heard that what was worked out is done. */
  #done = false;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #later;

  /** Asks for the job as it stands on disk. */
  async load() {
    return this.#ask("/api/job", JSON.stringify({ known: this.known }));
  }

  /**
   * Makes changes, all or none.
   * @param {Edit[]} edits
   * @param {string} [base] the document's text that the person had in view when the change was begun; without it, the newest one
   * @returns {Promise<boolean>} whether they were made; if not, why was told as news
   */
  async edit(edits, base) {
    return this.#inTurn("/api/edit", () => ({ base: base ?? this.#text, edits, known: this.known }));
  }

  /** Tells what was met with on the page itself. @param {string} text */
  warn(text) {
    this.#say(text, true);
  }

  /** Back one version. */
  async undo() {
    return this.#inTurn("/api/undo", () => ({ known: this.known }));
  }

  /** Forward one version. */
  async redo() {
    return this.#inTurn("/api/redo", () => ({ known: this.known }));
  }

  /** Stops what is being worked out. */
  async stop() {
    return this.#ask("/api/stop", JSON.stringify({ known: this.known }));
  }

  /** Works out what was stopped. */
  async again() {
    return this.#ask("/api/again", JSON.stringify({ known: this.known }));
  }

  /** @param {{title?: string, rod?: string, demo?: boolean}} wanted a job in a folder that has none */
  async start(wanted) {
    return this.#ask("/api/start", JSON.stringify(wanted));
  }

  /** @param {File} file a photo, laid into the job as it is */
  async addPhoto(file) {
    return this.#ask(`/api/photo?file=${encodeURIComponent(file.name)}`, file);
  }

  /**
   * Lays a file of an instrument into the job.
   * @param {File} file
   * @returns {Promise<string | null>} its name in the folder; null where it was refused, which is told as news
   */
  async addReading(file) {
    try {
      const answer = await fetch(`/api/reading?file=${encodeURIComponent(file.name)}`, { method: "POST", body: file });
      const told = answer.headers.get("content-type")?.includes("json") ? await answer.json() : {};
      if (answer.ok) return told.file;
      this.#say(answer.status === 413 ? `${file.name} is larger than 1 MiB: it holds more than a spectrum.` : told.problem ?? "The program could not do this.", true);
    } catch {
      this.#say("The program does not answer; the file was not laid in.", true);
    }
    return null;
  }

  /**
   * The outline as two clicks would have it; null while it can't be told.
   * @param {string} photo @param {[number, number][]} axis
   * @returns {Promise<Fields | null>}
   */
  async outlineOfDrag(photo, axis) {
    try {
      const answer = await fetch("/api/outline", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ photo, axis }) });
      return answer.ok ? await answer.json() : null;
    } catch {
      return null;
    }
  }

  /** Tells this page when the document changes elsewhere, what is being worked out, and when it is done. */
  listen() {
    const news = new EventSource("/events");
    news.addEventListener("changed", (event) => {
      this.#heard = event.data;
      this.#look();
    });
    news.addEventListener("made", () => {
      this.#done = true;
      this.#look();
    });
    news.addEventListener("step", (event) => {
      if (this.standing?.working) this.#tell("step", { text: event.data });
    });
    let away = false;
    news.addEventListener("error", () => {
      away = true;
      this.#say("The program does not answer. It may have been stopped; nothing is lost. Start it again and load this page.", true);
    });
    news.addEventListener("open", () => {
      if (away) {
        this.#say("", false);
        this.load();
      }
      away = false;
    });
  }

  /** @param {string} address @param {() => Fields} body made when its turn has come @returns {Promise<boolean>} */
  #inTurn(address, body) {
    const asked = this.#turn.then(() => this.#ask(address, JSON.stringify(body())));
    this.#turn = asked;
    return asked;
  }

  /**
   * @param {string} address
   * @param {BodyInit} [body]
   */
  async #ask(address, body) {
    const number = (this.#asked += 1);
    this.waiting += 1;
    this.#tell("busy", {});
    try {
      const headers = typeof body === "string" ? { "Content-Type": "application/json" } : undefined;
      const answer = await fetch(address, { method: "POST", body, headers });
      if (answer.status === 401) {
        this.#say("The program was started anew and has a new key. Nothing is lost: open the address that it printed.", true);
        return false;
      }
      const told = await answer.json();
      if (!answer.ok) {
        this.#say((told.conflict ?? told.problem ?? "The program could not do this.").replace(/^error: /, "").replace(/\s+hint: /, " Way out: "), true);
        if (answer.status === 409) await this.load();
        return false;
      }
      this.#text = told.text;
      if (number === this.#asked) {
        this.standing = { ...told, result: this.#result(told.result), pieces: this.#pieces(told.pieces) };
        // A look at the job must not wipe away the words of a refusal.
        if (address !== "/api/job") this.#say("", false);
        this.#stamps = [told.stamp, ...this.#stamps].slice(0, 8);
        this.#know(this.standing?.pieces ?? []);
        this.#tell("standing", {});
        clearTimeout(this.#later);
        // News of the end may have come before this answer did.
        if (told.working || told.coming) this.#later = setTimeout(() => this.waiting === 0 && this.load(), 1500);
      }
      return true;
    } catch {
      // A look that failed is no news: the line of news itself tells when the program is gone.
      if (address !== "/api/job") this.#say("The program does not answer. Load the page again to see what was written.", true);
      return false;
    } finally {
      this.waiting -= 1;
      this.#tell("busy", {});
      this.#look();
    }
  }

  /**
   * What the page was sent but has not shown yet, since a hand was on a picture, is not sent again: its HTML is kept.
   * @param {Piece[]} pieces @returns {Piece[]}
   */
  #pieces(pieces) {
    const before = new Map((this.standing?.pieces ?? []).map((piece) => [piece[0], piece]));
    return pieces.map(([id, stamp, html, parts]) => {
      const old = before.get(id);
      const same = old?.[1] === stamp;
      const texts = new Map((old?.[3] ?? []).map(([_, part, text]) => [part, text]));
      const all = parts?.map(([holder, part, text]) => /** @type {Part} */ ([holder, part, text ?? texts.get(part) ?? null]));
      return [id, stamp, html ?? (same ? old[2] : null), all ?? (same ? old[3] : null)];
    });
  }

  /** Stamps of the pieces and their parts, and nothing else, are what the page has. @param {Piece[]} pieces */
  #know(pieces) {
    for (const name of Object.keys(this.known)) if (!name.startsWith("result.")) delete this.known[name];
    for (const [id, stamp, , parts] of pieces) {
      this.known[id] = stamp;
      if (parts) this.known[`parts.${id}`] = parts.map(([, part]) => part).join(" ");
    }
  }

  /** The page lacks a piece that it was thought to have: it is asked for whole. @param {string} id */
  forget(id) {
    delete this.known[id];
    delete this.known[`parts.${id}`];
    this.standing?.pieces.splice(0, Infinity, ...this.standing.pieces.filter(([name]) => name !== id));
    this.load();
  }

  /**
   * The result from its fields: name, stamp, value unless this page has it.
   * @param {[string, string, unknown, boolean][] | null} fields
   */
  #result(fields) {
    for (const name of Object.keys(this.known)) if (name.startsWith("result.")) delete this.known[name];
    if (!fields) return null;
    /** @type {Fields} */
    const result = {};
    for (const [name, stamp, value, has] of fields) {
      result[name] = has ? this.standing?.result?.[name] : value;
      this.known[`result.${name}`] = stamp;
    }
    return result;
  }

  /** Asks for what is new, if anything is; news that comes while an answer is on its way may be newer than the answer. */
  #look() {
    if (this.waiting > 0) return;
    // News may be late: of a state that an earlier answer told already.
    const other = this.#heard !== "" && !this.#stamps.includes(this.#heard);
    const done = this.#done && Boolean(this.standing?.working);
    this.#heard = "";
    this.#done = false;
    if (other || done) this.load();
  }

  /** @param {string} text @param {boolean} trouble */
  #say(text, trouble) {
    this.#tell("news", { text, trouble });
  }

  /** @param {string} name @param {Fields} detail */
  #tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }
}
