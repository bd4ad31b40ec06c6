/** How much work the painter is ready for, and the button that has it planned. */

import { html } from "../vendor/htm-preact-standalone.js";
import { Choice, Strip } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").Work} Work */

/** Our own choice of limits that go together; a beginner's as on the command line. @type {Record<string, Partial<Work>>} */
const SIZES = {
  beginner: { washes: 15, hours: 1.5, puddles: 8, paints: 5, layers: 3, shapes: 60 },
  evening: { washes: 40, hours: 3, puddles: 12, paints: 6, layers: 4, shapes: 110 },
  usual: { washes: 60, hours: 5, puddles: 16, paints: 6, layers: 4, shapes: 150 },
  patient: { washes: 120, hours: 12, puddles: 24, paints: 8, layers: 5, shapes: 220 },
};
/** @type {[string, string][]} */
const NAMES = [
  ["beginner", "a beginner’s hour and a half"], ["evening", "an evening of three hours"],
  ["usual", "a day of five hours"], ["patient", "as long as it takes, twelve hours or so"], ["own", "my own limits"],
];

/** @param {Work} work */
function sizeOf(work) {
  const found = Object.entries(SIZES).find(([, size]) =>
    Object.entries(size).every(([name, value]) => work[/** @type {keyof Work} */ (name)] === value),
  );
  return found?.[0] ?? "own";
}

/** @param {number[]} values @param {number} now @param {(n: number) => string} say @returns {[number, string][]} */
function options(values, now, say) {
  const all = values.includes(now) ? values : [...values, now].sort((a, b) => a - b);
  return all.map((n) => [n, say(n)]);
}

/** @param {number} n @param {string} word */
const count = (n, word) => `${n} ${word}${n === 1 ? "" : word.endsWith("sh") ? "es" : "s"}`;

export function Wanted() {
  const { painting, waiting, work: doing } = worksheet.state;
  if (!painting) return null;
  const { work } = painting.brief;
  const { plan } = painting;
  /** @param {Partial<Work>} changes */
  const change = (changes) => worksheet.change("Changed how much work it may be", { work: { ...work, ...changes } });
  return html`<section id="wanted" aria-labelledby="h-wanted">
    <h2 id="h-wanted">The work</h2>
    <p class="sentence">It may take <${Choice} label="How much work" value=${sizeOf(work)} options=${NAMES} onchange=${(/** @type {string} */ size) => SIZES[size] && change(/** @type {Partial<Work>} */ (SIZES[size]))} />.</p>
    <details open=${sizeOf(work) === "own"}><summary>Limits one by one</summary>
      <p class="sentence">At most <${Choice} label="Layers" value=${work.layers} options=${options([2, 3, 4, 5, 6], work.layers, (n) => count(n, "layer"))} onchange=${(/** @type {number} */ layers) => change({ layers })} />,
        <${Choice} label="Paints" value=${work.paints} options=${options([1, 2, 3, 4, 5, 6, 7, 8, 10, 12], work.paints, (n) => count(n, "paint"))} onchange=${(/** @type {number} */ paints) => change({ paints })} />,
        <${Choice} label="Puddles" value=${work.puddles ?? 0} options=${[...options([4, 6, 8, 12, 16, 24], work.puddles ?? 16, (n) => count(n, "puddle")), [0, "any number of puddles"]]} onchange=${(/** @type {number} */ n) => change({ puddles: n || null })} />,
        <${Choice} label="Washes" value=${work.washes ?? 0} options=${[...options([15, 30, 40, 60, 90, 120], work.washes ?? 60, (n) => count(n, "wash")), [0, "any number of washes"]]} onchange=${(/** @type {number} */ n) => change({ washes: n || null })} />
        ${" and "}<${Choice} label="Hours" value=${work.hours ?? 0} options=${[...options([1.5, 2, 3, 5, 8, 12], work.hours ?? 5, (n) => count(n, "hour")), [0, "any number of hours"]]} onchange=${(/** @type {number} */ n) => change({ hours: n || null })} />;
        about <${Choice} label="Shapes" value=${work.shapes} options=${options([40, 60, 90, 110, 150, 220, 300], work.shapes, (n) => count(n, "shape"))} onchange=${(/** @type {number} */ shapes) => change({ shapes })} />
        ${" and "}<${Choice} label="Fine strokes" value=${work.touches} options=${options([0, 10, 20, 40, 80], work.touches, (n) => count(n, "fine stroke"))} onchange=${(/** @type {number} */ touches) => change({ touches })} />.</p>
      <p class="sentence">My hand is <${Choice} label="Hand" value=${work.hand} options=${options([0, 0.1, 0.2, 0.4], work.hand, handWords)} onchange=${(/** @type {number} */ hand) => change({ hand })} />; no paint alone may be darker than <${Choice} label="Darkest paint" value=${work.darkest_step ?? 0} options=${[[0, "it likes"], ...[2, 3, 4, 5].map((n) => [n, `value ${n}, so that darks are mixed`])]} onchange=${(/** @type {number} */ n) => change({ darkest_step: n || null })} />.</p>
    </details>
    <p class="row"><button class="chief" disabled=${waiting || !!doing} onClick=${() => worksheet.plan()}>${plan ? "Plan it again" : "Plan the painting"}</button>
      ${plan?.stale && html`<strong>Something was changed since this plan was made.</strong>`}</p>
    ${plan && html`<${Outcome} />`}
    ${painting.problem && html`<p class="problem">${painting.problem}</p>`}
  </section>`;
}

