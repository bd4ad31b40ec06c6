/**
 * What the page knows, in one place: one painting, what is looked at, what is going on.
 *
 * Elements draw it and call its methods; nothing else changes it. Every accepted change is sent
 * with the revision it was made on. If another tab was quicker the newest state is shown and said
 * so; nothing is written over silently.
 */

import { Problem, ask, follow, send, stop } from "./api.js";

/** @typedef {import("./api-types.js").PaintingView} PaintingView */
/** @typedef {import("./api-types.js").SpotAnswer} SpotAnswer */
/** @typedef {import("./api-types.js").OtherMixture} OtherMixture */
/** @typedef {import("./api-types.js").Moved} Moved */
/** @typedef {import("./api-types.js").OwnPaints} OwnPaints */
/** @typedef {import("./api-types.js").Scene} Scene */
/** @typedef {import("./api-types.js").Brief} Brief */
/** @typedef {import("./api.js").Doing} Doing */

/**
 * @typedef {object} Work
 * @property {string} job
 * @property {string} kind
 * @property {Doing} doing
 */

/**
 * A hand tool: what a stroke on the sheet is for.
 * @typedef {object} Hand
 * @property {string} kind
 * @property {string} say what to do, shown while it is held
 * @property {boolean} [outlined] whether the shapes are drawn on the sheet meanwhile
 * @property {(points: [number, number][]) => Promise<unknown> | void} done points in mm
 */

/**
 * @typedef {object} State
 * @property {PaintingView | null} painting
 * @property {OwnPaints | null} paints
 * @property {string} looking name of the picture on the sheet: "reference", "stage-2", …
 * @property {"" | "edge" | "blink"} comparing
 * @property {SpotAnswer | null} spot
 * @property {OtherMixture[] | null} others
 * @property {string} othersOf "layer.number" the other mixtures are of
 * @property {Moved | null} moved
 * @property {Work | null} work
 * @property {Hand | null} hand
 * @property {string} early address of a first look at the lay-in, while the plan is being made
 * @property {string} problem
 * @property {string} news
 * @property {boolean} waiting
 * @property {boolean} folded whether the sheet is folded away on a narrow screen
 * @property {boolean} board whether the screen at the board is open
 * @property {boolean} numbers whether figures are shown
 */

const SEEN = "The lay-in can be seen"; // the step from which there is something to look at

/** @type {State} */
const EMPTY = {
  painting: null,
  paints: null,
  looking: "reference",
  comparing: "",
  spot: null,
  others: null,
  othersOf: "",
  moved: null,
  work: null,
  hand: null,
  early: "",
  problem: "",
  news: "",
  waiting: false,
  folded: false,
  board: false,
  numbers: false,
};

/** The painter has gone back to the list while something was still under way. */
class Gone extends Error {}

export class Worksheet {
  constructor() {
    /** @type {State} */
    this.state = { ...EMPTY };
    /** @type {Set<() => void>} */
    this.listeners = new Set();
    /** @type {AbortController | null} */
    this.trying = null;
    /** @type {Promise<unknown>} */
    this.last = Promise.resolve();
    /** The newest revision of each painting that a change was answered with. @type {Map<string, string>} */
    this.newest = new Map();
    /** The painting being opened; an answer on another one comes too late. */
    this.opening = "";
  }

  /** @param {Partial<State>} part */
  set(part) {
    this.state = { ...this.state, ...part };
    for (const tell of this.listeners) tell();
  }

  /** @param {() => void} tell */
  listen(tell) {
    this.listeners.add(tell);
    return () => this.listeners.delete(tell);
  }

  /** The painting shown; only called where there is one. */
  get painting() {
    const { painting } = this.state;
    if (!painting) throw new Gone("no painting is open");
    return painting;
  }

  get path() {
    return `/api/paintings/${encodeURIComponent(this.painting.id)}`;
  }

  /**
   * Do something that may be refused; a refusal is shown, not thrown.
   * @template T
   * @param {() => Promise<T>} work
   * @param {boolean} [asked] whether the painter did it; what the page looks up by itself leaves
   *   the words on the painter's last doing alone
   * @returns {Promise<T | undefined>}
   */
  async attempt(work, asked = true) {
    this.set(asked ? { waiting: true, problem: "", news: "" } : { waiting: true });
    try {
      return await work();
    } catch (error) {
      if (error instanceof Problem && error.status === 409) await this.overtaken();
      else if (error instanceof Problem) this.set({ problem: error.message });
      else if (!(error instanceof Gone)) throw error;
      return undefined;
    } finally {
      this.set({ waiting: false });
    }
  }

