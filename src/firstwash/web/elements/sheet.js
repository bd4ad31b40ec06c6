/**
 * The sheet of paper as a picture: to look at, to touch, to draw on.
 *
 * A strength being tried is painted over it at once, cell by cell, from a picture that tells which
 * cell every pixel belongs to; the exact picture follows when it is accepted.
 */

import { html, useEffect, useRef, useState } from "../vendor/htm-preact-standalone.js";
import { Cells } from "./cells.js";
import { worksheet } from "./state.js";

const WIDTH = 1200;

/**
 * @param {string} name
 * @param {number} [width]
 * @returns {string}
 */
export function addressOf(name, width = WIDTH) {
  const { painting, early } = worksheet.state;
  if (!painting) return "";
  if (name === "look") return early || addressOf("reference", width);
  const plan = painting.plan;
  const ofPlan = /^(stage|finished|difference|cells|map|wash|outline)/.test(name);
  if (ofPlan && !plan) return "";
  const place = ofPlan ? `plan/${plan?.stamp}` : `scene/${painting.scene}`;
  return `/prints/${painting.id}/${place}/${name}?w=${width}`;
}

export function Sheet() {
  const { painting, looking, comparing, hand, spot, moved } = worksheet.state;
  const holder = useRef(/** @type {HTMLDivElement | null} */ (null));
  const [edge, setEdge] = useState(0.5);
  const turned = useBlink(comparing === "blink");
  if (!painting) return null;
  const size = sizeOf();
  const shown = addressOf(looking);
  const over = comparing ? addressOf("reference") : "";
  const look = { aspectRatio: `${size.width} / ${size.height}`, "--ratio": String(size.width / size.height) };
  const cut = comparing === "edge" ? { clipPath: `inset(0 0 0 ${100 * edge}%)` } : { visibility: turned ? "visible" : "hidden" };
  return html`<div class="lying">
    <div class="onsheet" ref=${holder} style=${look}>
      <img src=${shown} alt=${altOf(looking)} width=${size.width} height=${size.height} draggable=${false} />
      ${over && html`<img class="over" src=${over} alt="The photo" style=${cut} draggable=${false} />`}
      ${moved && html`<${Tried} />`}
      ${hand?.outlined && html`<img class="over outline" src=${addressOf("outline")} alt="" draggable=${false} />`}
      <${Grid} />
      <${Focal} />
      ${spot && !hand && html`<${Here} x=${spot.x_mm / size.mmWide} y=${spot.y_mm / size.mmHigh} />`}
      <${Surface} holder=${holder} size=${size} />
    </div>
    ${comparing === "edge" && html`<label class="wide edge"><span>Painting</span><span class="unseen">Where the photo begins</span>
      <input type="range" min="0" max="1" step="0.01" value=${edge} onInput=${(/** @type {Event} */ e) => setEdge(Number(/** @type {HTMLInputElement} */ (e.target).value))} /><span>Photo</span></label>`}
  </div>`;
}

function sizeOf() {
  const painting = worksheet.painting;
  const { looking } = worksheet.state;
  const ofPlan = /^(stage|finished|difference)/.test(looking) && painting.plan;
  const mmWide = ofPlan ? ofPlan.width_mm : painting.width_mm;
  const mmHigh = ofPlan ? ofPlan.height_mm : painting.height_mm;
  return { mmWide, mmHigh, width: WIDTH, height: Math.round((WIDTH * mmHigh) / mmWide) };
}

/** @param {string} looking */
function altOf(looking) {
  if (looking === "reference") return "The photo as it lies on the sheet";
  if (looking === "look") return "A first look at the lay-in";
  if (looking === "finished") return "The finished painting as predicted";
  if (looking === "difference") return "Where the painting will differ from the photo: the darker, the more";
  if (looking.startsWith("stage-")) return `The sheet as predicted when layer ${looking.slice(6)} is dry`;
  return "A study of the photo";
}

