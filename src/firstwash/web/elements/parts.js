/** Small parts that many sections draw: strips of paint, swatches, choices in a sentence. */

import { html, useEffect, useRef } from "../vendor/htm-preact-standalone.js";
import { worksheet } from "./state.js";

/** @typedef {import("../vendor/htm-preact-standalone.js").Child} Child */

/**
 * A paint from full strength into paper white.
 * @param {{colours: readonly string[], label: string}} props
 */
export function Strip({ colours, label }) {
  const style = { background: `linear-gradient(to right, ${colours.join(", ")})` };
  return html`<span class="strip" role=${label ? "img" : null} aria-label=${label || null} style=${style}></span>`;
}

/**
 * The parts of a mixture, each as a short strip laid over the one before.
 * @param {{strips: readonly (readonly string[])[], label: string}} props
 */
export function Mix({ strips, label }) {
  const parts = strips.map(
    (colours) => html`<${Strip} colours=${colours} label="" />`,
  );
  return html`<span class="mix" role="img" aria-label=${label}>${parts}</span>`;
}

/** @param {{colour: string, label?: string}} props */
export function Swatch({ colour, label = "" }) {
  return html`<span class="swatch" role="img" aria-label=${label} aria-hidden=${label ? null : "true"} style=${{ background: colour }}></span>`;
}

/**
 * A colour as it may come out: its lighter and its darker edge beside it.
 * @param {{lighter: string, colour: string, darker: string}} props
 */
export function Sure({ lighter, colour, darker }) {
  /** @type {[string, string][]} */
  const parts = [[lighter, "The lightest it may be"], [colour, "Seen"], [darker, "The darkest it may be"]];
  return html`<span class="swatch sure">${parts.map(([hex, label]) => html`<span role="img" aria-label=${label} style=${{ background: hex }}></span>`)}</span>`;
}

/**
 * A choice inside a sentence.
 * @template {string | number} V
 * @param {{value: V, options: readonly (readonly [V, string])[], label: string, onchange: (value: V) => void, disabled?: boolean}} props
 */
export function Choice({ value, options, label, onchange, disabled = false }) {
  const { problem } = worksheet.state;
  const list = useRef(/** @type {HTMLSelectElement | null} */ (null));
  useEffect(() => {
    // What was refused is not left standing as if it were so.
    if (problem && list.current) list.current.selectedIndex = options.findIndex(([v]) => v === value);
  }, [problem]);
  /** @param {Event} event */
  const chosen = (event) => {
    const at = /** @type {HTMLSelectElement} */ (event.target).selectedIndex;
    const option = options[at];
    if (option) onchange(option[0]);
  };
  return html`<select ref=${list} aria-label=${label} disabled=${disabled} onChange=${chosen}>
    ${options.map(([v, words]) => html`<option value=${v} selected=${v === value}>${words}</option>`)}
  </select>`;
}

/**
 * A field that shows what is accepted, and what is being written for as long as it is written:
 * the page is drawn anew several times a second while something is planned.
 * @param {string} value
 */
export function useWritten(value) {
  const { problem } = worksheet.state;
  const field = useRef(/** @type {HTMLInputElement | null} */ (null));
  useEffect(() => {
    const { current } = field;
    if (current && current !== document.activeElement) current.value = value;
  }, [value, problem]);
  return field;
}

/** @param {{value: string, label: string, onchange: (value: string) => void, width?: string, list?: string, maxlength?: number}} props */
export function Word({ value, label, onchange, width = "8rem", list, maxlength = 60 }) {
  const field = useWritten(value);
  const done = () => {
    const now = field.current?.value.trim() ?? "";
    if (now && now !== value) onchange(now);
    else if (field.current) field.current.value = value;
  };
  return html`<input ref=${field} type="text" aria-label=${label} list=${list} maxlength=${maxlength}
    style=${{ width }} onBlur=${done} onKeyDown=${(/** @type {KeyboardEvent} */ e) => e.key === "Enter" && field.current?.blur()} />`;
}

/**
 * Settings that are kept whole. A change is laid on what was accepted last when its turn comes, so
 * that of two made quickly neither is lost.
 * @template {object} T
 * @param {T | null} value as it is shown
 * @param {(whole: T) => Promise<T | undefined>} send what was accepted, or nothing
 * @returns {(changes: Partial<T>) => void}
 */
