/** What a touched spot answers: a section through the sheet, from the paper up. */

import { html, useEffect, useRef, useState } from "../vendor/htm-preact-standalone.js";
import { FirstWashes } from "./first-choices.js";
import { LightHere } from "./light-here.js";
import { Why } from "./why.js";
import { Numbers, Swatch, sentence } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").Band} Band */
/** @typedef {import("./api-types.js").SpotAnswer} SpotAnswer */
/** @typedef {import("./api-types.js").OtherMixture} OtherMixture */

export function Answer() {
  const { spot } = worksheet.state;
  if (!spot) {
    return html`<p class="hint">Touch any spot of the sheet to see what lies there, coat by coat, and why.</p>`;
  }
  return html`<section class="answer" aria-live="polite" aria-label="The spot you touched">
    <div class="head"><h2>Here, through the sheet</h2><button class="plain" onClick=${() => worksheet.set({ spot: null, moved: null })}>Put away</button></div>
    <p>In the photo: <strong>${spot.photo.words}</strong> (value ${spot.photo.step} of 10, where 10 is the paper). As planned it dries to <strong>${spot.shown.words}</strong>. ${sentence(spot.miss)} ${sentence(spot.sure)}</p>
    ${spot.note && html`<p class="told">${spot.note}</p>`}
    <${Section} spot=${spot} />
    ${spot.strokes.length > 0 && html`<p class="small">${spot.strokes.map((s) => s.words).join(" ")}</p>`}
    <${LightHere} spot=${spot} />
    <${FirstWashes} spot=${spot} />
    <${OtherColour} spot=${spot} />
    <${Numbers} rows=${spot.numbers} />
  </section>`;
}

/**
 * The section: the paper at the bottom, every coat over it, and beside each the colour then seen.
 * One coat is taken up at a time, to be changed.
 * @param {{spot: SpotAnswer}} props
 */
function Section({ spot }) {
  const [taken, setTaken] = useState(spot.bands.length - 1);
  useEffect(() => setTaken(spot.bands.length - 1), [spot.cell, spot.bands.length]);
  const band = spot.bands[Math.min(taken, spot.bands.length - 1)];
  return html`<ol class="section">
      ${spot.bands.map((_, i) => html`<${Coat} key=${i} spot=${spot} place=${spot.bands.length - 1 - i} taken=${taken} take=${setTaken} />`)}
      <li><span class="band-cell"><span class="band paper" style=${{ background: spot.paper.hex }}></span></span>
        <span class="seen"><span class="mid" style=${{ background: spot.paper.hex }}></span></span>
        <span class="words">${spot.bands.length ? "Paper" : "Bare paper, to the end"}</span></li>
    </ol>
    ${spot.bands.length > 0 && html`<p class="small">Left: the paint laid, as thick as it is strong, with a little less and a little more of it at its ends. Right: the colour then seen, and how light or dark nine of ten such coats come out.</p>`}
    ${band && html`<${Taken} band=${band} cell=${spot.cell} />`}`;
}

/** @param {Band} band */
function titleOf(band) {
  return worksheet.painting.plan?.layers[band.layer - 1]?.title ?? `Layer ${band.layer}`;
}

/** @param {{spot: SpotAnswer, place: number, taken: number, take: (place: number) => void}} props */
function Coat({ spot, place, taken, take }) {
  const { moved } = worksheet.state;
  const band = spot.bands[place];
  if (!band) return null;
  const trying = moved && moved.cell === spot.cell;
  const mine = trying && moved.layer === band.layer && moved.number === band.wash;
  const seen = trying ? (moved.seen[place + 1] ?? band.seen.hex) : band.seen.hex;
  const thick = { height: `${0.6 + 2.2 * band.thickness}rem` };
  return html`<li class=${place === taken ? "taken" : ""}>
    <span class="band-cell"><span class="band" style=${thick}>
      <span class="sliver" style=${{ background: band.less.seen }}></span>
      <span class="body" style=${{ background: mine ? moved.stroke : band.stroke }}></span>
      <span class="sliver" style=${{ background: band.more.seen }}></span></span></span>
    <span class="seen"><span class="lighter" style=${{ background: band.lighter }}></span><span class="mid" style=${{ background: seen }}></span><span class="darker" style=${{ background: band.darker }}></span></span>
    <button class="plain words" aria-pressed=${place === taken} onClick=${() => take(place)}><span class="letter">${band.letter}</span> <span>${titleOf(band)}, value ${mine ? moved.step : band.step}${band.locked ? ", kept" : ""}</span></button>
  </li>`;
}

