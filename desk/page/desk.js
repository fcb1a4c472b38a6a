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
 * @typedef {{text: string, document: Fields | null, can_undo: boolean, can_redo: boolean, problems: string[], result: Fields | null, pieces: [string, string][]}} Standing
 */

export class Desk extends EventTarget {
  /** @type {Standing | null} The job as last heard of. */
  standing = null;
  /** Requests still on their way. */
  waiting = 0;

  /** Asks for the job as it stands on disk. */
  async load() {
    await this.#ask("GET", "/api/job");
  }

  /**
   * Makes changes, all or none.
   * @param {Edit[]} edits
   * @returns {Promise<boolean>} whether they were made; if not, why was told as news
   */
  async edit(edits) {
    return this.#ask("POST", "/api/edit", JSON.stringify({ base: this.standing?.text ?? "", edits }));
  }

  /** Back one version. */
  async undo() {
    return this.#ask("POST", "/api/undo");
  }

  /** Forward one version. */
  async redo() {
    return this.#ask("POST", "/api/redo");
  }

  /** @param {File} file a photo, laid into the job as it is */
  async addPhoto(file) {
    return this.#ask("POST", `/api/photo?file=${encodeURIComponent(file.name)}`, file);
  }

  /** Tells this page when the document changes elsewhere. */
  listen() {
    const news = new EventSource("/events");
    news.addEventListener("changed", () => {
      if (this.waiting === 0) this.load();
    });
    news.addEventListener("error", () => this.#say("The program does not answer. It may have been stopped; nothing is lost. Start it again and load this page.", true));
    news.addEventListener("open", () => this.#say("", false));
  }

  /**
   * @param {string} method
   * @param {string} address
   * @param {BodyInit} [body]
   */
  async #ask(method, address, body) {
    this.waiting += 1;
    this.dispatchEvent(new Event("busy"));
    try {
      const headers = typeof body === "string" ? { "Content-Type": "application/json" } : undefined;
      const answer = await fetch(address, { method, body, headers });
      const told = await answer.json();
      if (!answer.ok) {
        this.#say(told.conflict ?? told.problem ?? "The program could not do this.", true);
        if (answer.status === 409) await this.load();
        return false;
      }
      this.standing = told;
      this.#say("", false);
      this.dispatchEvent(new Event("standing"));
      return true;
    } catch {
      this.#say("The program does not answer. Nothing was changed.", true);
      return false;
    } finally {
      this.waiting -= 1;
      this.dispatchEvent(new Event("busy"));
    }
  }

  /**
   * @param {string} text
   * @param {boolean} trouble
   */
  #say(text, trouble) {
    this.dispatchEvent(new CustomEvent("news", { detail: { text, trouble } }));
  }
}
