/** Which first wash could lie at the touched spot: ranked, each with what it leads to. */

import { html } from "../vendor/htm-preact-standalone.js";
import { AskingFold } from "./asking-fold.js";
import { Numbers, Swatch } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").SpotAnswer} SpotAnswer */
/** @typedef {import("./api-types.js").FirstChoice} FirstChoice */
/** @typedef {import("./api-types.js").FirstChoices} FirstChoices */

const ROWS = ["its lights", "its middle", "its darks"];

/** @param {{spot: SpotAnswer}} props */
export function FirstWashes({ spot }) {
  const told = (/** @type {FirstChoices} */ found) => html`<p>${found.verdict}</p>
    <ol class="first-choices">${found.choices.map((one) => html`<${One} one=${one} number=${found.number} />`)}</ol>
    <p class="small">Each row of patches runs from bare paper through every layer to the end, in the lights, the middle and the darks of this shape.</p>`;
  return html`<${AskingFold} summary="Which first wash could lie here" path="/first-washes?x=${spot.x_mm}&y=${spot.y_mm}" of=${`${spot.shape}`} waiting="Painting each of them on to the end." told=${told} />`;
}

/** @param {{one: FirstChoice, number: number | null}} props */
function One({ one, number }) {
  const { waiting } = worksheet.state;
  const lay = () => worksheet.accept("/swap", { layer: 1, number, mixture: one.mixture, strength: one.strength });
  return html`<li>
    <p><${Swatch} colour=${one.hex} /> <strong>${one.name}</strong>${one.planned ? ". This is what the plan lays." : ""}</p>
    <ul>${one.points.map((point) => html`<li>${point}</li>`)}</ul>
    <div class="stage-strips">${one.strip.map((row, i) => html`<span role="img" aria-label="The stages of ${ROWS[i] ?? "it"}">${row.map((hex) => html`<i style=${{ background: hex }}></i>`)}</span>`)}</div>
    ${one.rules.map((rule) => html`<p class="small">${rule}</p>`)}
    ${number !== null && one.mixture !== null && html`<p class="row tight"><button disabled=${waiting} onClick=${lay}>Lay this wash instead, wherever the plan’s lies</button></p>`}
    <${Numbers} rows=${one.numbers} />
  </li>`;
}