  async overtaken() {
    if (!this.state.painting) return; // left meanwhile: the newest is shown when it is opened again
    await this.reload();
    this.set({
      problem:
        "This painting was changed in another tab or on another device. What is shown now is the newest; make your change again if you still want it.",
    });
  }

  // --- opening -----------------------------------------------------------------

  /** @param {string} id */
  async open(id) {
    this.opening = id;
    this.set({ ...EMPTY, paints: this.state.paints });
    await this.attempt(async () => {
      const shown = await ask("GET", `/api/paintings/${encodeURIComponent(id)}`);
      if (this.opening !== id) return;
      this.show(/** @type {PaintingView} */ (shown));
      if (this.painting.plan) this.set({ looking: "stage-1" });
      await this.resume();
    });
  }

  async reload() {
    const { id } = this.painting;
    const shown = /** @type {PaintingView} */ (await ask("GET", this.path));
    if (this.state.painting?.id === id) this.show(shown);
  }

  close() {
    this.opening = "";
    this.set({ ...EMPTY, paints: this.state.paints });
  }

  /** @param {PaintingView} painting */
  show(painting) {
    const before = this.state.painting;
    const samePlan = before?.plan?.stamp === painting.plan?.stamp;
    const fits = this.canLook(painting, this.state.looking);
    /** @type {Partial<State>} */
    const part = { painting, moved: null };
    if (!samePlan) Object.assign(part, { others: null, othersOf: "" });
    if (!fits) part.looking = painting.plan ? "stage-1" : "reference";
    this.set(part);
    document.title = `${painting.name}, firstwash`;
    const sameKept = JSON.stringify(before?.brief.kept) === JSON.stringify(painting.brief.kept);
    if (this.state.spot && !(samePlan && sameKept)) {
      if (painting.plan) void this.touch(this.state.spot.x_mm, this.state.spot.y_mm);
      else this.set({ spot: null });
    }
  }

  /**
   * @param {PaintingView} painting
   * @param {string} looking
   */
  canLook(painting, looking) {
    if (/^(stage|finished|difference)/.test(looking)) {
      const stage = Number(looking.split("-")[1] ?? 0);
      return !!painting.plan && stage <= painting.plan.layers.length;
    }
    return true;
  }

  async loadPaints() {
    this.set({ paints: await ask("GET", "/api/paints") });
  }

  // --- accepted changes ----------------------------------------------------------

  /**
   * One accepted change after another: each waits for the one before, so that it is made on it.
   * @param {string} path below the painting
   * @param {Record<string, unknown>} body
   * @returns {Promise<boolean>} whether it was accepted
   */
  accept(path, body) {
    const { id, revision } = this.painting;
    const to = `${this.path}${path}`;
    const next = this.last.then(async () => {
      // The painter may be elsewhere by now; what was asked for is done all the same.
      const here = this.state.painting?.id === id ? this.painting.revision : "";
      const base = here || this.newest.get(id) || revision;
      const shown = /** @type {PaintingView | undefined} */ (
        await this.attempt(() => ask("POST", to, { base, ...body }))
      );
      if (shown) this.newest.set(id, shown.revision);
      if (shown && this.state.painting?.id === id) this.show(shown);
      return !!shown;
    });
    this.last = next.catch(() => {});
    return next;
  }

  /**
   * Something else to be kept, once what was asked before it is done.
   * @template T
   * @param {() => Promise<T>} work
   * @returns {Promise<T>}
   */
  inTurn(work) {
    const next = this.last.then(work);
    this.last = next.catch(() => {});
    return next;
  }

  /**
   * @param {string} words what the painter did
   * @param {Partial<Brief>} changes
   */
  change(words, changes) {
    return this.accept("/change", { words, ...changes });
  }

  /**
   * @param {string} words
   * @param {Partial<Scene>} changes
   */
  changeScene(words, changes) {
    const scene = { ...this.painting.brief.scene, ...changes };
    return this.change(words, { scene });
  }

  back() {
    return this.accept("/back", {});
  }

  forward() {
    return this.accept("/forward", {});
  }

  // --- long work -------------------------------------------------------------------

  plan() {
    return this.begin("/plan", "plan");
  }

  /**
   * @param {string} path
   * @param {string} kind
   * @param {Record<string, unknown>} [asked]
   */
  async begin(path, kind, asked = {}) {
    await this.last;
    const begun = await this.attempt(() =>
      ask("POST", `${this.path}${path}`, { base: this.painting.revision, ...asked }),
    );
    if (begun) await this.await(/** @type {{job: string}} */ (begun).job, kind);
  }

