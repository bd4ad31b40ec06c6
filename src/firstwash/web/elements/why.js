/** Why a coat makes the touched spot look as it does: its light, drawn small, and in words. */

import { html } from "../vendor/htm-preact-standalone.js";
import { AskingFold } from "./asking-fold.js";
import { Numbers } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").WhySo} WhySo */

/** @param {{cell: number, layer: number}} props */
export function Why({ cell, layer }) {
  const { painting } = worksheet.state;
  if (!painting) return null;
  const told = (/** @type {WhySo} */ found) => html`<p>${found.gist}</p>
    <img class="chart" src="/prints/${painting.id}/plan/${painting.plan?.stamp}/${found.chart}?w=300" alt="The light the coat takes, from violet to red. ${found.gist}" />
    ${found.sentences.map((one) => html`<p class="small">${one}</p>`)}
    <${Numbers} rows=${found.numbers} />`;
  return html`<${AskingFold} summary="Why it reads so" looks="why" path="/why?cell=${cell}&layer=${layer}" of=${`${cell} ${layer}`} waiting="Looking at its light." told=${told} />`;
}
