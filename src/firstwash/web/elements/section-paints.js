/** Paints for this painting, ticked by their plain names. */

import { html, useState } from "../vendor/htm-preact-standalone.js";
import { Strip } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").PaintCard} PaintCard */

export function Paints() {
  const { paints, painting } = worksheet.state;
  const [wish, setWish] = useState(/** @type {Set<string> | null} */ (null)); // shown until it is accepted
  if (!painting) return null;
  const mine = paints?.paints.filter((p) => !p.banned && p.fill !== "empty") ?? [];
  const ticked = wish ?? new Set(painting.brief.paints.length ? painting.brief.paints : mine.map((p) => p.key));
  /** @param {PaintCard} paint @param {boolean} on */
  const tick = async (paint, on) => {
    const keys = mine.filter((p) => (p.key === paint.key ? on : ticked.has(p.key))).map((p) => p.key);
    if (!keys.length) worksheet.set({ problem: "Leave at least one paint ticked." });
    else {
      setWish(new Set(keys));
      await worksheet.change(on ? `Took ${paint.name}` : `Left ${paint.name} out`, { paints: keys.length === mine.length ? [] : keys });
      setWish(null);
    }
  };
  return html`<section id="paints" aria-labelledby="h-paints">
    <h2 id="h-paints">Paints</h2>
    <p>Tick the paints you want to choose from. ${paints && !paints.own ? "This is a starter set; under Supplies you can write down your own." : ""} Each strip runs from full strength into paper white.</p>
    ${!paints && html`<p role="status">Looking for your paints.</p>`}
    <ul class="paints">${mine.map((p) => html`<li key=${p.key}><label class="tick"><input type="checkbox" checked=${ticked.has(p.key)} onChange=${(/** @type {Event} */ e) => tick(p, /** @type {HTMLInputElement} */ (e.target).checked)} /> ${p.name}${p.favourite ? ", favourite" : ""}${p.mind && html`<span class="small">, ${p.mind}</span>`}</label><${Strip} colours=${p.strip} label="" /></li>`)}</ul>
  </section>`;
}
