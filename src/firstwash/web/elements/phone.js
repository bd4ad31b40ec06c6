/** Use a phone or tablet on the home network: off until asked for, one device, until closed. */

import { html, useEffect, useState } from "../vendor/htm-preact-standalone.js";
import { ask } from "./api.js";
import { worksheet } from "./state.js";

/** @typedef {{state: string, address?: string, url?: string, qr?: string, code?: string, device?: string}} PhoneState */

/** Only the computer itself lets devices in, not the phone that was let in. */
const LOCAL = !!document.querySelector('meta[name="local"]');

export function Phone() {
  const [phone, setPhone] = useState(/** @type {PhoneState | null} */ (null));
  const look = async () => {
    try {
      setPhone(await ask("GET", "/api/phone"));
    } catch {
      // the server does not answer just now; the rest of the page says so
    }
  };
  useEffect(() => {
    if (LOCAL) void look();
  }, []);
  useEffect(() => {
    if (!phone || phone.state === "closed" || phone.state === "expired") return undefined;
    const clock = setInterval(look, 2000);
    return () => clearInterval(clock);
  }, [phone?.state]);
  /** @param {string} method */
  const act = (method) =>
    worksheet.attempt(async () => setPhone(await ask(method, "/api/phone", method === "POST" ? {} : undefined)));
  if (!phone) return null;
  const open = phone.state === "waiting" || phone.state === "in use";
  return html`<details><summary>Use my phone or tablet</summary>
    <p>Opens this worksheet to one device on your home network, until you close it. Nothing leaves your home. Use it on a network you trust: what the phone shows is not scrambled on its way.</p>
    ${phone.state === "waiting" && phone.qr && html`<${Code} phone=${phone} />`}
    ${phone.state === "in use" && html`<p class="told" role="status">A device is using the worksheet.</p>`}
    ${phone.state === "expired" && html`<p class="told" role="status">The code was not used in time. Open it again for a new one.</p>`}
    <p class="row">${open ? html`<button onClick=${() => act("DELETE")}>Close it</button>` : html`<button onClick=${() => act("POST")}>Open it to one device</button>`}</p>
  </details>`;
}

/** @param {{phone: PhoneState}} props */
function Code({ phone }) {
  const [picture, setPicture] = useState("");
  useEffect(() => {
    const made = URL.createObjectURL(new Blob([phone.qr ?? ""], { type: "image/svg+xml" }));
    setPicture(made);
    return () => URL.revokeObjectURL(made);
  }, [phone.qr]);
  return html`<figure class="code">${picture && html`<img src=${picture} alt="A code for the phone’s camera" width="240" height="240" />`}
    <figcaption>Point the phone’s camera at this, or write the address into its browser: <strong>${phone.url}</strong></figcaption></figure>`;
}