/** The coat taken up: what it does, how to change it. @param {{band: Band, cell: number}} props */
function Taken({ band, cell }) {
  const { others, othersOf } = worksheet.state;
  const of = `${band.layer}.${band.wash}`;
  return html`<section class="coat" aria-label="The coat taken up">
    <h3><span class="letter">${band.letter}</span> ${titleOf(band)}: ${band.parts_words}</h3>
    <p>${sentence(band.effect)} Then it reads ${band.seen.words}. A little less of it: ${band.less.words}. A little more: ${band.more.words}.</p>
    <p class="small">${sentence(band.technique)} ${sentence(band.edges)}</p>
    <${Strength} band=${band} cell=${cell} />
    <div class="row tight">
      <button aria-pressed=${band.locked} onClick=${() => lock(band)}>${band.locked ? "Kept; let it change" : "Keep as it is"}</button>
      <button aria-expanded=${othersOf === of} onClick=${() => worksheet.seeOthers(band.layer, band.wash)}>Other mixtures</button>
    </div>
    ${othersOf === of && html`<${Others} others=${others ?? []} band=${band} />`}
    <p class="small">${sentence(band.why)}</p>
    <${Why} cell=${cell} layer=${band.layer} />
    <${Numbers} rows=${band.numbers} />
  </section>`;
}

/** @param {Band} band */
function lock(band) {
  const { washes } = worksheet.painting.brief.kept;
  /** @type {[number, number]} */
  const key = [band.layer, band.wash];
  const rest = /** @type {[number, number][]} */ (washes.filter(([l, n]) => l !== key[0] || n !== key[1]));
  void worksheet.keep({ washes: band.locked ? rest : [...rest, key] });
}

/**
 * Stronger or weaker, seen at once; kept when the hand is lifted and "Lay it so" is pressed.
 * @param {{band: Band, cell: number}} props
 */
function Strength({ band, cell }) {
  const { moved, waiting } = worksheet.state;
  const mine = moved && moved.layer === band.layer && moved.number === band.wash;
  const slider = useRef(/** @type {HTMLInputElement | null} */ (null));
  const [at, setAt] = useState(0);
  useEffect(() => {
    if (!mine) setAt(0);
  }, [mine]);
  if (band.locked) return null;
  /** @param {Event} event */
  const slid = (event) => {
    const value = Number(/** @type {HTMLInputElement} */ (event.target).value);
    setAt(value);
    void worksheet.tryStrength(band.layer, band.wash, Math.min(band.wash_strength * 2 ** value, 1), cell);
  };
  const words = at === 0 ? "as planned" : `${at > 0 ? "stronger" : "weaker"}: ${times(2 ** at)}`;
  return html`<label class="strength">Strength, ${words}
      <input ref=${slider} type="range" min="-1.5" max="1.5" step="0.02" value=${at} aria-valuetext=${words} onInput=${slid} /></label>
    ${mine && html`<div role="status" class="small">${sentence(moved.words)}</div><div class="row tight">
      <button disabled=${waiting} onClick=${() => worksheet.accept("/strength", { layer: band.layer, number: band.wash, strength: moved.strength })}>Lay it so</button>
      <button disabled=${waiting} onClick=${() => worksheet.accept("/strength", { layer: band.layer, number: band.wash, strength: moved.strength, refit: true })}>and let the glazes over it make up for it</button>
      <button class="plain" onClick=${() => worksheet.set({ moved: null })}>As it was</button></div>`}`;
}

/** @param {number} factor */
function times(factor) {
  return factor >= 1 ? `${factor.toFixed(1)} times the paint` : `${Math.round(100 * factor)} % of the paint`;
}

/** @param {{others: readonly OtherMixture[], band: Band}} props */
function Others({ others, band }) {
  const { waiting } = worksheet.state;
  if (!others.length) return html`<p class="small">No other mixture of the paints on the palette comes near.</p>`;
  return html`<ul class="others">${others.map(
    (one) => html`<li><span class="row tight"><${Swatch} colour=${one.stroke} /> <${Swatch} colour=${one.end.hex} /> <span>${one.parts_words}${one.puddle ? `, puddle ${one.puddle}` : ""}, value ${one.step}</span></span>
      <div class="small">${one.words}</div>
      <button disabled=${waiting} onClick=${() => worksheet.accept("/swap", { layer: band.layer, number: band.wash, mixture: one.parts, strength: one.strength })}>Lay this instead</button>
      <${Numbers} rows=${one.numbers} /></li>`,
  )}</ul><p class="small">The first patch is a test stroke, the second the spot when all is painted.</p>`;
}

/** @param {{spot: SpotAnswer}} props */
function OtherColour({ spot }) {
  const [colour, setColour] = useState(spot.shown.hex);
  useEffect(() => setColour(spot.shown.hex), [spot]);
  return html`<details><summary>Give this shape another colour</summary>
    <p class="row"><label class="row">The colour it should dry to <input type="color" value=${colour} onInput=${(/** @type {Event} */ e) => setColour(/** @type {HTMLInputElement} */ (e.target).value)} /></label>
    <button disabled=${worksheet.state.waiting} onClick=${() => worksheet.accept("/recolour", { x_mm: spot.x_mm, y_mm: spot.y_mm, colour })}>Give it this colour</button></p>
    <p class="small">Only this shape changes; it takes washes that are laid anyway where they fit.</p></details>`;
}
