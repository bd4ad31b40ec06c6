/** At the board: one thing per screen, to be read at arm's length and pressed with wet fingers. */

import { html, useEffect, useRef, useState } from "../vendor/htm-preact-standalone.js";
import { Problem, ask } from "./api.js";
import { Clock, useClock } from "./clock.js";
import { Strip, Swatch } from "./parts.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").Session} Session */
/** @typedef {import("./api-types.js").BoardStep} BoardStep */
/** @typedef {import("./api-types.js").Marks} Marks */
/** @typedef {import("./api-types.js").PuddleToMix} PuddleToMix */

export function AtBoard() {
  const { painting } = worksheet.state;
  const [session, setSession] = useState(/** @type {Session | null} */ (null));
  const [problem, setProblem] = useState("");
  const newest = useRef(/** @type {Session | null} */ (null));
  /** What is written, one after the other; a wet finger is quicker than a slow computer. */
  const writing = useRef({ last: /** @type {Promise<void>} */ (Promise.resolve()), round: 0 });
  const stamp = painting?.plan?.stamp;
  /** @param {Session} now */
  const show = (now) => {
    newest.current = now;
    setSession(now);
  };
  const load = async () => show(/** @type {Session} */ (await ask("GET", `${worksheet.path}/board`)));
  useEffect(() => {
    load().catch((error) => setProblem(error instanceof Problem ? error.message : "The board cannot be shown."));
  }, [stamp]);
  useWakefulness();
  /** @param {Partial<Marks>} changes */
  const mark = (changes) => {
    const now = newest.current;
    if (!now) return Promise.resolve();
    const marks = { ...now.marks, plan: now.plan, ...changes };
    show({ ...now, marks });
    setProblem("");
    const { round } = writing.current;
    writing.current.last = writing.current.last.then(() => write(marks, round));
    return writing.current.last;
  };
  /** @param {Marks} marks @param {number} round what was ticked before another device did is dropped */
  const write = async (marks, round) => {
    const base = newest.current;
    if (!base || round !== writing.current.round) return;
    try {
      const kept = /** @type {Marks} */ (await ask("PUT", `${worksheet.path}/board/marks`, { ...marks, version: base.marks.version }));
      const now = newest.current;
      if (now) show({ ...now, marks: { ...now.marks, version: kept.version } });
    } catch (error) {
      if (error instanceof Problem && error.status === 409) {
        writing.current.round += 1;
        await load();
        setProblem("Something was ticked on another device; this is the newest.");
      } else if (error instanceof Problem) setProblem(error.message);
      else throw error;
    }
  };
  if (!session) return html`<main class="at-board" id="work"><p role="status">${problem || "Laying out the board."}</p></main>`;
  return html`<${Screen} session=${session} mark=${mark} problem=${problem} />`;
}

/** The screen stays lit while something dries. */
function useWakefulness() {
  useEffect(() => {
    /** @type {WakeLockSentinel | null} */
    let lock = null;
    const hold = () => {
      if (document.visibilityState === "visible") {
        navigator.wakeLock?.request("screen").then((held) => (lock = held), () => {});
      }
    };
    hold();
    document.addEventListener("visibilitychange", hold);
    return () => {
      document.removeEventListener("visibilitychange", hold);
      void lock?.release();
    };
  }, []);
}

