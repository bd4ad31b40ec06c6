/** Every accepted change, and the way back to any of them. */

import { html, useEffect, useState } from "../vendor/htm-preact-standalone.js";
import { ask } from "./api.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").Step} Step */

/** @param {{close: () => void}} props */
export function History({ close }) {
  const [steps, setSteps] = useState(/** @type {Step[]} */ ([]));
  const { revision } = worksheet.painting;
  useEffect(() => {
    void worksheet.attempt(async () => setSteps(await ask("GET", `${worksheet.path}/history`)), false);
  }, [revision]);
  return html`<section class="history" aria-label="All steps">
    <div class="row"><strong>All steps</strong> <span class="small">Nothing is ever lost; go to any of them.</span> <button class="plain" onClick=${close}>Close</button></div>
    <ol reversed>${[...steps].reverse().map((step) => html`<li key=${step.id}>
      <button class="plain" aria-current=${step.is_head ? "step" : null} disabled=${step.is_head} onClick=${() => worksheet.accept("/go", { to: step.id })}>${step.words}</button>
      <span class="small"> ${new Date(step.created * 1000).toLocaleString([], { dateStyle: "short", timeStyle: "short" })}${step.is_head ? ", you are here" : ""}</span>
    </li>`)}</ol>
  </section>`;
}
