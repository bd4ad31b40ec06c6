/** The light on the touched shape: its own colour, and what light and shadow make of it. */

import { html, useEffect, useState } from "../vendor/htm-preact-standalone.js";
import { ask } from "./api.js";
import { Numbers, Swatch } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").SpotAnswer} SpotAnswer */
/** @typedef {import("./api-types.js").SpotLight} SpotLight */

/** @param {{spot: SpotAnswer}} props */
export function LightHere({ spot }) {
  const [open, setOpen] = useState(false);
  const [found, setFound] = useState(/** @type {SpotLight | null} */ (null));
  const { painting } = worksheet.state;
  const of = `${painting?.id} ${painting?.plan?.stamp} ${spot.shape}`;
  useEffect(() => {
    setFound(null);
    if (!open) return undefined;
    let late = false;
    void worksheet.attempt(async () => {
      const told = await ask("GET", `${worksheet.path}/light-here?x=${spot.x_mm}&y=${spot.y_mm}`);
      if (!late) setFound(/** @type {SpotLight} */ (told));
    }, false);
    return () => {
      late = true;
    };
  }, [open, of]);
  return html`<details open=${open} onToggle=${(/** @type {Event} */ e) => setOpen(/** @type {HTMLDetailsElement} */ (e.target).open)}>
    <summary>Its own colour, and the light on it</summary>
    ${open && !found && html`<p role="status">Telling light from own colour.</p>`}
    ${found && html`<p>${found.words}</p>
      <ul class="lit">
        <li><${Swatch} colour=${found.own.hex} /> <span>Its own colour in white light: ${found.own.words}</span></li>
        ${found.parts.map((part) => html`<li><${Swatch} colour=${part.hex} /> <span>${part.name}: ${part.words}, on ${Math.round(100 * part.share)} % of it</span></li>`)}
      </ul>
      <${Numbers} rows=${found.numbers} />`}
  </details>`;
}
