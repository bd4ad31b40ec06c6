/** The drying clock: it runs by the time of day, so a reload or a closed lid does not stop it. */

import { html, useEffect, useState } from "../vendor/htm-preact-standalone.js";
import { ask } from "./api.js";
import { worksheet } from "./state.js";

/** @typedef {import("./api-types.js").BoardStep} BoardStep */
/** @typedef {import("./api-types.js").Marks} Marks */
/** @typedef {NonNullable<Marks["clock"]>} Running */

/** @typedef {{left: number, words: string, rung: boolean}} Telling */

/**
 * How a running clock stands, every second; it rings once when it ends.
 * @param {Running | null | undefined} running
 * @returns {Telling}
 */
export function useClock(running) {
  const [now, setNow] = useState(Date.now() / 1000);
  useEffect(() => {
    if (!running) return undefined;
    setNow(Date.now() / 1000);
    const clock = setInterval(() => setNow(Date.now() / 1000), 1000);
    return () => clearInterval(clock);
  }, [running?.ends]);
  const left = running ? Math.max(0, running.ends - now) : 0;
  const rung = !!running && left === 0;
  useEffect(() => {
    if (!rung || !running) return;
    const key = `firstwash rung ${running.step} ${running.ends}`;
    if (sessionStorage.getItem(key)) return;
    sessionStorage.setItem(key, "yes");
    ring();
  }, [rung]);
  return { left, rung, words: running ? (rung ? "It should be dry now." : `Drying, ${time(left)} left`) : "" };
}

/** @param {number} seconds */
function time(seconds) {
  const whole = Math.ceil(seconds);
  const minutes = Math.floor(whole / 60);
  const hours = Math.floor(minutes / 60);
  const two = (/** @type {number} */ n) => String(n).padStart(2, "0");
  return hours ? `${hours}:${two(minutes % 60)}:${two(whole % 60)}` : `${minutes}:${two(whole % 60)}`;
}

/** @type {AudioContext | null} */
let sound = null;

/** Made when a clock is started: browsers let sound begin only under a finger. */
function readySound() {
  sound ??= new AudioContext();
  void sound.resume();
}

/** Three soft strokes of a bell. */
function ring() {
  sound ??= new AudioContext();
  const start = sound.currentTime + 0.05;
  for (const [at, pitch] of /** @type {[number, number][]} */ ([[0, 660], [0.7, 660], [1.4, 880]])) {
    const tone = sound.createOscillator();
    const loud = sound.createGain();
    tone.type = "sine";
    tone.frequency.value = pitch;
    loud.gain.setValueAtTime(0, start + at);
    loud.gain.linearRampToValueAtTime(0.35, start + at + 0.02);
    loud.gain.exponentialRampToValueAtTime(0.001, start + at + 1.4);
    tone.connect(loud).connect(sound.destination);
    tone.start(start + at);
    tone.stop(start + at + 1.5);
  }
  navigator.vibrate?.([200, 100, 200]);
}

/** @param {{step: BoardStep, clock: Telling, running: Running | null | undefined, mark: (changes: Partial<Marks>) => Promise<void>}} props */
export function Clock({ step, clock, running, mark }) {
  const mine = running?.step === step.id;
  const [low, mid, high] = step.minutes ?? [0, 0, 0];
  /** @param {number} minutes */
  const start = (minutes) => {
    readySound();
    void mark({ clock: { step: step.id, ends: Date.now() / 1000 + 60 * minutes, minutes } });
  };
  if (mine && running) {
    return html`<div><div class="clock" role="timer" aria-label="Drying clock">${clock.rung ? "Dry" : time(clock.left)}</div>
      <p role="status">${clock.rung ? "It should be dry now. Touch it with the back of your hand: cool means still damp." : "It rings when the time is up."}</p>
      <p class="row"><button onClick=${() => start((clock.left + 300) / 60)}>Five minutes more</button><button onClick=${() => mark({ clock: null })}>Stop the clock</button></p></div>`;
  }
  return html`<p>Usually ${words(mid)}; ${words(low)} at the least, ${words(high)} at the most. Reckoned for 20 °C (68 °F) and 50 % humidity; cold or damp air takes longer.</p>
    <p class="row"><button onClick=${() => start(mid)}>Start the drying clock</button>${sound === null && html`<button class="plain" onClick=${() => { readySound(); ring(); }}>Hear the bell</button>`}</p>`;
}

/** @param {number} minutes */
function words(minutes) {
  if (minutes < 1.5) return `${Math.max(1, Math.round(60 * minutes / 10)) * 10} seconds`;
  return minutes < 90 ? `${Math.round(minutes)} minutes` : `${(minutes / 60).toFixed(1)} hours`;
}

/** The clock that runs at the board, pencilled in the worksheet's margin. */
export function DryingNow() {
  const { painting, board } = worksheet.state;
  const [running, setRunning] = useState(/** @type {Running | null} */ (null));
  const clock = useClock(running);
  useEffect(() => {
    if (!painting?.plan || board) return;
    ask("GET", `${worksheet.path}/board/marks`).then((marks) => setRunning(/** @type {Marks} */ (marks).clock ?? null), () => {});
  }, [painting?.id, painting?.plan?.stamp, board]);
  if (!running) return null;
  return html`<p class="told" role="status"><strong>${clock.words}</strong> <a href="#board">To the board</a></p>`;
}
