/** The light on the touched shape: its own colour, and what light and shadow make of it. */

import { html } from "../vendor/htm-preact-standalone.js";
import { AskingFold } from "./asking-fold.js";
import { Numbers, Swatch } from "./parts.js";

/** @typedef {import("./api-types.js").SpotAnswer} SpotAnswer */
/** @typedef {import("./api-types.js").SpotLight} SpotLight */

/** @param {{spot: SpotAnswer}} props */
export function LightHere({ spot }) {
  const told = (/** @type {SpotLight} */ found) => html`<p>${found.words}</p>
    <ul class="lit">
      <li><${Swatch} colour=${found.own.hex} /> <span>Its own colour in white light: ${found.own.words}</span></li>
      ${found.parts.map((part) => html`<li><${Swatch} colour=${part.hex} /> <span>${part.name}: ${part.words}, on ${Math.round(100 * part.share)} % of it</span></li>`)}
    </ul>
    <${Numbers} rows=${found.numbers} />`;
  return html`<${AskingFold} summary="Its own colour, and the light on it" path="/light-here?x=${spot.x_mm}&y=${spot.y_mm}" of=${`${spot.shape}`} waiting="Telling light from own colour." told=${told} />`;
}
