// Weighing: a pad of large keys of its own, one wheel after the other, and the
// book's answer on the spot.

import { ask as fetched, queue, listen } from "./post.js";
import { ask, el, fill, open } from "./dialogs.js";

const pad = el("pad");
const units = ["g", "kg", "lb", "oz"];

let line = null;    // { key, tags, place, job }
let figure = "";
let unit = saved() ?? "g";
let shown = null;   // id of the entry whose answer is on show
let cardWith = () => null;
let lineLeft = () => [];

function saved() {
  try { return units.includes(localStorage.getItem("rindkeep.unit")) ? localStorage.getItem("rindkeep.unit") : null; } catch { return null; }
}

// weigh opens the pad for a line of the list, or for any wheel where there is
// none. find gives the line a wheel is to be weighed in, todo what is left of
// a line.
export function weigh(l, find, todo) {
  line = l; cardWith = find; lineLeft = todo;
  figure = ""; shown = null;
  el("pad-answer").hidden = true;
  wrong("");
  setWheel(l?.tags[0] ?? "");
  if (l) lookAhead(l.tags);
  show();
  open(pad);
  el(l ? "pad-figure" : "pad-tag").focus();
}

function show() {
  el("pad-figure").textContent = figure;
  el("pad-unit").textContent = unit;
  el("pad-units").textContent = `in ${units[(units.indexOf(unit) + 1) % units.length]}`;
}

function wrong(text) {
  const p = el("pad-wrong");
  p.hidden = !text;
  p.textContent = text;
}

// befores are what is known of wheels before they're weighed, by tag: their last weight,
// and what is expected now. They're kept for a round without signal.
const befores = new Map(kept());
function kept() {
  try { return JSON.parse(localStorage.getItem("rindkeep.before")) ?? []; } catch { return []; }
}

// lookAhead asks for some wheels what wasn't asked in the last ten minutes.
export async function lookAhead(tags) {
  const now = performance.now(), old = tags.filter((t) => !(now - (befores.get(t)?.asked ?? -1e9) < 600e3)).slice(0, 40);
  if (!old.length) return;
  try {
    const { res, body } = await fetched(`/before?tags=${encodeURIComponent(old.join(","))}`, { headers: { Accept: "application/json" }, redirect: "manual" });
    if (!res.ok) return;
    for (const b of JSON.parse(body).wheels) befores.set(b.wheel, { said: b.said, asked: now });
    const keep = [...befores].slice(-500).map(([t, b]) => [t, { said: b.said }]);
    try { localStorage.setItem("rindkeep.before", JSON.stringify(keep)); } catch { /* it's asked again */ }
  } catch { /* no signal: what was known before is shown */ }
  where();
}

function setWheel(tag) {
  el("pad-tag").value = tag;
  where();
}

// where says where the wheel is, and how far along the line it is.
function where() {
  const tag = el("pad-tag").value.trim();
  const l = line && line.tags.includes(tag) ? line : cardWith(tag);
  const i = l ? l.tags.indexOf(tag) : -1;
  el("pad-before").textContent = befores.get(tag)?.said ?? "";
  el("pad-where").textContent = l && i >= 0 ? `${i + 1} of ${l.tags.length}, ${l.place || "no place given"}` : tag ? "not on today's list" : "type a tag, or scan it";
}

// next goes to the wheel of the line that comes after the one shown.
function next(skip = true) {
  if (!line) { setWheel(""); el("pad-tag").focus(); return; }
  const todo = lineLeft(line), tag = el("pad-tag").value.trim(), i = line.tags.indexOf(tag);
  const ahead = line.tags.slice(i + 1).find((t) => todo.includes(t)) ?? todo.find((t) => t !== tag) ?? (skip ? null : todo[0]);
  if (ahead) setWheel(ahead);
  else if (!todo.length) { setWheel(""); el("pad-where").textContent = "that was the last one"; }
}

function press(k) {
  wrong("");
  switch (k) {
    case "back": figure = figure.slice(0, -1); break;
    case "unit":
      unit = units[(units.indexOf(unit) + 1) % units.length];
      try { localStorage.setItem("rindkeep.unit", unit); } catch { /* it is asked again */ }
      break;
    case "next": figure = ""; next(); break;
    case "keep": keep(); return;
    case ".": if (!figure.includes(".")) figure = (figure || "0") + "."; break;
    default: if (figure.length < 8) figure = figure === "0" ? k : figure + k;
  }
  show();
}

