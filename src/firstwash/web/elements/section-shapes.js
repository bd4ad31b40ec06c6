/** The shapes: what a brush can paint. Every change keeps the plan up to date at once. */

import { html, useEffect, useState } from "../vendor/htm-preact-standalone.js";
import { worksheet } from "./state.js";

/**
 * @typedef {object} Tool
 * @property {string} path below the painting
 * @property {string} words on the button
 * @property {string} say while it is held
 * @property {Record<string, unknown>} [more] sent with the stroke
 */

/** @type {Tool[]} */
const TOOLS = [
  { path: "/shapes/merge", words: "Join shapes", say: "Draw from one shape into its neighbour; all that the stroke touches becomes one shape." },
  { path: "/shapes/split", words: "Cut a shape", say: "Draw across a shape where it should be cut. The ends need not reach its border." },
  { path: "/shapes/border", words: "Redraw a border", say: "Draw the border as it should run, from the old border back to it." },
  { path: "/shapes/reserve", words: "Leave bare", say: "Touch a shape, or draw round a place, to leave it as bare paper to the end." },
  { path: "/shapes/release", words: "Paint it after all", say: "Touch a place that is left bare, to have it painted." },
  { path: "/shapes/edge", words: "Hard edge", say: "Draw along an edge that is to be cut in hard.", more: { edge: "hard" } },
  { path: "/shapes/edge", words: "Soft edge", say: "Draw along an edge that is to be softened.", more: { edge: "soft" } },
  { path: "/shapes/edge", words: "Lost edge", say: "Draw along an edge that is to be lost.", more: { edge: "lost" } },
];

export function Shapes() {
  const { painting, hand } = worksheet.state;
  const plan = painting?.plan;
  if (!plan) return null;
  return html`<section id="shapes" aria-labelledby="h-shapes">
    <h2 id="h-shapes">Shapes</h2>
    <p>The picture is drawn in ${plan.shapes} shapes. Change them with a stroke on the sheet; the washes follow at once.</p>
    <${Fewer} shapes=${plan.shapes} />
    <div class="row" role="group" aria-label="Change the shapes">${TOOLS.map((tool) => html`<button key=${tool.words} aria-pressed=${hand?.kind === tool.words} disabled=${plan.stale} onClick=${() => take(tool)}>${tool.words}</button>`)}</div>
    ${plan.stale && html`<p class="told">Something was changed since this plan was made; plan it again before changing shapes.</p>`}
    <div class="map" tabindex="0" role="region" aria-label="Outline of the shapes"><img width=${Math.round(plan.width_mm)} height=${Math.round(plan.height_mm)} src="/prints/${painting?.id}/plan/${plan.stamp}/outline" alt="The outline of all shapes" loading="lazy" /></div>
  </section>`;
}

/** @param {Tool} tool */
function take(tool) {
  const { hand, looking } = worksheet.state;
  if (hand?.kind === tool.words) {
    worksheet.set({ hand: null });
    return;
  }
  worksheet.set({
    comparing: "",
    looking: looking === "reference" || looking.startsWith("stage") || looking === "finished" ? looking : "finished",
    hand: {
      kind: tool.words,
      outlined: true,
      say: tool.say,
      done: async (points) => {
        const step = Math.max(1, Math.floor(points.length / 1500));
        const stroke = points.filter((_, i) => i % step === 0 || i === points.length - 1);
        const done = await worksheet.accept(tool.path, { stroke, ...tool.more });
        if (done) {
          const held = worksheet.state.hand;
          if (held) worksheet.set({ hand: { ...held } }); // held on, for the next stroke
        }
      },
    },
  });
}

/** Fewer or more shapes with one control. @param {{shapes: number}} props */
function Fewer({ shapes }) {
  const [now, setNow] = useState(shapes);
  useEffect(() => setNow(shapes), [shapes]);
  return html`<label>Fewer or more: about ${now} shapes
    <input type="range" min="10" max="300" step="5" value=${now} aria-valuetext="${now} shapes"
      onInput=${(/** @type {Event} */ e) => setNow(Number(/** @type {HTMLInputElement} */ (e.target).value))}
      onChange=${(/** @type {Event} */ e) => { const count = Number(/** @type {HTMLInputElement} */ (e.target).value); if (Math.abs(count - shapes) > 2) void worksheet.accept("/shapes/count", { count }); }} /></label>
    <p class="small">Places you left bare and edges you marked stay; shapes cut or joined by hand are drawn anew.</p>`;
}
