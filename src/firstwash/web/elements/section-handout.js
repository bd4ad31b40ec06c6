/** The hand-out: outline, step sheets, supplies and a lesson's pack, made and taken along. */

import { html, useEffect, useState } from "../vendor/htm-preact-standalone.js";
import { ask } from "./api.js";
import { Choice, Line, useWhole } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").Lesson} Lesson */
/** @typedef {import("./api-types.js").Made} Made */

/** @type {[number, string][]} */
const DETAILS = [[0.15, "the big shapes"], [0.3, "little"], [0.5, "what matters"], [0.75, "much"], [1, "all there is"]];
/** @type {[number, string][]} */
const GRIDS = [[0, "no grid"], [3, "a grid of 3 across"], [4, "a grid of 4 across"], [6, "a grid of 6 across"], [8, "a grid of 8 across"]];

export function HandOut() {
  const { painting, work } = worksheet.state;
  const [made, setMade] = useState(/** @type {Made | null} */ (null));
  const [detail, setDetail] = useState(0.5);
  const [grid, setGrid] = useState(0);
  const of = `${painting?.id} ${painting?.plan?.stamp} ${work?.job ?? ""}`;
  useEffect(() => {
    let late = false;
    if (painting?.plan) void ask("GET", `${worksheet.path}/handout`).then((v) => late || setMade(/** @type {Made} */ (v)), () => {});
    return () => {
      late = true;
    };
  }, [of]);
  if (!painting) return null;
  const make = () => worksheet.begin("/handout", "handout", { detail, grid: grid || null });
  return html`<section id="handout" aria-labelledby="h-handout">
    <h2 id="h-handout">The hand-out</h2>
    <p>On paper beside the board, or for a class: the outline at true size, a sheet for every layer, supplies and cautions, test strips, step images, words and a timetable, in one zip.</p>
    ${painting.plan
      ? html`<p class="sentence">The outline holds <${Choice} label="Detail of the outline" value=${detail} options=${DETAILS} onchange=${setDetail} />, with <${Choice} label="Grid on the outline" value=${grid} options=${GRIDS} onchange=${setGrid} />.</p>
        <${Settings} />
        <p class="row"><button disabled=${!!work} onClick=${make}>${made?.ready ? "Make it again" : "Make the hand-out"}</button>
          ${made?.ready && html`<a class="button" href="${worksheet.path}/handout.zip" download>Take it along</a>`}
          ${made?.ready && !made.fresh && html`<strong>The plan or its settings were changed since it was made.</strong>`}</p>
        ${made?.warning && html`<p class="told">${made.warning}</p>`}`
      : html`<p>When the painting is planned, its hand-out can be made here.</p>`}
  </section>`;
}

/** Title, teacher, rights and class; for all hand-outs. */
function Settings() {
  const [lesson, setLesson] = useState(/** @type {Lesson | null} */ (null));
  useEffect(() => {
    void ask("GET", "/api/handout/lesson").then((v) => setLesson(/** @type {Lesson} */ (v)), () => {});
  }, []);
  const keep = useWhole(lesson, async (whole) => {
    const kept = /** @type {Lesson | undefined} */ (await worksheet.attempt(() => ask("PUT", "/api/handout/lesson", whole)));
    if (kept) setLesson(kept);
    return kept;
  });
  if (!lesson) return null;
  return html`<details><summary>Title, your name, rights in the photo, your class</summary>
    <p class="small">Left empty, a line is left out. The title is the painting’s name unless you write another.</p>
    <${Line} label="Title" value=${lesson.title} keep=${(/** @type {string} */ title) => keep({ title })} most=${120} />
    <${Line} label="Your name" value=${lesson.teacher} keep=${(/** @type {string} */ teacher) => keep({ teacher })} most=${120} />
    <${Line} label="Line under every page" value=${lesson.licence} keep=${(/** @type {string} */ licence) => keep({ licence })} most=${300} />
    <${Line} label="Who made the photo" value=${lesson.photo_author} keep=${(/** @type {string} */ v) => keep({ photo_author: v })} most=${120} />
    <${Line} label="Where it is from" value=${lesson.photo_source} keep=${(/** @type {string} */ v) => keep({ photo_source: v })} most=${300} />
    <${Line} label="By whose permission it is used" value=${lesson.photo_permission} keep=${(/** @type {string} */ v) => keep({ photo_permission: v })} most=${300} />
    <p class="sentence">It is <${Choice} label="For sale" value=${lesson.for_sale ? 1 : 0} options=${[[0, "not for sale"], [1, "for sale"]]} onchange=${(/** @type {number} */ n) => keep({ for_sale: !!n })} />,
      for <${Choice} label="Students" value=${lesson.students} options=${numbers([1, 4, 6, 8, 10, 12, 16, 20, 30], lesson.students, "student")} onchange=${(/** @type {number} */ students) => keep({ students })} />${" "}
      in meetings of <${Choice} label="Minutes of a meeting" value=${lesson.minutes_per_meeting} options=${numbers([60, 90, 120, 150, 180, 240], lesson.minutes_per_meeting, "minute")} onchange=${(/** @type {number} */ n) => keep({ minutes_per_meeting: n })} />,
      printed on <${Choice} label="Paper of the printer" value=${lesson.page} options=${[["A4", "A4"], ["Letter", "Letter"]]} onchange=${(/** @type {"A4" | "Letter"} */ page) => keep({ page })} />.</p>
  </details>`;
}

/** @param {number[]} values @param {number} now @param {string} word @returns {[number, string][]} */
function numbers(values, now, word) {
  const all = values.includes(now) ? values : [...values, now].sort((a, b) => a - b);
  return all.map((n) => [n, `${n} ${word}${n === 1 ? "" : "s"}`]);
}
