/** The four corners of a sheet on its photo: touched, pulled, or moved by arrow keys. */

import { html, useRef, useState } from "../vendor/htm-preact-standalone.js";

/** @typedef {[number, number]} Corner shares of the photo's width and height */
/** @typedef {[Corner, Corner, Corner, Corner]} Corners upper left first, then clockwise */

/** @type {Corners} */
export const FIRST = [[0.12, 0.12], [0.88, 0.12], [0.88, 0.88], [0.12, 0.88]];
const NAMES = ["Upper left", "Upper right", "Lower right", "Lower left"];
const STEP = 0.004;

/** @param {{source: string, alt: string, corners: Corners, onchange: (corners: Corners) => void}} props */
export function FourCorners({ source, alt, corners, onchange }) {
  const holder = useRef(/** @type {HTMLDivElement | null} */ (null));
  const [held, setHeld] = useState(-1);
  /** @param {number} which @param {Corner} to */
  const put = (which, [x, y]) => {
    const all = /** @type {Corners} */ (corners.map((c) => [...c]));
    all[which] = [clamp(x), clamp(y)];
    onchange(all);
  };
  /** @param {PointerEvent} event @returns {Corner} */
  const placeOf = (event) => {
    const box = holder.current?.getBoundingClientRect();
    return box ? [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height] : [0, 0];
  };
  /** @param {PointerEvent} event */
  const down = (event) => {
    if (event.button) return;
    const at = placeOf(event);
    const which = nearest(corners, at);
    const handle = holder.current?.querySelectorAll("button")[which];
    event.preventDefault();
    handle?.focus();
    holder.current?.setPointerCapture(event.pointerId);
    setHeld(which);
    put(which, at);
  };
  /** @param {PointerEvent} event */
  const move = (event) => {
    if (held >= 0) put(held, placeOf(event));
  };
  /** @param {KeyboardEvent} event @param {number} which */
  const key = (event, which) => {
    const step = event.shiftKey ? 10 * STEP : STEP;
    /** @type {Record<string, Corner>} */
    const ways = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    const by = ways[event.key];
    const from = corners[which];
    if (!by || !from) return;
    event.preventDefault();
    put(which, [from[0] + by[0], from[1] + by[1]]);
  };
  const line = corners.map(([x, y]) => `${x},${y}`).join(" ");
  return html`<div class="grey"><div class="four" ref=${holder} onPointerDown=${down} onPointerMove=${move} onPointerUp=${() => setHeld(-1)} onPointerCancel=${() => setHeld(-1)}>
    <img src=${source} alt=${alt} draggable=${false} />
    <svg viewBox="0 0 1 1" preserveAspectRatio="none" aria-hidden="true"><polygon points=${line} /><polygon class="inner" points=${line} /></svg>
    ${corners.map(([x, y], which) => html`<button type="button" class="handle" style=${{ left: `${100 * x}%`, top: `${100 * y}%` }}
      aria-label="${NAMES[which]} corner, ${Math.round(100 * x)} % from the left, ${Math.round(100 * y)} % from the top" onKeyDown=${(/** @type {KeyboardEvent} */ e) => key(e, which)}></button>`)}
  </div></div>`;
}

/** @param {Corners} corners @param {Corner} at */
function nearest(corners, [x, y]) {
  const far = corners.map(([cx, cy]) => (cx - x) ** 2 + (cy - y) ** 2);
  return far.indexOf(Math.min(...far));
}

/** @param {number} v */
const clamp = (v) => Math.min(Math.max(v, 0), 1);
