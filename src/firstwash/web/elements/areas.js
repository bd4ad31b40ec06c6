/** What is changed in the picture before it is planned: background, focal area, parts of it. */

import { html, useState } from "../vendor/htm-preact-standalone.js";
import { Choice } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").Area} Area */
/** @typedef {import("./api-types.js").Mark} Mark */

/** @type {[("painted" | "bare" | "graded"), string][]} */
const TREATMENTS = [["painted", "painted as it is"], ["bare", "left bare"], ["graded", "one graded wash"]];

/** @param {[number, number][]} points mm @returns {[number, number][]} fractions of the sheet */
function fractions(points) {
  const { width_mm, height_mm } = worksheet.painting;
  const step = Math.max(1, Math.floor(points.length / 1500));
  return points
    .filter((_, i) => i % step === 0 || i === points.length - 1)
    .map(([x, y]) => [clamp(x / width_mm), clamp(y / height_mm)]);
}

/** @param {number} v */
const clamp = (v) => Math.min(Math.max(v, -0.4), 1.4);

export function Areas() {
  const { scene } = worksheet.painting.brief;
  const { background, areas, focal } = scene;
  const [kind, setKind] = useState(/** @type {Area["kind"]} */ ("leave out"));
  const [colour, setColour] = useState("#7a8fa6");
  /** @param {"painted" | "bare" | "graded"} treatment */
  const treat = (treatment) => {
    void worksheet.changeScene(`Background ${treatment}`, { background: { ...background, treatment } });
    if (treatment !== "painted") worksheet.set({ looking: "background" });
  };
  return html`<div>
    <p class="sentence">The background is <${Choice} label="Background" value=${background.treatment} options=${TREATMENTS} onchange=${treat} />. ${(background.treatment !== "painted" || background.marks.length > 0) && html`What is taken for background can be corrected:`}</p>
    ${(background.treatment !== "painted" || background.marks.length > 0) && html`<p class="row">
      <button onClick=${() => worksheet.set({ looking: "background" })}>Show the background</button>
      <button onClick=${() => markAs("background")}>This is background</button>
      <button onClick=${() => markAs("subject")}>This is subject</button>
      ${background.marks.length > 0 && html`<button class="plain" onClick=${() => worksheet.changeScene("Forgot the marks", { background: { ...background, marks: [] } })}>Forget my marks</button>`}</p>`}
    <p class="sentence">${focal ? "One part matters most and is drawn finer." : "No part matters more than the others."}
      <button onClick=${focalHand}>${focal ? "Draw it anew" : "Draw round the part that matters most"}</button>
      ${focal && html`<button class="plain" onClick=${() => worksheet.changeScene("Took the focal area away", { focal: null })}>No part matters more</button>`}</p>
    <details><summary>Leave a part out, lighten it, give it another colour</summary>
      <p class="sentence">Draw round a part of the picture to <${Choice} label="What to do with a part" value=${kind} options=${[["leave out", "leave it out"], ["lighten", "lighten it"], ["darken", "darken it"], ["recolour", "give it another colour"]]} onchange=${setKind} />
        ${kind === "recolour" && html`<input type="color" aria-label="Colour" value=${colour} onInput=${(/** @type {Event} */ e) => setColour(/** @type {HTMLInputElement} */ (e.target).value)} />`}
        <button onClick=${() => areaHand(kind, colour)}>Draw round it</button></p>
      ${areas.length > 0 && html`<ul>${areas.map((a, i) => html`<li>${saidOf(a)} <button class="plain" onClick=${() => worksheet.changeScene("Took a change back", { areas: areas.filter((_, j) => j !== i) })}>Take this back</button></li>`)}</ul>`}
    </details>
  </div>`;
}

/** @param {Area} area */
function saidOf(area) {
  const words = { "leave out": "A part left out", lighten: "A part lightened", darken: "A part darkened", recolour: "A part in another colour" };
  return `${words[area.kind]}, ${placeOf(area.outline)}`;
}

/** Where a part lies, by thirds of the sheet. @param {readonly (readonly [number, number])[]} outline */
function placeOf(outline) {
  const middle = (/** @type {0 | 1} */ i) => outline.reduce((sum, p) => sum + p[i], 0) / outline.length;
  const across = ["left", "", "right"][Math.min(2, Math.max(0, Math.floor(3 * middle(0))))];
  const down = ["upper", "", "lower"][Math.min(2, Math.max(0, Math.floor(3 * middle(1))))];
  return [down, across].filter(Boolean).join(" ") || "in the middle";
}

/** @param {Mark["kind"]} kind */
function markAs(kind) {
  const { scene } = worksheet.painting.brief;
  worksheet.set({
    looking: "background",
    comparing: "",
    hand: {
      kind: `mark ${kind}`,
      say: `Draw over what belongs to the ${kind}. One stroke is enough to begin with.`,
      done: async (points) => {
        const marks = [...scene.background.marks, { kind, points: fractions(points), width: 0.03 }];
        if (await worksheet.changeScene(`Marked some ${kind}`, { background: { ...scene.background, marks } })) {
          worksheet.set({ hand: null, looking: "background" });
        }
      },
    },
  });
}

function focalHand() {
  worksheet.set({
    looking: "reference",
    comparing: "",
    hand: {
      kind: "focal",
      say: "Draw round the part of the picture that matters most.",
      done: async (points) => {
        const places = fractions(points);
        const xs = places.map(([x]) => Math.min(Math.max(x, 0), 1));
        const ys = places.map(([, y]) => Math.min(Math.max(y, 0), 1));
        const [left, top] = [Math.min(...xs), Math.min(...ys)];
        /** @type {[number, number, number, number]} */
        const focal = [left, top, Math.max(...xs) - left, Math.max(...ys) - top];
        if (focal[2] < 0.02 || focal[3] < 0.02) {
          worksheet.set({ problem: "That part is too small; draw round it." });
          return;
        }
        if (await worksheet.changeScene("Marked what matters most", { focal })) worksheet.set({ hand: null });
      },
    },
  });
}

/** @type {Record<Area["kind"], string>} */
const TO_DO = { "leave out": "leave out", lighten: "lighten", darken: "darken", recolour: "give another colour" };

/** @param {Area["kind"]} kind @param {string} colour */
function areaHand(kind, colour) {
  const { scene } = worksheet.painting.brief;
  worksheet.set({
    looking: "reference",
    comparing: "",
    hand: {
      kind: "area",
      say: `Draw round the part to ${TO_DO[kind]}.`,
      done: async (points) => {
        const outline = fractions(points);
        if (outline.length < 3) {
          worksheet.set({ problem: "Draw round the part; a touch alone is not enough." });
          return;
        }
        /** @type {Area} */
        const area = { kind, outline, amount: kind === "leave out" || kind === "recolour" ? 1 : 0.5, colour: kind === "recolour" ? colour : null };
        const words = { "leave out": "Left a part out", lighten: "Lightened a part", darken: "Darkened a part", recolour: "Gave a part another colour" };
        if (await worksheet.changeScene(words[kind], { areas: [...scene.areas, area] })) worksheet.set({ hand: null });
      },
    },
  });
}
