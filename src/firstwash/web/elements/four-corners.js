/** The four corners of a sheet on its photo: touched, pulled, or moved by arrow keys. */

import { html, useRef, useState } from "../vendor/htm-preact-standalone.js";

/** @typedef {[number, number]} Corner shares of the photo's width and height */
/** @typedef {[Corner, Corner, Corner, Corner]} Corners upper left first, then clockwise */

/** @type {Corners} */
export const FIRST = [[0.12, 0.12], [0.88, 0.12], [0.88, 0.88], [0.12, 0.88]];
const NAMES = ["Upper left", "Upper right", "Lower right", "Lower left"];
const STEP = 0.004;
const CLOSER = 9; // times the width of the small views

/** Below the photo every corner is seen closer, for a finger hides what it touches. @param {{source: string, alt: string, corners: Corners, onchange: (corners: Corners) => void}} props */
export function FourCorners({ source, alt, corners, onchange }) {
  const holder = useRef(/** @type {HTMLDivElement | null} */ (null));
  const held = useRef(/** @type {{which: number, off: Corner} | null} */ (null));
  const [high, setHigh] = useState(0.75); // height over width
  /** @param {number} which @param {Corner} to */
  const put = (which, [x, y]) => {
    const all = /** @type {Corners} */ (corners.map((c) => [...c]));
    all[which] = [clamp(x), clamp(y)];
    onchange(all);
  };
  /** @param {MouseEvent} event @returns {Corner} */
  const placeOf = (event) => {
    const box = holder.current?.getBoundingClientRect();
    return box ? [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height] : [0, 0];
  };
  /** @param {PointerEvent} event @param {number} which */
  const down = (event, which) => {
    const [x, y] = placeOf(event);
    const [cx, cy] = corners[which] ?? [x, y];
    held.current = { which, off: [cx - x, cy - y] };
    /** @type {HTMLElement} */ (event.currentTarget).setPointerCapture(event.pointerId);
  };
  /** @param {PointerEvent} event */
  const move = (event) => {
    if (!held.current) return;
    const { which, off } = held.current;
    const [x, y] = placeOf(event);
    put(which, [x + off[0], y + off[1]]);
  };
  const up = () => {
    held.current = null;
  };
  /** @param {MouseEvent} event */
  const touch = (event) => {
    const at = placeOf(event);
    const which = nearest(corners, at);
    put(which, at);
    holder.current?.querySelectorAll("button")[which]?.focus();
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
  return html`<div class="grey"><div class="four" ref=${holder}>
    <img src=${source} alt=${alt} draggable=${false} onClick=${touch} onLoad=${(/** @type {Event} */ e) => setHigh(heightOf(/** @type {HTMLImageElement} */ (e.target)))} />
    <svg viewBox="0 0 1 1" preserveAspectRatio="none" aria-hidden="true"><polygon points=${line} /><polygon class="inner" points=${line} /></svg>
    ${corners.map(([x, y], which) => html`<button type="button" class="handle" style=${{ left: `${100 * x}%`, top: `${100 * y}%` }}
      aria-label="${NAMES[which]} corner, ${Math.round(100 * x)} % from the left, ${Math.round(100 * y)} % from the top"
      onPointerDown=${(/** @type {PointerEvent} */ e) => down(e, which)} onPointerMove=${move} onPointerUp=${up} onPointerCancel=${up} onKeyDown=${(/** @type {KeyboardEvent} */ e) => key(e, which)}></button>`)}
  </div>
    <div class="near" aria-hidden="true">${corners.map((at) => html`<span style=${closer(source, at, high)}></span>`)}</div></div>`;
}

/** @param {HTMLImageElement} image */
const heightOf = (image) => image.naturalHeight / image.naturalWidth || 0.75;

/**
 * A small square view with one place of the photo in its middle.
 * @param {string} source @param {Corner} at @param {number} high
 */
function closer(source, at, high) {
  const times = [CLOSER, CLOSER * high];
  const places = at.map((v, i) => `${(100 * (v * (times[i] ?? 2) - 0.5)) / ((times[i] ?? 2) - 1)}%`);
  return { backgroundImage: `url("${source}")`, backgroundSize: times.map((t) => `${100 * t}%`).join(" "), backgroundPosition: places.join(" ") };
}

/** @param {Corners} corners @param {Corner} at */
function nearest(corners, [x, y]) {
  const far = corners.map(([cx, cy]) => (cx - x) ** 2 + (cy - y) ** 2);
  return far.indexOf(Math.min(...far));
}

/** @param {number} v */
const clamp = (v) => Math.min(Math.max(v, 0), 1);
