/**
 * Asking the server: every request carries the page's secret, every refusal is one sentence.
 */

/** @typedef {import("./api-types.js").PaintingView} PaintingView */

/** What the server could not do, told in one sentence for the painter. */
export class Problem extends Error {
  /**
   * @param {string} sentence
   * @param {string} kind
   * @param {number} status
   */
  constructor(sentence, kind, status) {
    super(sentence);
    this.kind = kind;
    this.status = status;
  }
}

const AWAY = "firstwash does not answer; see whether it is still running, then try again.";

function token() {
  const meta = document.querySelector('meta[name="token"]');
  return meta instanceof HTMLMetaElement ? meta.content : "";
}

/**
 * One request. Body: what JSON can write, or a file as it is.
 * @template T
 * @param {string} method
 * @param {string} path
 * @param {unknown} [body]
 * @param {Record<string, string>} [headers]
 * @param {AbortSignal} [signal]
 * @returns {Promise<T>}
 */
export async function ask(method, path, body, headers = {}, signal) {
  const asIs = body instanceof Blob;
  /** @type {RequestInit} */
  const request = { method, headers: { "X-Firstwash-Token": token(), ...headers } };
  if (signal) request.signal = signal;
  if (body !== undefined) {
    request.body = asIs ? body : JSON.stringify(body);
    if (!asIs) Object.assign(request.headers ?? {}, { "Content-Type": "application/json" });
  }
  /** @type {Response} */
  let answer;
  try {
    answer = await fetch(path, request);
  } catch (error) {
    if (error instanceof DOMException && error.name === "AbortError") throw error;
    throw new Problem(AWAY, "away", 0);
  }
  if (!answer.ok) throw await problemOf(answer);
  return answer.status === 204 ? /** @type {T} */ (undefined) : await answer.json();
}

/** @param {Response} answer */
async function problemOf(answer) {
  try {
    const { error } = await answer.json();
    return new Problem(error.sentence, error.kind, answer.status);
  } catch {
    return new Problem("Something went wrong; nothing was lost. Try again.", "unknown", answer.status);
  }
}

/**
 * A file sent as it is.
 * @template T
 * @param {string} path
 * @param {Blob} file
 * @param {Record<string, string>} [headers]
 * @returns {Promise<T>}
 */
export function send(path, file, headers = {}) {
  const name = file instanceof File ? file.name : "photo";
  return ask("POST", path, file, {
    "Content-Type": "application/octet-stream",
    "X-File-Name": encodeURIComponent(name),
    ...headers,
  });
}

/**
 * @typedef {object} Doing
 * @property {string} step what is being done
 * @property {number} done share, 0 to 1
 * @property {number} seconds since it began
 * @property {number | null} usual seconds it usually takes
 */

/**
 * Long work, followed to its end.
 * @param {string} job
 * @param {(doing: Doing) => void} tell
 * @returns {Promise<Record<string, unknown> | null>} what it made; null if it was stopped
 */
export function follow(job, tell) {
  return new Promise((resolve, reject) => {
    const events = new EventSource(`/api/jobs/${encodeURIComponent(job)}/events`);
    /** @param {Event} event */
    const data = (event) => JSON.parse(/** @type {MessageEvent} */ (event).data);
    events.addEventListener("progress", (event) => tell(data(event)));
    events.addEventListener("finished", (event) => {
      events.close();
      resolve(data(event).result);
    });
    events.addEventListener("failed", (event) => {
      events.close();
      const told = data(event);
      reject(new Problem(told.sentence, told.kind, 400));
    });
    events.addEventListener("cancelled", () => {
      events.close();
      resolve(null);
    });
    events.addEventListener("error", () => {
      if (events.readyState === EventSource.CLOSED) reject(new Problem(AWAY, "away", 0));
    });
  });
}

/** @param {string} job */
export const stop = (job) => ask("DELETE", `/api/jobs/${encodeURIComponent(job)}`);
