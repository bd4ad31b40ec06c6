/** The margin: the sheet on its grey, value studies down its side, and what a touched spot answers. */

import { html, useEffect, useRef, useState } from "../vendor/htm-preact-standalone.js";
import { Answer } from "./answer.js";
import { DryingNow } from "./clock.js";
import { ask } from "./api.js";
import { Busy, Numbers, Told } from "./parts.js";
import { Sheet } from "./sheet.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").DifferenceTold} DifferenceTold */

export function Margin() {
  const { plan } = worksheet.painting;
  const answering = worksheet.state.spot && !worksheet.state.hand;
  const margin = useRef(/** @type {HTMLElement | null} */ (null));
  useEffect(() => {
    const { current } = margin;
    if (!current) return undefined;
    // On a narrow screen the margin lies above the text: a heading gone to must stop below it.
    const watch = new ResizeObserver(() => document.documentElement.style.setProperty("--above", `${current.offsetHeight}px`));
    watch.observe(current);
    return () => watch.disconnect();
  }, []);
  return html`<aside ref=${margin} class="margin ${answering ? "answering" : ""} ${worksheet.state.folded && !answering ? "folded" : ""}" aria-label="The sheet">
    <${Told} />
    <${Busy} />
    <${Stages} />
    <div class="board">
      <${Sheet} />
      <${Studies} />
    </div>
    <div class="below">
      <${DryingNow} />
      ${worksheet.state.hand ? html`<${InHand} />` : worksheet.state.looking === "difference" && !answering ? html`<${Differing} />` : worksheet.state.looking === "background" ? html`<${CutOut} />` : plan ? html`<${Answer} />` : html`<${Unplanned} />`}
    </div>
  </aside>`;
}

function Unplanned() {
  const { work, waiting } = worksheet.state;
  if (work) return null;
  return html`<p>This is the photo as it lies on the sheet. Crop it, choose paints, then have it planned.</p>
    <p class="row"><button class="chief" disabled=${waiting} onClick=${() => worksheet.plan()}>Plan the painting</button></p>`;
}

/** How the picture of the differences is read, and what it says in words. */
function Differing() {
  const { painting } = worksheet.state;
  const [told, setTold] = useState(/** @type {DifferenceTold | null} */ (null));
  useEffect(() => {
    ask("GET", `${worksheet.path}/difference`).then((found) => setTold(/** @type {DifferenceTold} */ (found)), () => {});
  }, [painting?.plan?.stamp]);
  /** @param {number} share */
  const part = (share) => `${Math.round(100 * share)} % of the sheet`;
  return html`<p>Where the finished painting will differ from the photo, texture finer than a brush-mark left out:</p>
    <ul class="legend"><li><span class="swatch close"></span> close to the photo${told && `, ${part(told.close)}`}</li>
      <li><span class="swatch half"></span> about half a value step off, or as much in colour${told && `, ${part(told.half_step)}`}</li>
      <li><span class="swatch clear"></span> further off${told && `, ${part(told.clear)}`}</li></ul>
    ${told && html`<p>${told.words}</p>`}
    <p class="hint">Touch a dark place to see why, and what could be changed.</p>
    ${told && html`<${Numbers} rows=${told.numbers} />`}`;
}

/** How the picture of the background is read. */
function CutOut() {
  return html`<p>Paper white is taken for background; what stands dark on it is the subject. Where that is wrong, press “This is background” or “This is subject” and draw over the place.</p>`;
}

function InHand() {
  const { hand } = worksheet.state;
  useEffect(() => {
    /** @param {KeyboardEvent} event */
    const key = (event) => event.key === "Escape" && worksheet.set({ hand: null });
    addEventListener("keydown", key); // wherever the focus is
    return () => removeEventListener("keydown", key);
  }, []);
  if (!hand) return null;
  return html`<p class="told" role="status">${hand.say}</p>
    <p class="row"><button onClick=${() => worksheet.set({ hand: null })}>Put the tool down</button></p>`;
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
  /** @param {string} name */
  const isStage = (name) => name.startsWith("stage") || name === "finished";
  const stage = isStage(looking);
  const { folded } = worksheet.state;
  return html`<div class="stages" role="group" aria-label="What lies on the sheet">
    <span class="which">${shows.map(([name, words]) => html`<button key=${name} aria-pressed=${looking === name} onClick=${() => worksheet.set({ looking: /** @type {string} */ (name), comparing: isStage(/** @type {string} */ (name)) ? comparing : "" })}>${words}</button>`)}</span>
    ${stage && html`<span class="compare" role="group" aria-label="Beside the photo"><span class="lead">Compare it:</span>
      <button class="plain" aria-pressed=${comparing === "edge"} onClick=${() => compare("edge")}>Beside the photo</button>
      <button class="plain" aria-pressed=${comparing === "blink"} onClick=${() => compare("blink")}>Turn over</button></span>`}
    <button class="plain fold" aria-expanded=${!folded} onClick=${() => worksheet.set({ folded: !folded })}>${folded ? "Show the sheet" : "Fold the sheet away"}</button>
  </div>`;
}

const COUNTS = ["", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten"];

/** Small printed studies: the picture in few values, squinted at, its hues, its whites. */
export function Studies() {
  const { painting, looking } = worksheet.state;
  if (!painting) return null;
  const { steps, squint } = painting.brief.values;
  const soft = Math.round(100 * squint);
  const path = `/prints/${painting.id}/scene/${painting.scene}`;
  /** @type {[string, string][]} */
  const studies = [
    [`squint-${Math.max(soft, 35)}`, "Squinted"],
    [`values-2-${soft}`, "Two values"],
    [`values-3-${soft}`, "Three values"],
    ...(steps > 3 ? [/** @type {[string, string]} */ ([`values-${steps}-${soft}`, `${COUNTS[steps]} values`])] : []),
    ["pattern", "Big masses"],
    ["hue", "Hue alone"],
    ["whites", "Whites"],
    ["local", "Own colours"],
    ["light", "Light alone"],
  ];
  return html`<ul class="studies" aria-label="Value studies">${studies.map(
    ([name, words]) => html`<li key=${name}><button aria-pressed=${looking === name} onClick=${() => worksheet.set({ looking: looking === name ? "reference" : name, comparing: "" })}>
      <img src="${path}/${name}?w=240" alt="" loading="lazy" /><span>${words}</span></button></li>`,
  )}</ul>`;
}
