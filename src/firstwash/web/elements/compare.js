/** Two stacks of glazes beside each other, under every light. */

import { html, useState } from "../vendor/htm-preact-standalone.js";
import { ask } from "./api.js";
import { Choice, Numbers, Swatch } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").Compared} Compared */
/** @typedef {{key: string, share: number}} CoatOf */

/** @type {[number, string][]} */
const SHARES = [[0.05, "a breath of"], [0.12, "a thin coat of"], [0.25, "a quarter coat of"], [0.5, "half a coat of"], [1, "a full coat of"]];

export function Compare() {
  const { paints } = worksheet.state;
  const mine = paints?.paints.filter((p) => !p.banned) ?? [];
  const [first, setFirst] = useState(/** @type {CoatOf[]} */ ([]));
  const [second, setSecond] = useState(/** @type {CoatOf[]} */ ([]));
  const [found, setFound] = useState(/** @type {Compared | null} */ (null));
  if (mine.length < 2) return null;
  const one = first.length ? first : [{ key: mine[0]?.key ?? "", share: 0.25 }, { key: mine[1]?.key ?? "", share: 0.25 }];
  const two = second.length ? second : [...one].reverse();
  const compare = () =>
    worksheet.attempt(async () => {
      /** @param {CoatOf[]} coats */
      const told = (coats) => coats.map((c) => ({ [c.key]: c.share }));
      setFound(await ask("POST", "/api/glazes/compare", { first: told(one), second: told(two) }));
    });
  return html`<details><summary><strong>Compare two stacks</strong></summary>
    <${Stack} title="The first stack, from the paper up" coats=${one} paints=${mine} onchange=${setFirst} />
    <${Stack} title="The second stack, from the paper up" coats=${two} paints=${mine} onchange=${setSecond} />
    <p class="row"><button onClick=${compare}>Compare them</button></p>
    ${found && html`<div role="status"><p>${found.words}</p><ul class="others">${found.lights.map((l) => html`<li><span class="row tight"><${Swatch} colour=${l.first.seen.at(-1)?.hex ?? ""} label="The first" /><${Swatch} colour=${l.second.seen.at(-1)?.hex ?? ""} label="The second" /> <span>By ${l.light_words}: ${l.difference}</span></span><${Numbers} rows=${l.numbers} /></li>`)}</ul></div>`}
  </details>`;
}

/** @param {{title: string, coats: CoatOf[], paints: readonly {key: string, name: string}[], onchange: (coats: CoatOf[]) => void}} props */
function Stack({ title, coats, paints, onchange }) {
  /** @type {[string, string][]} */
  const names = paints.map((p) => [p.key, p.name]);
  /** @param {number} i @param {Partial<CoatOf>} changes */
  const change = (i, changes) => onchange(coats.map((c, j) => (j === i ? { ...c, ...changes } : c)));
  return html`<h3>${title}</h3><ol>${coats.map((coat, i) => html`<li class="sentence">
      <${Choice} label="How strong" value=${coat.share} options=${SHARES} onchange=${(/** @type {number} */ share) => change(i, { share })} />
      <${Choice} label="Paint" value=${coat.key} options=${names} onchange=${(/** @type {string} */ key) => change(i, { key })} />
      ${coats.length > 1 && html`<button class="plain" onClick=${() => onchange(coats.filter((_, j) => j !== i))}>Take it away</button>`}</li>`)}</ol>
    ${coats.length < 6 && html`<p class="row"><button class="plain" onClick=${() => onchange([...coats, { key: names[0]?.[0] ?? "", share: 0.25 }])}>One coat more</button></p>`}`;
}