function keep() {
  const tag = el("pad-tag").value.trim();
  if (!tag) { wrong("which wheel? type its tag, or scan it"); el("pad-tag").focus(); return; }
  if (!(Number(figure) > 0)) { wrong("what does it weigh?"); return; }
  const l = line?.tags.includes(tag) ? line : cardWith(tag);
  const said = `${figure.replace(/\.$/, "")} ${unit}`;
  // A corrected figure takes the place of the one refused.
  const was = queue.entries.find((x) => x.id === shown && x.state === "aside" && x.body.wheel === tag);
  if (was) queue.forget(was);
  const e = queue.add("weigh", { wheel: tag, weight: said.replace(" ", "") }, {
    key: l?.key, wheels: [tag], job: "weigh", place: l?.place, label: `weighed ${tag}: ${said}`, shown: said,
  });
  befores.delete(tag);
  figure = "";
  shown = e.id;
  answer(e);
  next(false);
  show();
}

// answer shows what came of a weight.
function answer(e) {
  const box = el("pad-answer");
  box.hidden = false;
  box.className = "answer";
  const tag = e.body.wheel, w = e.shown ?? e.body.weight;
  if (e.state === "kept") {
    fill(box, ["p", ["strong", tag], `  ${w}`], ["p", queue.signal === "yes" || queue.signal === "unknown" ? "…" : "saved on this phone; the answer comes when there’s a signal"]);
    return;
  }
  if (e.state === "aside") {
    box.classList.add("odd");
    fill(box, ["p", ["strong", e.said.error]], e.said.hint ? ["p", e.said.hint] : null, ["div.bar",
      ["button.primary", { onclick: () => { again(e); } }, "weigh again"],
      e.said.sure ? ["button.quiet", { onclick: () => { right(e); } }, "It’s right"] : ["button.quiet", { onclick: () => drop(e) }, "delete"]]);
    return;
  }
  const r = e.doc?.results?.[0];
  if (!r || !e.doc.said) { fill(box, ["p", ["strong", tag], `  ${w}: ${r ? "saved" : "already in the book"}`]); return; }
  if (r.standing !== "on-curve") box.classList.add("odd");
  fill(box, ["p", ["strong", e.doc.said[0]]], ...e.doc.said.slice(1).map((s) => ["p", s]));
}

// on gives the keyboard back to the pad, as the button that was pressed goes.
const on = () => el("pad-figure").focus();

async function again(e) {
  on();
  setWheel(e.body.wheel);
  figure = "";
  show();
  el("pad-answer").hidden = true;
  shown = null;
  await queue.forget(e);
  queue.changed("entry");
}

async function right(e) {
  on();
  const n = await queue.again(e, { body: { sure: true } });
  n.shown = e.shown;
  shown = n.id;
  answer(n);
  if (el("pad-tag").value.trim() === e.body.wheel) next(false);
}

async function drop(e) {
  if (!(await ask(`Delete ${e.label}? There is no other copy.`, "Delete"))) return;
  on();
  el("pad-answer").hidden = true;
  await queue.forget(e);
  queue.changed("entry");
}

listen((what, e) => {
  if (what === "signal") e = queue.entries.find((x) => x.id === shown && x.state === "kept");
  if (!pad?.open || !e || e.act !== "weigh") return;
  // A refusal is shown also where the pad has gone on to another wheel.
  if (what === "signal" || (what === "answer" && (e.id === shown || e.state === "aside"))) {
    // What is typed next is about the wheel that was refused: the pad goes back
    // to it, and keeps no figure meant for another.
    if (what === "answer" && e.state === "aside" && el("pad-tag").value.trim() !== e.body.wheel) {
      setWheel(e.body.wheel);
      figure = "";
      show();
    }
    shown = e.id;
    answer(e);
  }
});

if (pad) attend(); // a reader has none

function attend() {
  pad.addEventListener("click", (ev) => {
    const k = ev.target.closest("[data-key]")?.dataset.key;
    if (k) press(k);
  });
  // A keyboard works too, wherever the focus is but in the tag.
  pad.addEventListener("keydown", (ev) => {
    if (ev.target.id === "pad-tag") {
      if (ev.key === "Enter") { ev.preventDefault(); where(); el("pad-figure").focus(); ev.target.blur(); }
      return;
    }
    if (ev.ctrlKey || ev.metaKey || ev.altKey) return;
    if (/^[0-9.]$/.test(ev.key)) press(ev.key);
    else if (ev.key === ",") press(".");
    else if (ev.key === "Backspace") press("back");
    else if (ev.key === "Enter" && !ev.target.closest("button:not([data-key=keep])")) press("keep");
    else return;
    ev.preventDefault();
  });
  el("pad-tag").addEventListener("input", where);
  el("pad-tag").addEventListener("change", () => lookAhead([el("pad-tag").value.trim()].filter(Boolean)));
  el("pad-scan").addEventListener("click", async () => {
    const { scan } = await import("./scan.js");
    const tag = await scan();
    if (!tag) return;
    setWheel(tag);
    lookAhead([tag]);
  });
}
