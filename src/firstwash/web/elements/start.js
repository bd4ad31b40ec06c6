/** The paintings kept on this computer, and a place to lay a new photo. */

import { html, useEffect, useRef, useState } from "../vendor/htm-preact-standalone.js";
import { ask, send } from "./api.js";
import { FileButton, Told } from "./parts.js";
import { Phone } from "./phone.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").Painting} Painting */
/** @typedef {import("./api-types.js").PaintingView} PaintingView */

const SHEETS = ["28x38cm", "A4", "A3", "quarter imperial", "half imperial", "imperial"];

/** @param {{go: (path: string) => void}} props */
export function Start({ go }) {
  const [paintings, setPaintings] = useState(/** @type {Painting[] | null} */ (null));
  const [binned, setBinned] = useState(/** @type {Painting[]} */ ([]));
  const [sheet, setSheet] = useState("28x38cm");
  const [reading, setReading] = useState("");

  const load = async () => {
    setPaintings(await ask("GET", "/api/shelf"));
    setBinned(await ask("GET", "/api/shelf?binned=true"));
  };
  useEffect(() => {
    void worksheet.attempt(load);
  }, []);

  /** @param {File | Blob} file */
  const lay = async (file) => {
    setReading(file instanceof File ? file.name : "the photo");
    const made = await worksheet.newFrom(file, sheet.trim());
    setReading("");
    if (made) {
      worksheet.show(/** @type {PaintingView} */ (made));
      go(`/painting/${made.id}`);
    }
  };
  /** @param {string} method @param {string} path @param {unknown} [body] */
  const act = (method, path, body) =>
    worksheet.attempt(async () => {
      await ask(method, path, body);
      await load();
    });

  return html`<main class="start" id="work">
    <h1>firstwash</h1>
    <p>Plans a watercolour from a photo and the paints you own: what to mix, where to lay it and in which order, from the first pale wash to the last dark. Everything stays on this computer.</p>
    <${Told} />
    <${Landing} lay=${lay} reading=${reading} sheet=${sheet} setSheet=${setSheet} />
    <${Kept} paintings=${paintings} act=${act} go=${go} />
    ${binned.length > 0 && html`<${Bin} paintings=${binned} act=${act} />`}
    <${BringIn} done=${load} />
    <${Phone} />
  </main>`;
}

/** @param {{lay: (file: File | Blob) => void, reading: string, sheet: string, setSheet: (s: string) => void}} props */
function Landing({ lay, reading, sheet, setSheet }) {
  const [over, setOver] = useState(false);
  useEffect(() => {
    /** @param {ClipboardEvent} event */
    const pasted = (event) => {
      const file = [...(event.clipboardData?.files ?? [])].find((f) => f.type.startsWith("image/"));
      if (file) lay(file);
    };
    addEventListener("paste", pasted);
    return () => removeEventListener("paste", pasted);
  });
  /** @param {DragEvent} event */
  const dropped = (event) => {
    event.preventDefault();
    setOver(false);
    const file = event.dataTransfer?.files[0];
    if (file) lay(file);
  };
  if (reading) return html`<div class="lay-here" role="status"><p><strong>Reading ${reading}.</strong></p><p>A large photo takes a few seconds.</p></div>`;
  return html`<section class="lay-here ${over ? "over" : ""}" aria-label="A new painting"
      onDragOver=${(/** @type {DragEvent} */ e) => { e.preventDefault(); setOver(true); }}
      onDragLeave=${() => setOver(false)} onDrop=${dropped}>
    <p><strong>Lay a photo here</strong> to begin a painting: drop it, paste it, or</p>
    <p class="row">
      <${FileButton} words="Choose a photo" onfile=${lay} chief=${true} />
      <${FileButton} words="Take a photo" onfile=${lay} camera=${true} />
    </p>
    <p class="sentence">The sheet of paper is
      <input type="text" aria-label="Size of the sheet" list="sheets" value=${sheet} class="wide" onInput=${(/** @type {Event} */ e) => setSheet(/** @type {HTMLInputElement} */ (e.target).value)} /></p>
    <datalist id="sheets">${SHEETS.map((s) => html`<option value=${s}></option>`)}</datalist>
    <p class="small">Write the size as you would say it: 28x38cm, 11x15in, A3, quarter imperial.</p>
  </section>`;
}