  /** Work of this painting that goes on from before a reload. */
  async resume() {
    const { jobs } = /** @type {{jobs: {id: string, key: string, kind: string, state: string}[]}} */ (
      await ask("GET", "/api/jobs")
    );
    const mine = jobs.find(
      (job) =>
        ["waiting", "running"].includes(job.state) &&
        ["plan", "judge", "handout", "finished"].some((kind) => job.key === `${kind} ${this.painting.id}`),
    );
    if (mine) void this.await(mine.id, mine.kind);
  }

  /**
   * @param {string} job
   * @param {string} kind
   */
  async await(job, kind) {
    const id = this.painting.id;
    this.set({ work: { job, kind, doing: { step: "Getting ready", done: 0, seconds: 0, usual: null } } });
    await this.attempt(async () => {
      try {
        const made = await follow(job, (doing) => {
          if (this.state.work?.job !== job) return;
          this.set({ work: { job, kind, doing } });
          if (doing.step.startsWith(SEEN) && !this.state.early) this.set({ early: `/api/jobs/${encodeURIComponent(job)}/look`, looking: "look", comparing: "" });
        });
        if (this.state.painting?.id !== id) return;
        if (made) {
          await this.reload();
          if (kind === "plan") this.set({ looking: "stage-1", comparing: "", news: "The plan is made. The sheet shows the lay-in; touch any spot of it to see what lies there and why." });
          if (kind === "finished") this.set({ news: made["lost"] ? "The sheet was not found in the photo; touch its four corners in the section on the finished painting." : "The finished painting is squared; see it in its section." });
          if (kind === "handout") this.set({ news: "The hand-out is made; take it along from its section." });
        } else this.set({ news: "Stopped. Nothing was changed." });
      } finally {
        if (this.state.work?.job === job) this.set({ work: null, early: "", looking: this.state.looking === "look" ? "reference" : this.state.looking });
      }
    });
  }

  async stop() {
    const { work } = this.state;
    if (work) await this.attempt(() => stop(work.job));
  }

  // --- a touched spot ----------------------------------------------------------------

  /**
   * @param {number} x mm
   * @param {number} y mm
   */
  async touch(x, y) {
    if (!this.painting.plan) return;
    const spot = await this.attempt(() => ask("GET", `${this.path}/spot?x=${x}&y=${y}`));
    if (spot) this.set({ spot: /** @type {SpotAnswer} */ (spot), others: null, othersOf: "", moved: null });
  }

  /**
   * @param {number} layer
   * @param {number} number
   */
  async seeOthers(layer, number) {
    const of = `${layer}.${number}`;
    if (this.state.othersOf === of) {
      this.set({ others: null, othersOf: "" });
      return;
    }
    const others = await this.attempt(() =>
      ask("GET", `${this.path}/others?layer=${layer}&number=${number}`),
    );
    if (others) this.set({ others: /** @type {OtherMixture[]} */ (others), othersOf: of });
  }

  /**
   * A strength tried, seen at once and not accepted. Only the latest try counts.
   * @param {number} layer
   * @param {number} number
   * @param {number} strength
   * @param {number} cell
   */
  async tryStrength(layer, number, strength, cell) {
    this.trying?.abort();
    const trying = new AbortController();
    this.trying = trying;
    const query = `layer=${layer}&number=${number}&strength=${strength}&cell=${cell}`;
    try {
      const moved = await ask("GET", `${this.path}/try?${query}`, undefined, {}, trying.signal);
      if (this.trying === trying) this.set({ moved: /** @type {Moved} */ (moved), problem: "" });
    } catch (error) {
      if (error instanceof Problem) this.set({ problem: error.message });
      else if (!(error instanceof DOMException)) throw error;
    }
  }

  /** @param {{washes?: [number, number][], puddles?: string[], paints?: string[], layers?: number[]}} changes */
  keep(changes) {
    return this.accept("/keep", { kept: { ...this.painting.brief.kept, ...changes } });
  }

  // --- photos ------------------------------------------------------------------------

  /**
   * @param {Blob} file
   * @param {string} [sheet]
   * @returns {Promise<PaintingView | undefined>}
   */
  newFrom(file, sheet) {
    /** @type {Record<string, string>} */
    const headers = {};
    if (sheet) headers["X-Sheet"] = encodeURIComponent(sheet);
    return this.attempt(() => send("/api/paintings", file, headers));
  }

  /** @param {Blob} file */
  async layMore(file) {
    const path = `${this.path}/photos?base=${encodeURIComponent(this.painting.revision)}`;
    const shown = await this.attempt(() => send(path, file));
    if (shown) this.show(/** @type {PaintingView} */ (shown));
  }
}

export const worksheet = new Worksheet();