/** @param {{session: Session, mark: (changes: Partial<Marks>) => Promise<void>, problem: string}} props */
function Screen({ session, mark, problem }) {
  const { steps, marks } = session;
  const found = steps.findIndex((s) => s.id === marks.step);
  const at = Math.max(found, 0);
  const step = steps[at];
  const clock = useClock(marks.clock);
  if (!step) return null;
  /** @param {number} by */
  const go = (by) => {
    const next = steps[at + by];
    if (!next) return;
    const ticked = by > 0 ? [...new Set([...marks.ticked, step.id])] : marks.ticked;
    void mark({ step: next.id, ticked });
    scrollTo({ top: 0 });
  };
  const layers = worksheet.painting.plan?.layers.length ?? 0;
  return html`<main class="at-board" id="work">
    <div class="head">
      <a class="button" href="#easel">Back to the worksheet</a>
      <strong>${worksheet.painting.name}</strong>
      <span>${step.layer ? `Layer ${step.layer} of ${layers}. ` : ""}Screen ${at + 1} of ${steps.length}</span>
      ${marks.clock && marks.clock.step !== step.id && html`<span role="status"><strong>${clock.words}</strong></span>`}
    </div>
    <div class="body">
      <${Picture} step=${step} />
      <div class="do">
        <h1>${step.title}</h1>
        ${problem && html`<p class="problem" role="alert">${problem}</p>`}
        <${What} step=${step} ticked=${marks.ticked} tick=${(/** @type {string} */ id, /** @type {boolean} */ on) => mark({ ticked: on ? [...marks.ticked, id] : marks.ticked.filter((t) => t !== id) })} />
        ${step.timed && step.minutes && html`<${Clock} step=${step} clock=${clock} running=${marks.clock} mark=${mark} />`}
      </div>
    </div>
    <div class="foot">
      <button disabled=${at === 0} onClick=${() => go(-1)}>Back</button>
      <button class="chief" disabled=${at === steps.length - 1} onClick=${() => go(1)}>${at === steps.length - 1 ? "That was the last" : "Done, next"}</button>
    </div>
  </main>`;
}

/** @param {{step: BoardStep}} props */
function Picture({ step }) {
  const { painting } = worksheet.state;
  const plan = painting?.plan;
  if (!plan) return null;
  const at = `/prints/${painting.id}/plan/${plan.stamp}`;
  if (step.wash) return html`<div class="picture white"><img src="${at}/wash-${step.layer}-${step.wash.number}" alt="Where this wash goes" /></div>`;
  if (step.kind === "mix") return html`<div class="picture white"><img src="${at}/map-${step.layer}" alt="Map of this layer: where each puddle goes" /></div>`;
  if (step.touches.length > 0) return html`<div class="picture white"><img src="${at}/strokes-${step.touches.join("-")}" alt="Where these fine strokes lie" /></div>`;
  const finished = ["strokes", "caution", "reserve", "unmask"].includes(step.kind); // where the fine lights and darks can be seen
  const name = finished ? "finished" : `stage-${step.layer}`;
  const words = finished ? "The finished painting as predicted" : "The sheet as it should look now";
  return html`<div class="picture"><img src="${at}/${name}" alt=${words} /><p>${words}</p></div>`;
}

/** @param {{step: BoardStep, ticked: readonly string[], tick: (id: string, on: boolean) => void}} props */
function What({ step, ticked, tick }) {
  const wash = step.wash;
  const label = worksheet.painting.plan?.layers[step.layer - 1]?.washes.find((w) => w.number === wash?.number)?.label ?? "";
  return html`${wash && html`<p class="row"><span class="letter">${wash.letter}<sub>${label.slice(wash.letter.length)}</sub></span><${Swatch} colour=${wash.stroke} label="Test stroke" /> <span>value ${wash.step}, ${wash.consistency}</span></p>`}
    ${step.say.map((s) => html`<p>${s}</p>`)}
    ${step.puddles.length > 0 && html`<ul class="puddles">${step.puddles.map((p) => html`<${Puddle} key=${p.letter} puddle=${p} id=${`${step.id} ${p.letter}`} on=${ticked.includes(`${step.id} ${p.letter}`)} tick=${tick} />`)}</ul>`}
    ${wash && wash.mistakes.length > 0 && html`<details class="why"><summary>What commonly goes wrong</summary><ul>${wash.mistakes.map((m) => html`<li>${m}</li>`)}</ul></details>`}`;
}

/** @param {{puddle: PuddleToMix, id: string, on: boolean, tick: (id: string, on: boolean) => void}} props */
function Puddle({ puddle, id, on, tick }) {
  const { liked } = worksheet.painting;
  return html`<li><label><input type="checkbox" checked=${on} onChange=${(/** @type {Event} */ e) => tick(id, /** @type {HTMLInputElement} */ (e.target).checked)} />
    <span class="letter">${puddle.letter}</span>
    <span>${puddle.fresh ? puddle.parts_words : `${puddle.parts_words}, still on the palette`}</span></label>
    <div class="why"><${Strip} colours=${puddle.strip} label="Puddle ${puddle.letter}" />${liked.measure === "pans" ? puddle.pans : puddle.tubes}. As runny as ${puddle.consistency}; ${puddle.test}.</div></li>`;
}
