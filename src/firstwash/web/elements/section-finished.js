/** The finished painting: a photo of it squared, its catalogue line, a label to print. */

import { html, useEffect, useRef, useState } from "../vendor/htm-preact-standalone.js";
import { ask, send } from "./api.js";
import { FIRST, FourCorners } from "./four-corners.js";
import { FileButton, Line, useWhole } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").Finished} Told */
/** @typedef {import("./four-corners.js").Corners} Corners */

export function Finished() {
  const { painting, work } = worksheet.state;
  const [told, setTold] = useState(/** @type {Told | null} */ (null));
  const [coming, setComing] = useState(false);
  const of = `${painting?.id} ${painting?.plan?.stamp} ${work?.job ?? ""}`;
  useEffect(() => {
    let late = false;
    if (painting?.plan) void ask("GET", `${worksheet.path}/finished`).then((v) => late || setTold(/** @type {Told} */ (v)), () => {});
    return () => {
      late = true;
    };
  }, [of]);
  if (!painting) return null;
  const busy = !!work || coming;
  /** @param {Corners | null} [corners] */
  const make = (corners = null) => worksheet.begin("/finished", "finished", { corners });
  const again = () => make(told?.touched && !told.lost ? /** @type {Corners} */ (told.corners) : null);
  /** @param {File} file */
  const chosen = async (file) => {
    setComing(true);
    const taken = await worksheet.attempt(() => send(`${worksheet.path}/finished/photo`, file));
    setComing(false);
    if (!taken) return;
    setTold(/** @type {Told} */ (taken));
    await make();
  };
  return html`<section id="finished" aria-labelledby="h-finished">
    <h2 id="h-finished">The finished painting</h2>
    <p>Photograph the whole sheet with its bare margin, flat on a darker board. The photo is squared and its light evened out from the margin; a line for a catalogue and labels to print come with it.</p>
    ${!painting.plan && html`<p>When the painting is planned, a photo of it can be brought in here.</p>`}
    ${painting.plan && told && html`
      <${Words} told=${told} settold=${setTold} />
      <p class="row"><${FileButton} words=${told.photo ? "Choose another photo" : "Choose a photo"} onfile=${chosen} /><${FileButton} words="Take the photo" camera=${true} onfile=${chosen} />
        ${told.photo && html`<button disabled=${busy} onClick=${again}>${told.ready ? "Square it again" : "Square it"}</button>`}</p>
      ${coming && html`<p role="status">The photo is coming in.</p>`}
      ${told.seen && !busy && html`<${Touched} key="${told.photo} ${told.made}" told=${told} make=${make} />`}
      ${told.ready && html`<${Result} told=${told} />`}`}
  </section>`;
}

/** What the painter says of it. @param {{told: Told, settold: (told: Told) => void}} props */
function Words({ told, settold }) {
  const { caption } = told;
  const { path } = worksheet; // of this painting, though another may be open when its turn comes
  const keep = useWhole(caption, async (whole) => {
    const kept = /** @type {Told | undefined} */ (await worksheet.attempt(() => ask("PUT", `${path}/finished/caption`, whole)));
    if (kept) settold(kept);
    return kept?.caption;
  });
  return html`<div class="lines">
    <${Line} label="Title" value=${caption.title} keep=${(/** @type {string} */ title) => keep({ title })} most=${120} />
    <${Line} label="Painter" value=${caption.painter} keep=${(/** @type {string} */ painter) => keep({ painter })} most=${120} />
    <${Line} label="Year" value=${caption.year} keep=${(/** @type {string} */ year) => keep({ year })} most=${120} />
  </div>`;
}

/** The photo, where its sheet was not found or not well. @param {{told: Told, make: (corners: Corners) => void}} props */
function Touched({ told, make }) {
  const [corners, setCorners] = useState(/** @type {Corners} */ (told.corners ?? FIRST));
  const lost = told.lost !== "";
  const parts = html`<p>Touch each corner of the sheet, the bare margin included, or pull its handle there. With the keyboard: arrows move a handle, with Shift further.</p>
    <${FourCorners} source="${worksheet.path}/finished/pictures/photo.jpg?of=${told.photo}" alt="The photo of the finished painting" corners=${corners} onchange=${setCorners} />
    <p class="row"><button class=${lost ? "chief" : ""} onClick=${() => make(corners)}>Square it by these corners</button></p>`;
  if (lost) return html`<p class="told"><strong>${told.lost}</strong></p>${parts}`;
  return html`<details><summary>Touch the corners yourself</summary>${parts}</details>`;
}

/** @param {{told: Told}} props */
function Result({ told }) {
  const line = useRef(/** @type {HTMLParagraphElement | null} */ (null));
  const [copied, setCopied] = useState("");
  const copy = async () => {
    try {
      await navigator.clipboard.writeText(told.line);
      setCopied("Copied.");
    } catch {
      // Beyond this computer's own address a page may not write there; what is chosen can be copied.
      if (line.current) getSelection()?.selectAllChildren(line.current);
      setCopied("The line is selected; copy it from here.");
    }
  };
  return html`<div class="finished">
    ${told.lost && html`<p class="small">Below is the picture made before, from another photo or other corners.</p>`}
    <div class="grey"><img src="${worksheet.path}/finished/pictures/painting.jpg?of=${told.made}" alt="The finished painting, squared" /></div>
    ${!told.fresh && html`<p><strong>The plan or the words above were changed since it was made.</strong> Square it again to bring line and labels up to date.</p>`}
    <h3>For a catalogue</h3>
    <p ref=${line}>${told.line}</p>
    <p class="row"><button onClick=${copy}>Copy the line</button><span role="status">${copied}</span>
      <a class="button" href="${worksheet.path}/finished/finished.zip" download>Take pictures and labels along</a></p>
    ${told.notes.map((note) => html`<p class="small">${note}</p>`)}
  </div>`;
}
