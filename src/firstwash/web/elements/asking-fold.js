/** A fold that asks the server for what it holds when it is opened. */

import { html, useEffect, useState } from "../vendor/htm-preact-standalone.js";
import { ask } from "./api.js";
import { worksheet } from "./state.js";

/** @typedef {import("../vendor/htm-preact-standalone.js").Child} Child */

/**
 * Asks again when what it tells of is another; an answer that comes too late is dropped.
 * @template T
 * @param {{summary: string, path: string, of: string, waiting: string, looks?: string, told: (found: T) => Child}} props
 *   path: below the painting's address; of: names what it tells of; waiting: said meanwhile.
 */
export function AskingFold({ summary, path, of, waiting, looks = "", told }) {
  const [open, setOpen] = useState(false);
  const [found, setFound] = useState(/** @type {T | null} */ (null));
  const { painting } = worksheet.state;
  useEffect(() => {
    setFound(null);
    if (!open) return undefined;
    let late = false;
    void worksheet.attempt(async () => {
      const answer = /** @type {T} */ (await ask("GET", `${worksheet.path}${path}`));
      if (!late) setFound(answer);
    }, false);
    return () => {
      late = true;
    };
  }, [open, painting?.id, painting?.plan?.stamp, of]);
  return html`<details class=${looks} open=${open} onToggle=${(/** @type {Event} */ e) => setOpen(/** @type {HTMLDetailsElement} */ (e.target).open)}>
    <summary>${summary}</summary>
    ${open && !found && html`<p role="status">${waiting}</p>`}
    ${found && told(found)}
  </details>`;
}
