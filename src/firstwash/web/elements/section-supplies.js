/** Supplies: the painter's own list of paints, and what swatch cards taught of them. */

import { html, useEffect, useRef, useState } from "../vendor/htm-preact-standalone.js";
import { ask } from "./api.js";
import { Cards } from "./cards-of-swatches.js";
import { FileButton, Numbers, Strip, sentence, useWritten } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").OwnPaints} OwnPaints */
/** @typedef {import("./api-types.js").PaintCard} PaintCard */
/** @typedef {import("./api-types.js").Earlier} EarlierList */

const HUES = ["yellow", "orange", "red", "pink", "violet", "blue", "green", "brown", "grey", "black", "white"];

/** @param {string} method @param {string} path @param {unknown} [body] */
export async function changePaints(method, path, body) {
  const paints = await worksheet.attempt(() => ask(method, `/api/paints${path}`, body));
  if (paints) worksheet.set({ paints: /** @type {OwnPaints} */ (paints) });
  else if (method === "PUT") await worksheet.attempt(() => worksheet.loadPaints(), false); // maybe changed elsewhere
  return !!paints;
}

export function Supplies() {
  const { paints } = worksheet.state;
  return html`<section id="supplies" aria-labelledby="h-supplies">
    <h2 id="h-supplies">Supplies</h2>
    ${paints
      ? html`<h3>My paints</h3>
        <p>${paints.own ? "Your own list." : "A starter set, until you change it: add what you have, take out what you have not."} ${paints.paper_known === "calibrated" ? `The paper is ${paints.paper}, as your swatch card showed it.` : "The paper is taken for a plain white one until a swatch card shows yours."}</p>
        <ul class="paints">${paints.paints.map((p) => html`<${Paint} key=${p.key} paint=${p} />`)}</ul>
        <${Add} />
        <${AsText} text=${paints.text} stamp=${paints.stamp} />
        <${Cards} paints=${paints} />`
      : html`<p role="status">Looking for your paints.</p>`}
    ${paints && html`<div class="told"><p>${paints.caution}</p></div>`}
  </section>`;
}

/** @param {{paint: PaintCard}} props */
function Paint({ paint }) {
  const key = encodeURIComponent(paint.key);
  /** @param {Record<string, unknown>} said */
  const say = (said) => changePaints("PATCH", `/${key}`, said);
  const state = [paint.favourite && "favourite", paint.banned && "never used", paint.fill, paint.form].filter(Boolean).join(", ");
  return html`<li>
    <span>${paint.name}${state && html`<span class="small">, ${state}</span>`}</span>
    <${Strip} colours=${paint.strip} label="${paint.name} from full strength to paper" />
    <details class="more"><summary class="small">${paint.sure}</summary>
      <p class="small">${sentence(paint.known_by)} ${sentence([paint.handling, paint.lightfast].filter(Boolean).join("; "))} Full strength dries to value ${paint.darkest}. ${sentence(paint.caution)}</p>
      <p class="row">
        <button aria-pressed=${paint.favourite} onClick=${() => say({ favourite: !paint.favourite })}>Favourite</button>
        <button aria-pressed=${paint.banned} onClick=${() => say({ banned: !paint.banned })}>Never use it</button>
        <button aria-pressed=${paint.fill === "empty"} onClick=${() => say({ fill: paint.fill === "empty" ? "new" : "empty" })}>Used up</button>
        <button class="plain" onClick=${() => changePaints("DELETE", `/${key}`)}>Take it off the list</button></p>
      <${Note} paint=${paint} say=${say} />
      <details class="small"><summary>Pigment and source</summary><p>${paint.pigments.join(", ") || "Pigment not known"} (${paint.key}). ${paint.source}. ${paint.about}</p><${Numbers} rows=${paint.numbers} /></details>
    </details>
  </li>`;
}

/** @param {{paint: PaintCard, say: (said: Record<string, unknown>) => Promise<boolean>}} props */
function Note({ paint, say }) {
  const field = useWritten(paint.note);
  const done = () => {
    const note = field.current?.value.trim() ?? "";
    if (note !== paint.note) void say({ note });
  };
  return html`<label class="small">My note <input ref=${field} class="field" maxlength="300" onBlur=${done} /></label>`;
}