/**
 * Turning over by itself once a second; by hand only, where motion is not wanted.
 * @param {boolean} on
 */
function useBlink(on) {
  const [turned, setTurned] = useState(false);
  useEffect(() => {
    if (!on) return undefined;
    setTurned(true);
    if (matchMedia("(prefers-reduced-motion: reduce)").matches) return undefined;
    const clock = setInterval(() => setTurned((t) => !t), 1000);
    return () => clearInterval(clock);
  }, [on]);
  return on && turned;
}

/** The wash being tried, painted over the sheet. */
function Tried() {
  const { moved, painting, looking } = worksheet.state;
  const canvas = useRef(/** @type {HTMLCanvasElement | null} */ (null));
  const stage = looking.startsWith("stage-") ? Number(looking.slice(6)) : (painting?.plan?.layers.length ?? 0);
  useEffect(() => {
    const address = addressOf("cells", 700);
    if (!moved || !address) return;
    void Cells.of(address).then((cells) => {
      if (canvas.current && worksheet.state.moved === moved) cells.paint(canvas.current, moved, stage);
    });
  }, [moved, stage]);
  return html`<canvas class="over" ref=${canvas}></canvas>`;
}

/** @param {{x: number, y: number}} props */
function Here({ x, y }) {
  return html`<span class="here" style=${{ left: `${100 * x}%`, top: `${100 * y}%` }}></span>`;
}

/** A drawing grid over the picture. */
function Grid() {
  const { grid } = worksheet.painting.brief;
  if (!grid.across) return null;
  const { mmWide, mmHigh } = sizeOf();
  const side = mmWide / grid.across;
  const lines = [];
  for (let x = side; x < mmWide - 0.5; x += side) lines.push([x, 0, x, mmHigh]);
  for (let y = side; y < mmHigh - 0.5; y += side) lines.push([0, y, mmWide, y]);
  if (grid.diagonals) lines.push([0, 0, mmWide, mmHigh], [mmWide, 0, 0, mmHigh]);
  return html`<svg class="over grid" viewBox="0 0 ${mmWide} ${mmHigh}" aria-hidden="true">${lines.map(
    ([x1, y1, x2, y2]) => html`<line x1=${x1} y1=${y1} x2=${x2} y2=${y2} /><line class="inner" x1=${x1} y1=${y1} x2=${x2} y2=${y2} />`,
  )}</svg>`;
}

/** Round the part that matters most, where the photo is looked at. */
function Focal() {
  const { focal } = worksheet.painting.brief.scene;
  if (!focal || worksheet.state.looking !== "reference") return null;
  const [x, y, width, height] = focal.map((part) => 100 * part);
  return html`<svg class="over focal" viewBox="0 0 100 100" preserveAspectRatio="none" aria-hidden="true">
    <rect x=${x} y=${y} width=${width} height=${height} /><rect class="inner" x=${x} y=${y} width=${width} height=${height} /></svg>`;
}

const TREMBLE = 7; // px a finger slides when it means to touch

/** @param {[number, number][]} points mm @param {HTMLElement | null} sheet @param {number} mmWide */
function isTouch(points, sheet, mmWide) {
  const reach = (TREMBLE * mmWide) / (sheet?.getBoundingClientRect().width || mmWide);
  const [x0, y0] = points[0] ?? [0, 0];
  return points.every(([x, y]) => Math.hypot(x - x0, y - y0) < reach);
}

/**
 * What the finger does: touch a spot, or draw a stroke where a tool is held. With the keyboard:
 * arrows move a mark, Enter touches.
 * @param {{holder: {current: HTMLDivElement | null}, size: {mmWide: number, mmHigh: number}}} props
 */