/** @param {{paintings: Painting[] | null, act: (m: string, p: string, b?: unknown) => void, go: (path: string) => void}} props */
function Kept({ paintings, act, go }) {
  if (!paintings) return html`<p role="status">Looking for your paintings.</p>`;
  if (!paintings.length) return html`<p>No paintings yet. Yours will be kept here, with every change you make to them.</p>`;
  return html`<h2>Your paintings</h2><ul class="paintings">${paintings.map((p) => html`<${One} key=${p.id} painting=${p} act=${act} go=${go} />`)}</ul>`;
}

/** @param {{painting: Painting, act: (m: string, p: string, b?: unknown) => void, go: (path: string) => void}} props */
function One({ painting, act, go }) {
  const [naming, setNaming] = useState(false);
  const field = useRef(/** @type {HTMLInputElement | null} */ (null));
  const path = `/painting/${painting.id}`;
  const api = `/api/shelf/${encodeURIComponent(painting.id)}`;
  const changed = new Date(painting.changed * 1000).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
  /** @param {Event} event */
  const open = (event) => {
    event.preventDefault();
    go(path);
  };
  const rename = () => {
    const name = field.current?.value.trim();
    setNaming(false);
    if (name && name !== painting.name) act("POST", `${api}/rename`, { name });
  };
  const asItWas = () => {
    if (field.current) field.current.value = painting.name;
    setNaming(false);
  };
  return html`<li>
    <a href=${path} onClick=${open} aria-hidden="true" tabindex="-1"><span class="grey">${painting.thumbnail && html`<img src="/thumbnails/${painting.thumbnail}" alt="" loading="lazy" />`}</span></a>
    ${naming
      ? html`<form onSubmit=${(/** @type {Event} */ e) => { e.preventDefault(); rename(); }}><input ref=${field} class="field" aria-label="Name of the painting" defaultValue=${painting.name} maxlength="120" onBlur=${rename} onKeyDown=${(/** @type {KeyboardEvent} */ e) => e.key === "Escape" && asItWas()} /></form>`
      : html`<a class="name" href=${path} onClick=${open}>${painting.name}</a>`}
    <div class="small">Last changed ${changed}</div>
    <div class="row tight">
      <button class="plain" onClick=${() => { setNaming(true); setTimeout(() => field.current?.select()); }}>Rename</button>
      <button class="plain" onClick=${() => act("POST", `${api}/duplicate`)}>Duplicate</button>
      <a class="button plain" href="${api}/export" download>Take a copy out</a>
      <button class="plain" onClick=${() => act("DELETE", api)}>To the bin</button>
    </div>
  </li>`;
}

/** @param {{paintings: Painting[], act: (m: string, p: string, b?: unknown) => void}} props */
function Bin({ paintings, act }) {
  const [sure, setSure] = useState(false);
  return html`<details><summary>In the bin: ${paintings.length}</summary>
    <ul>${paintings.map((p) => html`<li>${p.name} <button class="plain" onClick=${() => act("POST", `/api/shelf/${encodeURIComponent(p.id)}/restore`)}>Take it out again</button></li>`)}</ul>
    <p>They stay here for thirty days. ${sure
      ? html`<button onClick=${() => { setSure(false); act("DELETE", "/api/shelf/bin"); }}>Yes, delete them for good</button> <button class="plain" onClick=${() => setSure(false)}>No</button>`
      : html`<button class="plain" onClick=${() => setSure(true)}>Empty the bin now</button>`}</p>
  </details>`;
}

/** @param {{done: () => Promise<void>}} props */
function BringIn({ done }) {
  /** @param {File} file */
  const bring = (file) =>
    worksheet.attempt(async () => {
      await send("/api/shelf/bring-in", file);
      await done();
    });
  return html`<p class="row"><${FileButton} words="Bring in a painting from a file" kinds=".zip" onfile=${bring} /></p>`;
}
