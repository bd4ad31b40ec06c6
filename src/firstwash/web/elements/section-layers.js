/** The lay-in and every glaze: what is laid where, in painting order, with the map of the layer. */

import { html } from "../vendor/htm-preact-standalone.js";
import { Swatch, sentence } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").LayerView} LayerView */
/** @typedef {import("./api-types.js").StepView} StepView */
/** @typedef {import("./api-types.js").WashView} WashView */

/** @param {{layers: readonly LayerView[]}} props */
export function Layers({ layers }) {
  return html`${layers.map((layer) => html`<${Layer} key=${layer.number} layer=${layer} />`)}<${FineStrokes} />`;
}

/** What is finer than a wash: lights kept, darks laid last. */
function FineStrokes() {
  const { plan } = worksheet.painting;
  if (!plan || (!plan.keeps.length && !plan.strokes.length)) return null;
  return html`<section id="strokes" aria-labelledby="h-strokes"><h2 id="h-strokes">Fine strokes</h2>
    <p>Lights cannot be added later, so they are kept; the finest darks are laid when everything is dry, with a pointed brush.</p>
    <ul>${[...plan.keeps, ...plan.strokes].map((words) => html`<li>${words}</li>`)}</ul>
    <p class="row"><button onClick=${() => worksheet.set({ looking: "finished", comparing: "" })}>Show the finished painting</button></p></section>`;
}

const WHAT = {
  first: "The palest tints visible in each area, very dilute, under everything but the whites. They shine through every glaze laid later.",
  last: "The deepest accents, mixed and never black, over the least of the sheet.",
  between: "Transparent washes over dry paint, each over less of the sheet than the one before.",
};

const MAP_MARGIN = 48; // mm for the letters; holds the place of a map until it is there

/** @param {{layer: LayerView}} props */
function Layer({ layer }) {
  const { painting } = worksheet.state;
  const plan = painting?.plan;
  if (!plan) return null;
  const last = plan.layers.filter((l) => l.washes.length).at(-1)?.number === layer.number;
  const what = layer.number === 1 ? WHAT.first : last ? WHAT.last : WHAT.between;
  const { layers: kept } = painting.brief.kept;
  const keep = () =>
    worksheet.keep({ layers: layer.locked ? kept.filter((n) => n !== layer.number) : [...kept, layer.number] });
  return html`<section id="layer-${layer.number}" aria-labelledby="h-layer-${layer.number}">
    <h2 id="h-layer-${layer.number}">${layer.title}</h2>
    <p>${what} ${layer.time} ${layer.dry}</p>
    <p class="row"><button onClick=${() => worksheet.set({ looking: `stage-${layer.number}`, comparing: "" })}>Show the sheet with this layer dry</button>
      <button class="plain" aria-pressed=${layer.locked} onClick=${keep}>${layer.locked ? "Kept; let it change" : "Keep this layer as it is"}</button></p>
    <div class="map" tabindex="0" role="region" aria-label="Map of this layer"><img width=${Math.round(plan.width_mm + MAP_MARGIN)} height=${Math.round(plan.height_mm + MAP_MARGIN)} src="/prints/${painting.id}/plan/${plan.stamp}/map-${layer.number}" alt="Map of this layer: where each puddle goes, what stays bare" loading="lazy" /></div>
    ${layer.hair && html`<p class="small">${layer.hair}</p>`}
    <${Steps} layer=${layer} />
  </section>`;
}

/** @param {{layer: LayerView}} props */
function Steps({ layer }) {
  const list = html`<ol class="washes">${layer.steps.map((step) => html`<${Step} step=${step} layer=${layer} />`)}</ol>`;
  return html`<details open=${layer.washes.length <= 8}><summary>${layer.washes.length === 1 ? "One wash" : `${layer.washes.length} washes, in painting order`}</summary>${list}</details>`;
}

/** @param {{step: StepView, layer: LayerView}} props */
function Step({ step, layer }) {
  if (step.kind === "wait") return html`<li><span class="wait">${step.words}</span></li>`;
  const known = new Map(layer.washes.map((w) => [w.number, w]));
  return html`${step.words && html`<li><span class="wait">${step.words}</span></li>`}
    ${step.washes.map((n) => known.has(n) && html`<${Wash} key=${n} wash=${known.get(n)} />`)}`;
}

/** @param {{wash: WashView}} props */
function Wash({ wash }) {
  return html`<li>
    <span class="letter">${wash.letter}<sub>${wash.label.slice(wash.letter.length)}</sub></span>
    <div class="what"><${Swatch} colour=${wash.stroke} label="Test stroke" /> <${Swatch} colour=${wash.seen} label="Seen when dry" />
      <strong>Wash ${wash.number}, value ${wash.step}</strong>: from ${wash.before_words} to ${wash.seen_words}
      <div>${sentence(wash.how)} It covers ${wash.where}. ${sentence(wash.edges)}${wash.locked ? " Kept as it is." : ""}</div></div>
  </li>`;
}
