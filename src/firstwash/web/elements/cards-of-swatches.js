/** Swatch cards: print one, paint it, and let a photo of it teach the paints. */

import { html, useState } from "../vendor/htm-preact-standalone.js";
import { ask, follow, send } from "./api.js";
import { FileButton } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").OwnPaints} OwnPaints */
/** @typedef {import("./api-types.js").CardFile} CardFile */
/** @typedef {import("./api.js").Doing} Doing */

/** @param {{paints: OwnPaints}} props */
export function Cards({ paints }) {
  const untaught = paints.paints.filter((p) => p.provenance !== "calibrated").map((p) => p.key);
  const [chosen, setChosen] = useState(/** @type {string[]} */ ([]));
  const [size, setSize] = useState("A4");
  const [byHand, setByHand] = useState(false);
  const rows = chosen.length ? chosen : untaught.slice(0, 8);
  const make = async () => {
    const made = await worksheet.attempt(() => ask("POST", "/api/paints/cards", { paints: rows, size, by_hand: byHand }));
    if (made) await worksheet.attempt(() => worksheet.loadPaints());
  };
  /** @param {string} key @param {boolean} on */
  const tick = (key, on) => setChosen(on ? [...rows, key].slice(0, 8) : rows.filter((k) => k !== key));
  return html`<h3>Swatch cards</h3>
    <p>Two tubes with one name differ. Paint a card of your own paints and photograph it, and every plan uses what it shows.</p>
    <details><summary>Make a card</summary>
      <p class="small">Up to eight paints on one card.</p>
      <ul class="paints">${paints.paints.map((p) => html`<li key=${p.key}><label class="tick"><input type="checkbox" checked=${rows.includes(p.key)} disabled=${!rows.includes(p.key) && rows.length >= 8} onChange=${(/** @type {Event} */ e) => tick(p.key, /** @type {HTMLInputElement} */ (e.target).checked)} /> ${p.name}</label><span class="small">${p.known_by}</span></li>`)}</ul>
      <p class="sentence">Printed on <select aria-label="Page" onChange=${(/** @type {Event} */ e) => setSize(/** @type {HTMLSelectElement} */ (e.target).value)}><option selected=${size === "A4"}>A4</option><option selected=${size === "Letter"}>Letter</option></select>,
        <select aria-label="How it is made" onChange=${(/** @type {Event} */ e) => setByHand(/** @type {HTMLSelectElement} */ (e.target).value === "hand")}><option value="print">as a frame to lay over watercolour paper</option><option value="hand">drawn by hand, without a printer</option></select></p>
      <p class="row"><button disabled=${!rows.length} onClick=${make}>Make the card</button></p>
    </details>
    ${paints.cards.map((card) => html`<${Card} key=${card.number} card=${card} paints=${paints} />`)}`;
}

const PAGES = { "card.pdf": "The card to print", "card-by-hand.html": "How to draw the card", "report.html": "The report in full" };

/** @param {{card: CardFile, paints: OwnPaints}} props */
function Card({ card, paints }) {
  const [doing, setDoing] = useState(/** @type {Doing | null} */ (null));
  const [photo, setPhoto] = useState(/** @type {File | null} */ (null));
  const names = card.paints.map((key) => paints.paints.find((p) => p.key === key)?.name ?? key);
  /** @param {string} path @param {File} file */
  const read = (path, file) =>
    worksheet.attempt(async () => {
      const { job } = /** @type {{job: string}} */ (await send(`/api/paints/cards/${card.number}/${path}`, file));
      setDoing({ step: "Reading the card", done: 0, seconds: 0, usual: null });
      try {
        await follow(job, setDoing);
      } finally {
        setDoing(null);
        setPhoto(null);
        await worksheet.loadPaints();
      }
    });
  /** @param {File} file */
  const chosen = (file) => (card.by_hand ? setPhoto(file) : read("photo", file));
  return html`<div class="card"><h4>Card ${card.number}: ${names.join(", ")}</h4>
    <p class="row">${card.files.map((name) => html`<a class="button plain" href="/api/paints/cards/${card.number}/${name}" download>${PAGES[/** @type {keyof typeof PAGES} */ (name)]}</a>`)}</p>
    ${doing
      ? html`<p role="status"><strong>${doing.step}.</strong> It takes a few seconds.</p>`
      : html`<p class="row"><${FileButton} words="Read a photo of it" onfile=${chosen} /><${FileButton} words="Take the photo" camera=${true} onfile=${chosen} />
          <${FileButton} words="Bring in measurements" kinds=".txt,.cgats,.ti3,.cxf,.xml" onfile=${(/** @type {File} */ f) => read("measured", f)} /></p>`}
    ${photo && html`<${Corners} photo=${photo} done=${(/** @type {string} */ corners) => read(`photo?corners=${encodeURIComponent(corners)}`, photo)} />`}
    ${card.warnings.map((w) => html`<p class="told"><strong>${w}</strong></p>`)}
    ${card.learnt.length > 0 && html`<ul>${card.learnt.map((l) => html`<li>${l.name}: ${l.was} before, ${l.now} now.${l.again ? ` Paint again: ${l.again}.` : ""}</li>`)}</ul>`}
  </div>`;
}

/** Four touches on the pencil frame of a card drawn by hand. @param {{photo: File, done: (corners: string) => void}} props */
function Corners({ photo, done }) {
  const [source] = useState(() => URL.createObjectURL(photo));
  const [touched, setTouched] = useState(/** @type {[number, number][]} */ ([]));
  const names = ["upper left", "upper right", "lower right", "lower left"];
  /** @param {MouseEvent} event */
  const touch = (event) => {
    const image = /** @type {HTMLImageElement} */ (event.currentTarget);
    const box = image.getBoundingClientRect();
    /** @type {[number, number]} */
    const at = [((event.clientX - box.left) / box.width) * image.naturalWidth, ((event.clientY - box.top) / box.height) * image.naturalHeight];
    const all = [...touched, at];
    setTouched(all);
    if (all.length === 4) {
      URL.revokeObjectURL(source);
      done(all.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" "));
    }
  };
  return html`<p role="status">Touch the ${names[touched.length] ?? ""} corner of the pencil frame.</p>
    <div class="grey"><img src=${source} alt="The photo of the card" onClick=${touch} /></div>`;
}
