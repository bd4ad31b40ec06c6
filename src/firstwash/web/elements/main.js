/** The way in: which page is shown follows from the address. */

import { html, render, useEffect, useState } from "../vendor/htm-preact-standalone.js";
import { AtBoard } from "./at-board.js";
import { Frame } from "./frame.js";
import { Start } from "./start.js";
import { worksheet } from "./state.js";

/** @param {string} path */
export function go(path) {
  history.pushState(null, "", path);
  dispatchEvent(new PopStateEvent("popstate"));
}

function opened() {
  const found = /^\/painting\/([^/]+)$/.exec(location.pathname);
  return found?.[1] ?? "";
}

function Page() {
  const [, again] = useState(0);
  useEffect(() => {
    const redraw = () => again((n) => n + 1);
    const stopListening = worksheet.listen(redraw);
    const moved = () => {
      const id = opened();
      if (id && worksheet.state.painting?.id !== id) void worksheet.open(id);
      if (!id && worksheet.state.painting) worksheet.close();
      if (!id) document.title = "firstwash";
      worksheet.set({ board: location.hash === "#board" });
    };
    addEventListener("popstate", moved);
    addEventListener("hashchange", moved);
    moved();
    return () => {
      stopListening();
      removeEventListener("popstate", moved);
      removeEventListener("hashchange", moved);
    };
  }, []);
  if (!opened()) return html`<${Start} go=${go} />`;
  if (worksheet.state.board && worksheet.state.painting?.plan) return html`<${AtBoard} />`;
  return html`<${Frame} go=${go} />`;
}

const root = document.getElementById("worksheet");
if (root) {
  root.textContent = "";
  render(html`<${Page} />`, root);
}
