// Work that was done earlier carries its time: once one is chosen, every tap is recorded
// for it, and a line says so, until "now" is pressed or nothing was tapped for a while.

import { listen, queue } from "./post.js";
import { el } from "./dialogs.js";

const forgotten = 10 * 60e3;
const box = el("earlier");
let timer;

function set(ms) {
  queue.earlier = ms;
  clearTimeout(timer);
  if (ms) timer = setTimeout(() => set(0), forgotten);
  else el("earlier-at").value = "";
  const words = ms ? `recorded for ${new Date(ms).toLocaleString(document.documentElement.lang, { weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23" })}` : "";
  for (const p of document.querySelectorAll("[data-earlier]")) {
    p.hidden = !ms;
    p.firstElementChild.textContent = words;
  }
}

const local = (ms) => new Date(ms - new Date(ms).getTimezoneOffset() * 60e3).toISOString().slice(0, 16);

if (box) { // a reader has none
  el("tools")?.after(box);
  const at = el("earlier-at");
  box.addEventListener("toggle", () => { at.max = local(queue.clock.now()); });
  at.addEventListener("change", () => {
    const ms = Date.parse(at.value), late = ms > queue.clock.now();
    el("earlier-wrong").hidden = !late;
    set(late || !ms ? 0 : ms);
    if (queue.earlier) box.open = false;
  });
  el("earlier-now").addEventListener("click", () => set(0));
  listen((what, e) => { if (what === "entry" && e && queue.earlier && e.act !== "strike") set(queue.earlier); });
}
