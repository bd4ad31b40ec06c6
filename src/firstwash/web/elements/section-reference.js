/** The reference and the sheet: how the photo lies on the paper, and what is changed before planning. */

import { html, useState } from "../vendor/htm-preact-standalone.js";
import { Areas } from "./areas.js";
import { Choice, FileButton, Word } from "./parts.js";
import { CropPicture } from "./crop.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").Picture} Picture */

/** @type {[("as the photo" | "upright" | "across"), string][]} */
const LIES = [["as the photo", "lying as the photo does"], ["upright", "upright"], ["across", "lying across"]];
/** @type {[("hot-pressed" | "cold-pressed" | "rough"), string][]} */
const SURFACES = [["hot-pressed", "hot-pressed (smooth)"], ["cold-pressed", "cold-pressed"], ["rough", "rough"]];
/** g/m² as [ISO536] weighs; pounds, of 500 imperial sheets, as they are rounded: common practice, no source. @type {[number, string][]} */
const WEIGHTS = [[185, "185 g/m² (90 lb)"], [300, "300 g/m² (140 lb)"], [425, "425 g/m² (200 lb)"], [640, "640 g/m² (300 lb)"]];

export function Reference() {
  const { brief, sheet } = worksheet.painting;
  const { scene } = brief;
  return html`<section id="reference" aria-labelledby="h-reference">
    <h2 id="h-reference">The reference and the sheet</h2>
    <p class="sentence">The sheet is <${Word} label="Size of the sheet" value=${scene.sheet.size} list="sizes" width="9rem" onchange=${(/** @type {string} */ size) => worksheet.changeScene(`Took a sheet of ${size}`, { sheet: { ...scene.sheet, size } })} />,
      <${Choice} label="How it lies" value=${scene.sheet.lie} options=${LIES} onchange=${(/** @type {typeof LIES[0][0]} */ lie) => worksheet.changeScene("Turned the sheet", { sheet: { ...scene.sheet, lie } })} />: ${sheet}. The paper is <${Choice} label="Weight of the paper" value=${scene.sheet.weight_gsm} options=${weights(scene.sheet.weight_gsm)} onchange=${(/** @type {number} */ weight_gsm) => worksheet.changeScene("Took other paper", { sheet: { ...scene.sheet, weight_gsm } })} />,
      <${Choice} label="Surface of the paper" value=${scene.sheet.surface} options=${SURFACES} onchange=${(/** @type {typeof SURFACES[0][0]} */ surface) => worksheet.changeScene("Took other paper", { sheet: { ...scene.sheet, surface } })} />.</p>
    <datalist id="sizes">${["28x38cm", "A4", "A3", "quarter imperial", "half imperial", "imperial"].map((s) => html`<option value=${s}></option>`)}</datalist>
    ${scene.pictures.map((picture, i) => html`<${Photo} key=${picture.file + i} picture=${picture} number=${i} />`)}
    <p class="row"><${FileButton} words="Lay another photo on the sheet" onfile=${(/** @type {File} */ file) => worksheet.layMore(file)} /></p>
    <${Areas} />
    <${DrawingGrid} />
  </section>`;
}

/** @param {number} now @returns {[number, string][]} */
function weights(now) {
  return WEIGHTS.some(([w]) => w === now) ? WEIGHTS : [...WEIGHTS, [now, `${now} g/m²`]];
}

/** @param {{picture: Picture, number: number}} props */
function Photo({ picture, number }) {
  const { scene } = worksheet.painting.brief;
  const [open, setOpen] = useState(false);
  /** @param {string} words @param {Partial<Picture>} changes */
  const change = (words, changes) =>
    worksheet.changeScene(words, { pictures: scene.pictures.map((p, i) => (i === number ? { ...p, ...changes } : p)) });
  const without = () =>
    worksheet.changeScene("Took a photo off the sheet", { pictures: scene.pictures.filter((_, i) => i !== number) });
  const turn = () => change("Turned the photo", { turns: (picture.turns + 1) % 4, crop: null, neutral: null });
  return html`<div class="photo">
    <h3>${number === 0 ? "The photo" : `Photo ${number + 1}, laid on the sheet`}</h3>
    <p class="row">
      <button onClick=${turn}>Turn a quarter</button>
      <button aria-pressed=${picture.mirrored} onClick=${() => change("Mirrored the photo", { mirrored: !picture.mirrored, crop: null, neutral: null })}>Mirror</button>
      <button aria-expanded=${open} onClick=${() => setOpen(!open)}>${number === 0 ? "Crop, straighten, white" : "Crop, straighten, white, place"}</button>
      ${scene.pictures.length > 1 && html`<button class="plain" onClick=${without}>Take it off the sheet</button>`}
    </p>
    ${open && html`<${CropPicture} picture=${picture} number=${number} change=${change} />`}
  </div>`;
}

function DrawingGrid() {
  const { grid } = worksheet.painting.brief;
  /** @type {[number, string][]} */
  const squares = [[0, "no drawing grid"], ...[3, 4, 5, 6, 8, 10, 12].map((n) => /** @type {[number, string]} */ ([n, `a grid of ${n} squares across`]))];
  return html`<p class="sentence">Over the picture lies <${Choice} label="Drawing grid" value=${grid.across ?? 0} options=${squares} onchange=${(/** @type {number} */ n) => worksheet.change(n ? "Laid a drawing grid" : "Took the grid away", { grid: { ...grid, across: n || null } })} />${grid.across ? html`, ${html`<${Choice} label="Diagonals" value=${grid.diagonals ? "with" : "without"} options=${[["without", "without diagonals"], ["with", "with diagonals"]]} onchange=${(/** @type {string} */ v) => worksheet.change("Changed the grid", { grid: { ...grid, diagonals: v === "with" } })} />`}` : ""}.</p>`;
}
