/** Why a coat makes the touched spot look as it does: its light, drawn small, and in words. */

import { html, useEffect, useState } from "../vendor/htm-preact-standalone.js";
import { ask } from "./api.js";
import { Numbers } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").WhySo} WhySo */

/** @param {{cell: number, layer: number}} props */
export function Why({ cell, layer }) {
  const [open, setOpen] = useState(false);
  const [found, setFound] = useState(/** @type {WhySo | null} */ (null));
  const { painting } = worksheet.state;
  const stamp = painting?.plan?.stamp;
  useEffect(() => {
    setFound(null);
    if (!open) return undefined;
    let late = false;
    void worksheet.attempt(async () => {
      const told = await ask("GET", `${worksheet.path}/why?cell=${cell}&layer=${layer}`);
      if (!late) setFound(/** @type {WhySo} */ (told));
    }, false);
    return () => {
      late = true;
    };
  }, [open, painting?.id, stamp, cell, layer]);
  return html`<details class="why" open=${open} onToggle=${(/** @type {Event} */ e) => setOpen(/** @type {HTMLDetailsElement} */ (e.target).open)}>
    <summary>Why it reads so</summary>
    ${open && !found && html`<p role="status">Looking at its light.</p>`}
    ${found && painting && html`<p>${found.gist}</p>
      <img class="chart" src="/prints/${painting.id}/plan/${stamp}/${found.chart}?w=300" alt="The light the coat takes, from violet to red. ${found.gist}" />
      ${found.sentences.map((one) => html`<p class="small">${one}</p>`)}
      <${Numbers} rows=${found.numbers} />`}
  </details>`;
}
