/** Test strokes: the plan's puddles to try first, every paint under every other, greys. */

import { html, useEffect, useState } from "../vendor/htm-preact-standalone.js";
import { ask } from "./api.js";
import { Compare } from "./compare.js";
import { Choice, Mix, Numbers, Strip, Sure, Swatch, sentence } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").GlazeChart} GlazeChart */
/** @typedef {import("./api-types.js").GlazeField} GlazeField */
/** @typedef {import("./api-types.js").Grey} Grey */
/** @typedef {import("./api-types.js").PuddleView} PuddleView */

/** @type {[string, string][]} */
const LIGHTS = [["D65", "daylight"], ["D50", "warm daylight"], ["A", "lamplight"], ["LED", "LED light"]];
/** @type {[number, string][]} */
const STRENGTHS = [[9, "very pale, value 9"], [8, "pale, value 8"], [7, "value 7"], [6, "value 6"], [5, "strong, value 5"]];

export function Glazes() {
  const { plan } = worksheet.painting;
  return html`<section id="glazes" aria-labelledby="h-glazes">
    <h2 id="h-glazes">Test strokes</h2>
    ${plan && html`<${Puddles} puddles=${plan.puddles} />`}
    <${Chart} />
    <${Greys} />
    <${Compare} />
  </section>`;
}

/** @param {{puddles: readonly PuddleView[]}} props */
function Puddles({ puddles }) {
  const { liked, brief } = worksheet.painting;
  /** @param {PuddleView} puddle */
  const keep = (puddle) => {
    const kept = brief.kept.puddles;
    void worksheet.keep({ puddles: puddle.locked ? kept.filter((l) => l !== puddle.letter) : [...kept, puddle.letter] });
  };
  return html`<h3>The puddles of this painting</h3>
    <p>Paint a stroke of each on a strip of the same paper and let it dry before you begin. Parts are told at each paint’s full strength; more water makes the paler washes. The wet colours shown are theory, not measured.</p>
    <ul class="washes">${puddles.map((p) => html`<li key=${p.letter}>
      <span class="letter">${p.letter}</span>
      <div class="what"><div class="parts"><${Mix} strips=${p.strips} label=${`Parts of puddle ${p.letter}`} /><span>${p.words}</span>
        <${Strip} colours=${p.strip} label=${`Puddle ${p.letter} from its strongest use to paper`} /><span>dries to ${p.dries}; ${p.runny}</span></div>
        <details><summary>How much to mix</summary><div>${liked.measure === "pans" ? p.pans : p.tubes}. For ${p.area}, in layer${p.layers.length > 1 ? "s" : ""} ${p.layers.join(", ")}.</div>
        <div class="small">Wet <${Swatch} colour=${p.wet} label="wet" /> and dry <${Swatch} colour=${p.dry} label="dry" />.</div></details>
        <button class="plain" aria-pressed=${p.locked} onClick=${() => keep(p)}>${p.locked ? "Recipe kept; let it change" : "Keep this recipe"}</button></div></li>`)}</ul>`;
}

/** Every paint of the list under every other. */
function Chart() {
  const [chart, setChart] = useState(/** @type {GlazeChart | null} */ (null));
  const [light, setLight] = useState("D65");
  const [lower, setLower] = useState(8);
  const [upper, setUpper] = useState(7);
  const [open, setOpen] = useState(false);
  const [field, setField] = useState(/** @type {{row: number, column: number} | null} */ (null));
  const { paints } = worksheet.state;
  useEffect(() => {
    if (!open) return;
    void worksheet.attempt(async () => {
      setChart(await ask("GET", `/api/glazes/chart?lower=${lower}&upper=${upper}&light=${light}`));
    }, false);
  }, [open, light, lower, upper, paints]);
  /** @param {Event} event */
  const toggled = (event) => setOpen(/** @type {HTMLDetailsElement} */ (event.currentTarget).open);
  return html`<details onToggle=${toggled}><summary><strong>Every paint under every other</strong></summary>
    <p class="sentence">A first wash, <${Choice} label="Strength of the first wash" value=${lower} options=${STRENGTHS} onchange=${setLower} />, dry; over it a glaze, <${Choice} label="Strength of the glaze" value=${upper} options=${STRENGTHS} onchange=${setUpper} />; seen by <${Choice} label="Light" value=${light} options=${LIGHTS} onchange=${setLight} />.</p>
    ${chart && html`<${Table} chart=${chart} field=${field} setField=${setField} />`}
    ${chart && field && html`<${Field} chart=${chart} at=${field} />`}
    ${chart?.notes.map((n) => html`<p class="small">${n}</p>`)}
  </details>`;
}