/** @param {number} hand */
function handWords(hand) {
  if (hand === 0) return "never off";
  if (hand <= 0.1) return "practised, off by a tenth";
  return hand <= 0.2 ? "usual, off by a fifth" : "new to it, off by two fifths";
}

/** The paints the plan took: kept on the palette, or left out of the next plan. */
function Palette() {
  const { plan, brief } = worksheet.painting;
  const { paints } = worksheet.state;
  if (!plan) return null;
  /** @param {string} key @param {boolean} locked */
  const keep = (key, locked) =>
    worksheet.keep({ paints: locked ? brief.kept.paints.filter((k) => k !== key) : [...brief.kept.paints, key] });
  /** @param {string} key @param {string} name */
  const without = (key, name) => {
    const all = (paints?.paints ?? []).filter((p) => !p.banned && p.fill !== "empty").map((p) => p.key);
    const ticked = brief.paints.length ? brief.paints : all;
    void worksheet.change(`Left ${name} out`, { paints: ticked.filter((k) => k !== key) });
  };
  return html`<h3>On the palette</h3><ul class="paints">${plan.palette.map((p) => html`<li key=${p.key}><span>${p.name}${p.mind && html`<span class="small">, ${p.mind}</span>`}</span><${Strip} colours=${p.strip} label="" />
    <span class="more row tight"><button class="plain" aria-pressed=${p.locked} onClick=${() => keep(p.key, p.locked)}>${p.locked ? "Kept; may go again" : "Keep it on the palette"}</button>
      <button class="plain" onClick=${() => without(p.key, p.name)}>Leave it out next time</button></span></li>`)}</ul>`;
}

/** What the plan comes to, in words. */
function Outcome() {
  const { plan } = worksheet.painting;
  if (!plan) return null;
  return html`<div>
    <p>${plan.summary}; ${plan.bare}. At the board ${plan.time}, drying included.</p>
    ${plan.judged
      ? html`<p>${plan.quality}</p>`
      : html`<p>Washes or shapes were changed by hand since the plan was judged. <button disabled=${!!worksheet.state.work} onClick=${() => worksheet.begin("/judge", "judge")}>Judge it again</button></p>`}
    <${Palette} />
    ${plan.notes.length > 0 && html`<details><summary>What else to know of this plan</summary><ul>${plan.notes.map((n) => html`<li>${n}</li>`)}</ul></details>`}
    ${plan.numbers.length > 0 && html`<details class="small"><summary>The numbers</summary><table><tbody>${plan.numbers.map(([name, value]) => html`<tr><td>${name}</td><td>${value}</td></tr>`)}</tbody></table></details>`}
  </div>`;
}
