/** One photo set upright, with the part that fills the sheet: cropped, straightened, whitened. */

import { html, useEffect, useRef, useState } from "../vendor/htm-preact-standalone.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").Picture} Picture */
/** @typedef {[number, number, number, number]} Box left, top, width, height as fractions */

/** @param {{picture: Picture, number: number, change: (words: string, changes: Partial<Picture>) => void}} props */
export function CropPicture({ picture, number, change }) {
  const { painting } = worksheet.state;
  const shown = painting?.photos[number];
  const [white, setWhite] = useState(false);
  if (!painting || !shown) return null;
  const source = `/prints/${painting.id}/scene/${painting.scene}/photo-${number}?w=900`;
  const fills = !picture.place;
  const ratio = fills ? (painting.width_mm / painting.height_mm) * (shown.height / shown.width) : null;
  return html`<div class="crop">
    <${Frame} source=${source} box=${/** @type {Box} */ (shown.crop)} ratio=${ratio} white=${white} ratioOf=${shown.width / shown.height}
      onwhite=${(/** @type {[number, number]} */ neutral) => { setWhite(false); change("Touched a neutral", { neutral }); }}
      onbox=${(/** @type {Box} */ crop) => change("Cropped the photo", { crop })} />
    <p class="small">${white ? "Touch something in the photo that is really grey or white." : "Move the frame, or pull its corners. With the keyboard: arrows move it, plus and minus size it."}</p>
    <p class="row">
      <button aria-pressed=${white} onClick=${() => setWhite(!white)}>Touch a neutral</button>
      ${picture.neutral && html`<button class="plain" onClick=${() => change("Took the photo's own white", { neutral: null })}>The photo's own white</button>`}
      ${picture.crop && html`<button class="plain" onClick=${() => change("Took as much as fits", { crop: null })}>As much as fits</button>`}
    </p>
    <${Tilt} tilt=${picture.tilt} onchange=${(/** @type {number} */ tilt) => change("Straightened the photo", { tilt, crop: null, neutral: null })} />
    ${picture.place && html`<${Placed} picture=${picture} change=${change} />`}
  </div>`;
}

/** @param {{tilt: number, onchange: (tilt: number) => void}} props */
function Tilt({ tilt, onchange }) {
  const [now, setNow] = useState(tilt);
  useEffect(() => setNow(tilt), [tilt]);
  const words = now === 0 ? "straight as it is" : `turned ${Math.abs(now).toFixed(1)}° ${now > 0 ? "clockwise" : "the other way"}`;
  return html`<label>Straighten: ${words}
    <input type="range" min="-15" max="15" step="0.1" value=${now} aria-valuetext=${words}
      onInput=${(/** @type {Event} */ e) => setNow(Number(/** @type {HTMLInputElement} */ (e.target).value))}
      onChange=${(/** @type {Event} */ e) => { const to = Number(/** @type {HTMLInputElement} */ (e.target).value); if (to !== tilt) onchange(to); }} /></label>`;
}

/** Where a further photo lies. @param {{picture: Picture, change: (words: string, changes: Partial<Picture>) => void}} props */
function Placed({ picture, change }) {
  const { place } = picture;
  if (!place) return null;
  /** @type {[("left" | "top" | "width"), string, number, number][]} */
  const moves = [["left", "from the left", -0.5, 1], ["top", "from the top", -0.5, 1], ["width", "how wide", 0.05, 1.5]];
  const drag = () =>
    worksheet.set({
      looking: "reference",
      comparing: "",
      hand: {
        kind: "move a photo",
        say: "Draw from where the photo lies to where it should lie; it moves as far.",
        done: (points) => {
          const [first, last] = [points[0], points.at(-1)];
          const { width_mm, height_mm } = worksheet.painting;
          worksheet.set({ hand: null });
          if (!first || !last || points.length < 2) return;
          const left = clamp(place.left + (last[0] - first[0]) / width_mm, -1, 1);
          const top = clamp(place.top + (last[1] - first[1]) / height_mm, -1, 1);
          change("Moved a photo", { place: { ...place, left, top } });
        },
      },
    });
  return html`<fieldset><legend>Where it lies on the sheet</legend><button onClick=${drag}>Move it with a finger</button>${moves.map(
    ([name, words, low, high]) => html`<label>${words}: ${Math.round(100 * place[name])} %
      <input type="range" min=${low} max=${high} step="0.01" value=${place[name]} onChange=${(/** @type {Event} */ e) => change("Moved a photo", { place: { ...place, [name]: Number(/** @type {HTMLInputElement} */ (e.target).value) } })} /></label>`,
  )}</fieldset>`;
}

/**
 * @param {{source: string, box: Box, ratio: number | null, ratioOf: number, white: boolean, onwhite: (p: [number, number]) => void, onbox: (box: Box) => void}} props
 * ratio: width over height of the frame, in fractions of the photo; null for any.
 */
function Frame({ source, box, ratio, white, onwhite, onbox }) {
  const [now, setNow] = useState(box);
  const holder = useRef(/** @type {HTMLDivElement | null} */ (null));
  const held = useRef(/** @type {{from: [number, number], box: Box, corner: number} | null} */ (null));
  useEffect(() => setNow(box), [box.join(" ")]);
  /** @param {PointerEvent} event @returns {[number, number]} */
  const placeOf = (event) => {
    const size = holder.current?.getBoundingClientRect();
    return size ? [(event.clientX - size.left) / size.width, (event.clientY - size.top) / size.height] : [0, 0];
  };
  /** @param {PointerEvent} event @param {number} corner */
  const down = (event, corner) => {
    const at = placeOf(event);
    if (white) {
      onwhite([clamp(at[0]), clamp(at[1])]);
      return;
    }
    event.stopPropagation();
    held.current = { from: at, box: now, corner };
    /** @type {HTMLElement} */ (event.currentTarget).setPointerCapture(event.pointerId);
  };
  /** @param {PointerEvent} event */
  const move = (event) => {
    const start = held.current;
    if (!start) return;
    const [x, y] = placeOf(event);
    const by = /** @type {[number, number]} */ ([x - start.from[0], y - start.from[1]]);
    setNow(start.corner < 0 ? moved(start.box, by) : pulled(start.box, by, start.corner, ratio));
  };
  const up = () => {
    if (held.current && now.join() !== held.current.box.join()) onbox(now);
    held.current = null;
  };
  /** @param {KeyboardEvent} event */
  const key = (event) => {
    /** @type {Record<string, Box>} */
    const next = {
      ArrowLeft: moved(now, [-0.02, 0]), ArrowRight: moved(now, [0.02, 0]),
      ArrowUp: moved(now, [0, -0.02]), ArrowDown: moved(now, [0, 0.02]),
      "+": scaled(now, 1.05), "=": scaled(now, 1.05), "-": scaled(now, 1 / 1.05),
    };
    const to = next[event.key];
    if (to) {
      event.preventDefault();
      setNow(to);
    } else if (event.key === "Enter" && now.join() !== box.join()) onbox(now);
  };
  const style = { left: `${100 * now[0]}%`, top: `${100 * now[1]}%`, width: `${100 * now[2]}%`, height: `${100 * now[3]}%` };
  return html`<div class="grey"><div class="cropping ${white ? "touching" : ""}" ref=${holder} onPointerDown=${(/** @type {PointerEvent} */ e) => white && down(e, -1)}>
    <img src=${source} alt="The photo, set upright" draggable=${false} />
    ${!white && html`<div class="window" style=${style} tabindex="0" role="group" aria-label="The part that fills the sheet" onPointerDown=${(/** @type {PointerEvent} */ e) => down(e, -1)} onPointerMove=${move} onPointerUp=${up} onKeyDown=${key} onBlur=${() => now.join() !== box.join() && !held.current && onbox(now)}>
      ${[0, 1, 2, 3].map((corner) => html`<span class="corner c${corner}" onPointerDown=${(/** @type {PointerEvent} */ e) => down(e, corner)} onPointerMove=${move} onPointerUp=${up}></span>`)}
    </div>`}
  </div></div>`;
}

/** @param {number} v @param {number} [low] @param {number} [high] */
const clamp = (v, low = 0, high = 1) => Math.min(Math.max(v, low), high);

/** @param {Box} box @param {[number, number]} by @returns {Box} */
function moved([x, y, w, h], by) {
  return [clamp(x + by[0], 0, 1 - w), clamp(y + by[1], 0, 1 - h), w, h];
}

/** @param {Box} box @param {number} times @returns {Box} */
function scaled([x, y, w, h], times) {
  const by = Math.min(times, 1 / w, 1 / h);
  if (w * by < 0.05 || h * by < 0.05) return [x, y, w, h];
  return [clamp(x + (w - w * by) / 2, 0, 1 - w * by), clamp(y + (h - h * by) / 2, 0, 1 - h * by), w * by, h * by];
}

/**
 * A corner pulled: 0 upper left, 1 upper right, 2 lower right, 3 lower left; the opposite stays.
 * @param {Box} box
 * @param {[number, number]} by
 * @param {number} corner
 * @param {number | null} ratio
 * @returns {Box}
 */
function pulled([x, y, w, h], by, corner, ratio) {
  const left = corner === 0 || corner === 3;
  const top = corner < 2;
  const fixed = [left ? x + w : x, top ? y + h : y];
  const room = [left ? (fixed[0] ?? 0) : 1 - (fixed[0] ?? 0), top ? (fixed[1] ?? 0) : 1 - (fixed[1] ?? 0)];
  let wide = clamp(w + (left ? -by[0] : by[0]), 0.05, room[0]);
  let high = clamp(h + (top ? -by[1] : by[1]), 0.05, room[1]);
  if (ratio !== null) {
    high = Math.min(wide / ratio, room[1] ?? 1);
    wide = high * ratio;
  }
  return [left ? (fixed[0] ?? 0) - wide : (fixed[0] ?? 0), top ? (fixed[1] ?? 0) - high : (fixed[1] ?? 0), wide, high];
}