/** @param {{chart: GlazeChart, field: {row: number, column: number} | null, setField: (f: {row: number, column: number}) => void}} props */
function Table({ chart, field, setField }) {
  const head = html`<tr><th scope="col">First wash</th>${chart.paints.map((p) => html`<th scope="col"><span class="turned">${p.name}</span><span class="swatch" style=${{ background: p.upper }}></span></th>`)}</tr>`;
  return html`<div class="chart" tabindex="0" role="region" aria-label="Glaze chart"><table><thead>${head}</thead><tbody>
    ${chart.fields.map((row, r) => html`<tr><th scope="row">${chart.paints[r]?.name} <span class="swatch" style=${{ background: chart.paints[r]?.lower }}></span></th>
      ${row.map((one, c) => html`<td><button class="field-button" style=${{ background: one.hex }} aria-pressed=${field?.row === r && field?.column === c} aria-label=${`${chart.paints[c]?.name} over ${chart.paints[r]?.name}: ${one.words}`} onClick=${() => setField({ row: r, column: c })}><span aria-hidden="true">${one.grey ? "g" : ""}</span></button></td>`)}</tr>`)}
  </tbody></table></div><p class="small">g: the two go grey together. Touch a field to see how sure it is, and whether it matters which is laid first.</p>`;
}

/** @param {{chart: GlazeChart, at: {row: number, column: number}}} props */
function Field({ chart, at }) {
  const one = /** @type {GlazeField | undefined} */ (chart.fields[at.row]?.[at.column]);
  const under = chart.paints[at.row];
  const over = chart.paints[at.column];
  if (!one || !under || !over) return null;
  return html`<div role="status"><p class="row"><span>First wash <${Swatch} colour=${under.lower} label="First wash" /></span> <span>the glaze alone <${Swatch} colour=${over.upper} label="The glaze alone" /></span> <span>seen <${Sure} lighter=${one.lighter} colour=${one.hex} darker=${one.darker} /></span></p>
    <p><strong>${over.name} over ${under.name}:</strong> ${one.words}. ${sentence(one.sure)} ${one.order_tells ? "The other way round it looks different: lay them in this order." : "It hardly matters which is laid first."}</p><${Numbers} rows=${one.numbers} /></div>`;
}

/** Which glaze takes the colour out of a wash. */
function Greys() {
  const { paints } = worksheet.state;
  const [key, setKey] = useState("");
  const [greys, setGreys] = useState(/** @type {Grey[] | null} */ (null));
  const mine = paints?.paints.filter((p) => !p.banned) ?? [];
  /** @param {string} chosen */
  const find = (chosen) => {
    setKey(chosen);
    void worksheet.attempt(async () => {
      setGreys(await ask("GET", `/api/glazes/greys?key=${encodeURIComponent(chosen)}`));
    });
  };
  /** @type {[string, string][]} */
  const grounds = [["", "bare paper"], ...mine.map((p) => /** @type {[string, string]} */ ([p.key, `a quarter coat of ${p.name}`]))];
  return html`<details><summary><strong>Find a grey</strong></summary>
    <p class="sentence">What makes a grey over <${Choice} label="Ground" value=${key} options=${grounds} onchange=${find} />? ${greys === null && html`<button onClick=${() => find(key)}>Find it</button>`}</p>
    ${greys && html`<div role="status"><ul class="others">${greys.map((g) => html`<li><span class="row tight"><${Swatch} colour=${g.before.hex} /><${Swatch} colour=${g.stroke} /><${Swatch} colour=${g.shown.hex} /> <span>${g.parts_words}: ${g.words}</span></span>
      <div class="small">${g.leans.map((l) => html`With less ${l.name} it turns ${l.less_word}, with more ${l.more_word}. `)}</div></li>`)}</ul>
      ${greys.length === 0 && html`<p>None of your paints makes a true grey there.</p>`}
      <p class="small">Patches: before, the glaze alone on paper, and the grey.</p></div>`}
  </details>`;
}
