/** The margin: the sheet on its grey, value studies down its side, and what a touched spot answers. */

import { html } from "../vendor/htm-preact-standalone.js";
import { Answer } from "./answer.js";
import { DryingNow } from "./clock.js";
import { Sheet } from "./sheet.js";
import { worksheet } from "./state.js";

export function Margin() {
  const { plan } = worksheet.painting;
  const answering = worksheet.state.spot && !worksheet.state.hand;
  return html`<aside class="margin ${answering ? "answering" : ""}" aria-label="The sheet">
    <${Stages} />
    <div class="board">
      <${Sheet} />
      <${Studies} />
    </div>
    <div class="below">
      <${DryingNow} />
      ${worksheet.state.hand ? html`<${InHand} />` : plan ? html`<${Answer} />` : html`<${Unplanned} />`}
    </div>
  </aside>`;
}

function Unplanned() {
  const { work, waiting } = worksheet.state;
  if (work) return html`<p>The plan is being made; how far it is stands beside the sheet's text.</p>`;
  return html`<p>This is the photo as it lies on the sheet. Crop it, choose paints, then have it planned.</p>
    <p class="row"><button class="chief" disabled=${waiting} onClick=${() => worksheet.plan()}>Plan the painting</button></p>`;
}

function InHand() {
  const { hand } = worksheet.state;
  if (!hand) return null;
  return html`<p class="told" role="status">${hand.say}</p>
    <p class="row"><button onClick=${() => worksheet.set({ hand: null })}>Leave it as it is</button></p>`;
}

/** What lies on the sheet: the photo, the paper, each layer when it is dry. */
function Stages() {
  const { painting, looking, comparing } = worksheet.state;
  const plan = painting?.plan;
  const shows = [
    ["reference", "Photo"],
    ...(plan
      ? [
          ...plan.layers.map((l) => /** @type {[string, string]} */ ([`stage-${l.number}`, l.title])),
          ["finished", "Finished"],
          ["difference", "Differences"],
        ]
      : []),
  ];
  /** @param {"edge" | "blink"} how */
  const compare = (how) => worksheet.set({ comparing: comparing === how ? "" : how });
  const stage = looking.startsWith("stage") || looking === "finished";
  return html`<div class="stages" role="group" aria-label="What lies on the sheet">
    ${shows.map(([name, words]) => html`<button key=${name} aria-pressed=${looking === name} onClick=${() => worksheet.set({ looking: /** @type {string} */ (name), comparing: stage ? comparing : "" })}>${words}</button>`)}
    ${stage && html`<span class="compare" role="group" aria-label="Beside the photo">
      <button class="plain" aria-pressed=${comparing === "edge"} onClick=${() => compare("edge")}>Beside the photo</button>
      <button class="plain" aria-pressed=${comparing === "blink"} onClick=${() => compare("blink")}>Turn over</button></span>`}
  </div>`;
}

/** Small printed studies: the picture in few values, squinted at, its hues, its whites. */
export function Studies() {
  const { painting, looking } = worksheet.state;
  if (!painting) return null;
  const { steps, squint, first } = painting.brief.values;
  const soft = Math.round(100 * squint);
  const path = `/prints/${painting.id}/scene/${painting.scene}`;
  const from = first === "light" ? "1 is light" : "1 is dark";
  /** @type {[string, string][]} */
  const studies = [
    [`squint-${Math.max(soft, 35)}`, "Squinted"],
    [`values-2-${soft}`, "Two values"],
    [`values-3-${soft}`, "Three values"],
    ...(steps > 3 ? [/** @type {[string, string]} */ ([`values-${steps}-${soft}`, `${steps} values, ${from}`])] : []),
    ["hue", "Hue alone"],
    ["whites", "Whites"],
  ];
  return html`<ul class="studies" aria-label="Value studies">${studies.map(
    ([name, words]) => html`<li key=${name}><button aria-pressed=${looking === name} onClick=${() => worksheet.set({ looking: looking === name ? "reference" : name, comparing: "" })}>
      <img src="${path}/${name}?w=240" alt="" loading="lazy" /><span>${words}</span></button></li>`,
  )}</ul>`;
}