function Surface({ holder, size }) {
  const { hand, painting } = worksheet.state;
  const canvas = useRef(/** @type {HTMLCanvasElement | null} */ (null));
  const stroke = useRef(/** @type {[number, number][]} */ ([]));
  const [mark, setMark] = useState(/** @type {[number, number] | null} */ (null));
  useEffect(() => {
    stroke.current = [];
    draw();
  }, [hand]);

  /** @param {PointerEvent} event @returns {[number, number]} */
  const placeOf = (event) => {
    const box = holder.current?.getBoundingClientRect();
    if (!box) return [0, 0];
    return [
      ((event.clientX - box.left) / box.width) * size.mmWide,
      ((event.clientY - box.top) / box.height) * size.mmHigh,
    ];
  };
  const draw = () => {
    const surface = canvas.current;
    const box = holder.current?.getBoundingClientRect();
    const pen = surface?.getContext("2d");
    if (!surface || !box || !pen) return;
    surface.width = Math.round(box.width * devicePixelRatio);
    surface.height = Math.round(box.height * devicePixelRatio);
    for (const [colour, width] of /** @type {[string, number][]} */ ([["#ffffff", 5], ["#000000", 2]])) {
      pen.strokeStyle = colour;
      pen.lineWidth = width * devicePixelRatio;
      pen.lineJoin = "round";
      pen.lineCap = "round";
      pen.beginPath();
      stroke.current.forEach(([x, y], i) => {
        const at = /** @type {[number, number]} */ ([(x / size.mmWide) * surface.width, (y / size.mmHigh) * surface.height]);
        if (i) pen.lineTo(...at);
        else pen.moveTo(...at);
      });
      pen.stroke();
    }
  };
  /** @param {PointerEvent} event */
  const down = (event) => {
    if (event.button !== 0) return;
    stroke.current = [placeOf(event)];
    canvas.current?.setPointerCapture(event.pointerId);
  };
  /** @param {PointerEvent} event */
  const move = (event) => {
    if (!stroke.current.length || !hand) return;
    for (const one of event.getCoalescedEvents?.() ?? [event]) stroke.current.push(placeOf(one));
    draw();
  };
  /** @param {PointerEvent} event */
  const up = (event) => {
    const points = stroke.current;
    const first = points[0];
    if (!first) return;
    if (hand) {
      void hand.done(isTouch(points, holder.current, size.mmWide) ? [first] : points);
    } else if (painting?.plan) {
      void worksheet.touch(...placeOf(event));
    }
    if (!hand) stroke.current = [];
  };
  /** @param {KeyboardEvent} event */
  const key = (event) => {
    const [x, y] = mark ?? [size.mmWide / 2, size.mmHigh / 2];
    const by = event.shiftKey ? 1 : size.mmWide / 40;
    /** @type {Record<string, [number, number]>} */
    const ways = { ArrowLeft: [-by, 0], ArrowRight: [by, 0], ArrowUp: [0, -by], ArrowDown: [0, by] };
    const way = ways[event.key];
    if (way) {
      event.preventDefault();
      setMark([Math.min(Math.max(x + way[0], 0), size.mmWide), Math.min(Math.max(y + way[1], 0), size.mmHigh)]);
    } else if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      if (hand) void hand.done([[x, y]]);
      else if (painting?.plan) void worksheet.touch(x, y);
    } else if (event.key === "Escape") worksheet.set(hand ? { hand: null } : { spot: null });
  };
  const words = hand ? hand.say : painting?.plan ? "The sheet. Move the mark with the arrow keys and press Enter to touch a spot." : "The sheet";
  return html`<canvas ref=${canvas} class="over hand" tabindex="0" role="application" aria-label=${words}
      onPointerDown=${down} onPointerMove=${move} onPointerUp=${up} onKeyDown=${key}
      onFocus=${(/** @type {FocusEvent} */ e) => /** @type {HTMLElement} */ (e.target).matches(":focus-visible") && !mark && setMark([size.mmWide / 2, size.mmHigh / 2])} onBlur=${() => setMark(null)}></canvas>
    ${mark && html`<span class="mark" style=${{ left: `${(100 * mark[0]) / size.mmWide}%`, top: `${(100 * mark[1]) / size.mmHigh}%` }}></span>`}`;
}