function Add() {
  const field = useRef(/** @type {HTMLInputElement | null} */ (null));
  const [unknown, setUnknown] = useState(false);
  const [hue, setHue] = useState("red");
  const [known, setKnown] = useState(/** @type {PaintCard[]} */ ([]));
  const look = async () => {
    if (!known.length) setKnown((await worksheet.attempt(() => ask("GET", "/api/paints/known"))) ?? []);
  };
  /** @param {Event} event */
  const add = async (event) => {
    event.preventDefault();
    const name = field.current?.value.trim();
    if (!name) return;
    if (await changePaints("POST", "", { name, unknown, hue: unknown ? hue : null }) && field.current) field.current.value = "";
  };
  const names = [...new Set(known.map((p) => p.name))].sort();
  return html`<form class="row" onSubmit=${add}>
    <label>Add a paint by its name <input ref=${field} class="field" list="known-paints" maxlength="120" onFocus=${look} /></label>
    <datalist id="known-paints">${names.map((n) => html`<option value=${n}></option>`)}</datalist>
    <label class="tick"><input type="checkbox" checked=${unknown} onChange=${(/** @type {Event} */ e) => setUnknown(/** @type {HTMLInputElement} */ (e.target).checked)} /> its pigment is not known</label>
    ${unknown && html`<label>Its colour <select class="field" onChange=${(/** @type {Event} */ e) => setHue(/** @type {HTMLSelectElement} */ (e.target).value)}>${HUES.map((h) => html`<option selected=${h === hue}>${h}</option>`)}</select></label>`}
    <button>Add it</button>
  </form>`;
}

/** The list as text, to write it all at once, take it along, or bring one in. @param {{text: string, stamp: string}} props */
function AsText({ text, stamp }) {
  const field = useRef(/** @type {HTMLTextAreaElement | null} */ (null));
  /** @param {File} file */
  const bring = async (file) => {
    if (file.size > 200000) worksheet.set({ problem: "That is too long for a list of paints; choose a text file with one paint a line." });
    else await changePaints("PUT", "/list", { base: stamp, text: await file.text() });
  };
  return html`<details><summary>Write the list as text, bring one in, take it along</summary>
    <p class="small">One paint a line: its name, then what else there is to say between bars, for example: burnt sienna | half pan | favourite.</p>
    <textarea ref=${field} rows="12" aria-label="My paints, one a line" spellcheck="false">${text}</textarea>
    <p class="row"><button onClick=${() => changePaints("PUT", "/list", { base: stamp, text: field.current?.value ?? "" })}>Keep the list so</button>
      <${FileButton} words="Bring in a list" kinds=".txt,text/plain" onfile=${bring} />
      <a class="button" href="/api/paints/list.txt" download>Take the list along</a></p>
    <${EarlierLists} text=${text} stamp=${stamp} />
  </details>`;
}

/** The list as it was before each change, to go back to. @param {{text: string, stamp: string}} props */
function EarlierLists({ text, stamp }) {
  const [lists, setLists] = useState(/** @type {EarlierList[] | null} */ (null));
  const [open, setOpen] = useState(false);
  useEffect(() => {
    if (open) void worksheet.attempt(() => ask("GET", "/api/paints/earlier"), false).then((told) => told && setLists(told));
  }, [open, stamp]);
  const others = lists?.filter((list) => list.text !== text);
  return html`<details onToggle=${(/** @type {Event} */ e) => setOpen(/** @type {HTMLDetailsElement} */ (e.target).open)}>
    <summary class="small">The list as it was before</summary>
    ${others?.length === 0 && html`<p class="small">It has not been changed yet.</p>`}
    <ul class="small">${others?.map((list) => html`<li key=${list.version} class="row">
      <span>${new Date(list.created * 1000).toLocaleString([], { dateStyle: "short", timeStyle: "short" })}: ${list.words}, ${paintsIn(list.text)} paints</span>
      <button onClick=${() => changePaints("PUT", "/list", { base: stamp, text: list.text })}>Go back to this list</button></li>`)}</ul>
  </details>`;
}

/** How many paints a list in words holds. @param {string} text */
const paintsIn = (text) => text.split("\n").filter((line) => line.trim() && !line.trim().startsWith("#")).length;
