/** At the easel: the way to the screens beside the board. */

import { html } from "../vendor/htm-preact-standalone.js";
import { ask } from "./api.js";
import { Phone } from "./phone.js";
import { worksheet } from "./state.js";

export function Easel() {
  const { plan, liked } = worksheet.painting;
  return html`<section id="easel" aria-labelledby="h-easel">
    <h2 id="h-easel">At the easel</h2>
    ${plan
      ? html`<p>One thing per screen, large enough to read at arm’s length: what to mix, where to lay it, what stays bare, and a drying clock.</p>
        <p class="row"><a class="button chief" href="#board">Go to the board</a></p>`
      : html`<p>When the painting is planned, the screens for the board are here.</p>`}
    <${Preferences} liked=${liked} />
    <${Phone} />
  </section>`;
}

/** @param {{liked: import("./api-types.js").Preferences}} props */
function Preferences({ liked }) {
  /** @param {Partial<typeof liked>} changes */
  const prefer = (changes) =>
    worksheet.attempt(async () => {
      await ask("PUT", "/api/paintings/preferences", { ...liked, ...changes });
      await worksheet.reload();
    });
  return html`<p class="sentence">Tell sizes in <select aria-label="Units" onChange=${(/** @type {Event} */ e) => prefer({ units: /** @type {HTMLSelectElement} */ (e.target).value })}>
      <option value="cm" selected=${liked.units === "cm"}>centimetres</option><option value="in" selected=${liked.units === "in"}>inches</option></select>
    ${" and paint from "}<select aria-label="Paint from" onChange=${(/** @type {Event} */ e) => prefer({ measure: /** @type {HTMLSelectElement} */ (e.target).value })}>
      <option value="tubes" selected=${liked.measure === "tubes"}>tubes, in beads</option><option value="pans" selected=${liked.measure === "pans"}>pans, in brush-loads</option></select>.</p>`;
}