export function useWhole(value, send) {
  const accepted = useRef(value);
  useEffect(() => {
    accepted.current = value;
  }, [value]);
  return (changes) =>
    void worksheet.inTurn(async () => {
      if (accepted.current) accepted.current = (await send({ ...accepted.current, ...changes })) ?? accepted.current;
    });
}

/** A line of words, kept when it is left. @param {{label: string, value: string, keep: (text: string) => void, most: number}} props */
export function Line({ label, value, keep, most }) {
  const field = useWritten(value);
  const done = () => {
    const text = field.current?.value.trim() ?? "";
    if (text !== value) keep(text);
  };
  return html`<p><label>${label} <input ref=${field} class="field" maxlength=${most} onBlur=${done} /></label></p>`;
}

/**
 * A button that opens the files of this computer, or the camera of a phone.
 * @param {{words: string, onfile: (file: File) => void, camera?: boolean, kinds?: string, chief?: boolean}} props
 */
export function FileButton({ words, onfile, camera = false, kinds = "image/*,.heic,.heif,.avif,.tif,.tiff", chief = false }) {
  const field = useRef(/** @type {HTMLInputElement | null} */ (null));
  /** @param {Event} event */
  const chosen = (event) => {
    const input = /** @type {HTMLInputElement} */ (event.target);
    const file = input.files?.[0];
    if (file) onfile(file);
    input.value = "";
  };
  return html`<button type="button" class=${chief ? "chief" : ""} onClick=${() => field.current?.click()}>${words}</button>
    <input ref=${field} type="file" accept=${kinds} capture=${camera ? "environment" : null} hidden onChange=${chosen} />`;
}

/** Figures, one touch deeper. @param {{rows: readonly (readonly [string, string])[]}} props */
export function Numbers({ rows }) {
  if (!rows.length) return null;
  return html`<details class="small"><summary>The numbers</summary>
    <table><tbody>${rows.map(([name, value]) => html`<tr><td>${name}</td><td>${value}</td></tr>`)}</tbody></table>
  </details>`;
}

/** What went wrong, and news, read aloud when they come. */
export function Told() {
  const { problem, news } = worksheet.state;
  return html`<div role="alert">${problem && html`<p class="problem">${problem} <button class="plain" onClick=${() => worksheet.set({ problem: "" })}>Close</button></p>`}</div>
    <div role="status">${news && html`<p class="told">${news}</p>`}</div>`;
}

/** Long work: what is being done, how long it usually takes, how to stop. */
export function Busy() {
  const { work, early, looking } = worksheet.state;
  if (!work) return null;
  const { step, done, seconds, usual } = work.doing;
  const percent = Math.round(100 * done);
  const long = usual ? ` It usually takes about ${about(usual)}.` : work.kind === "plan" ? " The first plan on a new computer takes about a minute." : "";
  const below = !["plan", "judge"].includes(work.kind) ? "" : early && looking === "look" ? " The sheet below shows a first look at the lay-in; it may still change a little." : " The sheet below stays as it was until then.";
  // Only the step is read aloud: seconds that count would never let a reader finish.
  return html`<div class="doing">
    <strong role="status">${step}.</strong> ${seconds > 1 ? `${Math.round(seconds)} seconds so far.` : ""}${long}${below}
    <div class="track" role="progressbar" aria-label="How far it is" aria-valuenow=${percent} aria-valuemin="0" aria-valuemax="100"><div class="done" style=${{ width: `${percent}%` }}></div></div>
    <button type="button" onClick=${() => worksheet.stop()}>Stop</button>
  </div>`;
}

/** @param {number} seconds */
function about(seconds) {
  if (seconds < 50) return `${Math.max(5, Math.round(seconds / 5) * 5)} seconds`;
  const minutes = Math.max(1, Math.round(seconds / 60));
  return minutes === 1 ? "a minute" : `${minutes} minutes`;
}

/** Words as one sentence: a capital first, a full stop last. @param {string} words */
export function sentence(words) {
  const text = words.trim();
  if (!text) return "";
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}${/[.?]$/.test(text) ? "" : "."}`;
}
