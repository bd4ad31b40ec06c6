/** One painting: the line at the top, the column to read, the margin with the sheet. */

import { html, useEffect, useState } from "../vendor/htm-preact-standalone.js";
import { Easel } from "./section-easel.js";
import { Finished } from "./section-finished.js";
import { HandOut } from "./section-handout.js";
import { Glazes } from "./section-glazes.js";
import { History } from "./history.js";
import { Margin } from "./margin.js";
import { Paints } from "./section-paints.js";
import { Told } from "./parts.js";
import { Reference } from "./section-reference.js";
import { Seeing } from "./section-seeing.js";
import { Shapes } from "./section-shapes.js";
import { Layers } from "./section-layers.js";
import { Supplies } from "./section-supplies.js";
import { Wanted } from "./section-wanted.js";
import { worksheet } from "./state.js";

/** @param {{go: (path: string) => void}} props */
export function Frame({ go }) {
  const { painting, problem } = worksheet.state;
  useEffect(() => {
    if (!worksheet.state.paints) void worksheet.attempt(() => worksheet.loadPaints(), false);
  }, []);
  if (!painting) {
    return html`<main class="start" id="work"><${Told} />${problem
      ? html`<p><a href="/" onClick=${(/** @type {Event} */ e) => { e.preventDefault(); go("/"); }}>Back to the paintings</a></p>`
      : html`<p role="status">Opening the painting.</p>`}</main>`;
  }
  const layers = painting.plan?.layers.filter((l) => l.washes.length) ?? [];
  return html`<${TopLine} go=${go} />
    <div class="page">
      <main class="column" id="work">
        <h1>${painting.name}</h1>
        <${Contents} layers=${layers} />
        <${Reference} />
        <${Seeing} />
        <${Paints} />
        <${Wanted} />
        <${Shapes} />
        <${Layers} layers=${layers} />
        <${Glazes} />
        <${Supplies} />
        <${HandOut} />
        <${Easel} />
        <${Finished} />
      </main>
      <${Margin} />
    </div>`;
}

/** @param {{go: (path: string) => void}} props */
function TopLine({ go }) {
  const { painting, waiting } = worksheet.state;
  const [past, setPast] = useState(false);
  if (!painting) return null;
  return html`<header class="topline">
    <a href="/" onClick=${(/** @type {Event} */ e) => { e.preventDefault(); go("/"); }}>Paintings</a>
    <span class="name">${painting.name}</span>
    <span class="said" role="status">${waiting ? "Working" : `Kept: ${painting.words.toLowerCase()}`}</span>
    <button class="plain" disabled=${!painting.can_step_back} onClick=${() => worksheet.back()}>Step back</button>
    <button class="plain" disabled=${!painting.can_step_forward} onClick=${() => worksheet.forward()}>Step forward</button>
    <button class="plain" aria-expanded=${past} onClick=${() => setPast(!past)}>All steps</button>
    ${past && html`<${History} close=${() => setPast(false)} />`}
  </header>`;
}

/** @param {{layers: readonly {number: number, title: string}[]}} props */
function Contents({ layers }) {
  const { plan } = worksheet.painting;
  const parts = [
    ["reference", "Reference and sheet"],
    ["seeing", "Seeing"],
    ["paints", "Paints"],
    ["wanted", "The work"],
    ...(layers.length ? [["shapes", "Shapes"]] : []),
    ...layers.map((l) => [`layer-${l.number}`, l.title]),
    ...(plan && (plan.keeps.length || plan.strokes.length) ? [["strokes", "Fine strokes"]] : []),
    ["glazes", "Test strokes"],
    ["supplies", "Supplies"],
    ["handout", "The hand-out"],
    ["easel", "At the easel"],
    ["finished", "The finished painting"],
  ];
  return html`<nav aria-label="Contents"><ul class="contents">${parts.map(([id, words]) => html`<li><a href="#${id}">${words}</a></li>`)}</ul></nav>`;
}
