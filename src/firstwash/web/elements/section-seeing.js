/** Seeing: squint, values, hue, whites. The studies themselves run down the margin. */

import { html, useEffect, useState } from "../vendor/htm-preact-standalone.js";
import { ask } from "./api.js";
import { Studies } from "./margin.js";
import { Choice, Numbers, Swatch } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").ValueStudy} ValueStudy */
/** @typedef {import("./api-types.js").BesideGreyView} BesideGreyView */
/** @typedef {import("./api-types.js").PictureLook} PictureLook */
/** @typedef {import("./api-types.js").LightLook} LightLook */

/** @type {[number, string][]} */
const SQUINTS = [[0, "not at all"], [0.25, "a little"], [0.5, "half shut"], [0.8, "nearly shut"]];
/** @type {[number, string][]} */
const STEPS = [2, 3, 4, 5, 6, 7, 8, 9, 10].map((n) => [n, `${n} values`]);

export function Seeing() {
  const { brief } = worksheet.painting;
  const { values } = brief;
  /** @param {string} words @param {Partial<typeof values>} changes */
  const change = (words, changes) => worksheet.change(words, { values: { ...values, ...changes } });
  const soft = Math.round(100 * values.squint);
  return html`<section id="seeing" aria-labelledby="h-seeing">
    <h2 id="h-seeing">Seeing</h2>
    <p>Before any colour: where are the lights, where the darks, and what stays white? Touch a study to lay it on the sheet.</p>
    <p class="sentence">Squint <${Choice} label="Squint" value=${nearest(values.squint)} options=${SQUINTS} onchange=${async (/** @type {number} */ squint) => { if (await change("Squinted", { squint })) worksheet.set({ looking: squint ? `squint-${Math.round(100 * squint)}` : "reference" }); }} />
      ${" and see the picture in "}<${Choice} label="Value steps" value=${values.steps} options=${STEPS} onchange=${async (/** @type {number} */ steps) => { if (await change(`Looked at ${steps} values`, { steps })) worksheet.set({ looking: `values-${steps}-${soft}` }); }} />,
      counted from <${Choice} label="Where counting begins" value=${values.first} options=${[["dark", "the darkest"], ["light", "the lightest"]]} onchange=${(/** @type {"dark" | "light"} */ first) => change("Counted values the other way", { first })} />.</p>
    <div class="in-column"><${Studies} /></div>
    <${Steps} />
    <${LookedAt} />
    <${LightOverAll} />
    <${HueSpot} />
  </section>`;
}

/** @param {number} squint */
function nearest(squint) {
  return SQUINTS.reduce((best, [v]) => (Math.abs(v - squint) < Math.abs(best - squint) ? v : best), 0);
}

/** The steps as a printed scale, each with its share of the sheet. */
function Steps() {
  const { painting } = worksheet.state;
  const [study, setStudy] = useState(/** @type {ValueStudy | null} */ (null));
  const of = painting && [painting.scene, painting.brief.values.steps, painting.brief.values.first, painting.brief.values.squint].join(" ");
  useEffect(() => {
    if (painting) void ask("GET", `${worksheet.path}/values`).then((v) => setStudy(/** @type {ValueStudy} */ (v)), () => {});
  }, [of]);
  if (!study) return null;
  return html`<ol class="scale" aria-label="Value steps">${study.steps.map(
    (step) => html`<li style=${{ flexGrow: 1 }}><span class="tone" style=${{ background: step.hex }}></span><span>${step.name}</span><span class="small">${Math.round(100 * step.share)} %</span></li>`,
  )}</ol><p class="small">${study.whites}</p>`;
}

/** The big masses, the ends of the scale, and what the ticked paints come to. */
function LookedAt() {
  const { painting } = worksheet.state;
  const [told, setTold] = useState(/** @type {PictureLook | null} */ (null));
  const of = painting && [painting.scene, painting.brief.values.steps, painting.brief.values.first, painting.brief.paints.join(",")].join(" ");
  useEffect(() => {
    let late = false;
    if (painting) void ask("GET", `${worksheet.path}/looked`).then((v) => late || setTold(/** @type {PictureLook} */ (v)), () => {});
    return () => {
      late = true;
    };
  }, [of]);
  if (!told) return null;
  return html`<p>${told.pattern}</p><p>${told.ends}</p><p>${told.reach}</p>`;
}

/** The light, and how far it can be told from the things' own colours. */
function LightOverAll() {
  const { painting } = worksheet.state;
  const [told, setTold] = useState(/** @type {LightLook | null} */ (null));
  const scene = painting?.scene;
  useEffect(() => {
    let late = false;
    if (painting) void ask("GET", `${worksheet.path}/light`).then((v) => late || setTold(/** @type {LightLook} */ (v)), () => {});
    return () => {
      late = true;
    };
  }, [painting?.id, scene]);
  if (!told) return null;
  return html`<h3>Light and own colours</h3>
    ${told.sentences.map((one) => html`<p>${one}</p>`)}
    <${Numbers} rows=${told.numbers} />
    <p class="small">“Own colours” beside the sheet shows the things with the light taken away, “Light alone” a white cast of them. One photo cannot say for certain which is which: trust your eyes over both.</p>`;
}

/** A hue beside a grey of the same value: touch a spot of the photo. */
function HueSpot() {
  const [seen, setSeen] = useState(/** @type {BesideGreyView | null} */ (null));
  const touch = () =>
    worksheet.set({
      looking: "reference",
      comparing: "",
      hand: {
        kind: "hue",
        say: "Touch a spot of the photo to see its hue beside a grey of the same value.",
        done: async (points) => {
          const at = points[0];
          if (!at) return;
          const found = await worksheet.attempt(() => ask("GET", `${worksheet.path}/hue?x=${at[0]}&y=${at[1]}`));
          worksheet.set({ hand: null });
          if (found) setSeen(/** @type {BesideGreyView} */ (found));
        },
      },
    });
  return html`<p class="row"><button onClick=${touch}>See a hue against grey</button></p>
    ${seen && html`<p class="row" role="status"><${Swatch} colour=${seen.hex} label="The spot" /><${Swatch} colour=${seen.grey} label="Grey of the same value" /> <span>${seen.words}</span></p>`}`;
}
