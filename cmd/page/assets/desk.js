// The forms of the desk: each is sent to the act its address names, as JSON,
// with an identity of its own, so that sent twice it is done once. What is
// refused is said beside the form and nothing typed is lost.

import { uuid7 } from "./queue.js";

// A link to a closed form opens it.
function reveal() {
  const d = document.getElementById(location.hash.slice(1));
  if (d?.tagName !== "DETAILS") return;
  d.open = true;
  d.scrollIntoView();
  d.querySelector("summary").focus({ preventScroll: true });
}
addEventListener("hashchange", reveal);
reveal();

export function element(name, words, cls) {
  const e = document.createElement(name);
  if (words) e.textContent = words;
  if (cls) e.className = cls;
  return e;
}

// What a field held when the page came.
function before(f) {
  if (!f.options) return f.defaultValue ?? "";
  return (Array.from(f.options).find((o) => o.defaultSelected) ?? f.options[0])?.value ?? "";
}

// The fields of a form as the act wants them; what was left empty is left out. A
// form that corrects sends what was changed, emptied fields too.
function sent(form) {
  const out = {};
  for (const f of form.elements) {
    if (!f.name || f.disabled) continue;
    let v;
    if (f.dataset.kind === "truth") {
      if (!f.checked) continue;
      v = true;
    } else if (f.dataset.kind === "each") {
      v = [...(out[f.name] ?? []), ...(f.checked ? [f.value] : [])];
    } else {
      const words = f.value.trim(), corrects = form.dataset.only === "changed" && f.type !== "hidden";
      if (corrects ? words === before(f).trim() : words === "") continue;
      if (f.dataset.kind === "whole") v = [words];
      else if (f.dataset.kind === "list") v = f.type === "hidden" ? [words] : words.split(",").map((w) => w.trim()).filter(Boolean);
      else if (f.dataset.kind === "number") {
        // 12,1 is how many write 12.1
        v = Number(words.replace(",", ".").replace(/\s*(°?C|%)$/i, ""));
        if (!Number.isFinite(v)) throw { field: f, error: words + " isn’t a number" };
      } else v = (f.dataset.prefix || "") + words;
    }
    const [head, tail] = f.name.split(".");
    if (tail) (out[head] ??= {})[tail] = v;
    else out[head] = v;
  }
  const at = document.getElementById(form.dataset.at)?.value.trim();
  if (at) out.at = at;
  return out;
}

// photos adds the pictures that were chosen, made small.
async function photos(form, body) {
  for (const f of form.querySelectorAll("[data-photo]")) {
    if (!f.files.length) continue;
    const { shrink } = await import("./photo.js");
    try {
      body[f.dataset.photo] = (await shrink(f.files[0])).base64;
    } catch (e) {
      throw { field: f, error: e.message };
    }
  }
}

export async function post(act, body, ms = 20e3) {
  let r;
  // Another may have logged in since this page was opened: then nothing is
  // written under their name.
  const { who } = document.body.dataset;
  if (who) body = { ...body, by: who };
  try {
    // What it waits for must not keep the forms waiting: the browser would send them itself.
    const { ask } = await import("./post.js");
    r = await ask(act, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) }, body.photo ? 60e3 : ms);
  } catch {
    return { said: { error: "no answer: is rindkeep page running, is there a signal?", hint: "nothing you typed is lost; press again, it’ll only be saved once" } };
  }
  let doc = {};
  try {
    doc = JSON.parse(r.body);
  } catch { /* a proxy's page, or none: the status says enough */ }
  r = r.res;
  if (r.ok) return { doc };
  if (r.status === 401 && doc.where !== "by") return { said: { error: "you are logged out", hint: "log in on another tab, then press again" } };
  if (!doc.error) doc.error = "refused with status " + r.status;
  return { said: doc };
}

// The field a refusal is about: it is named, or what stands in it is.
function fieldOf(form, where) {
  if (!where) return null;
  if (where === "at" && form.dataset.at) return document.getElementById(form.dataset.at);
  const shown = Array.from(form.elements).filter((f) => f.name && !f.disabled && f.type !== "hidden" && f.type !== "checkbox");
  return shown.find((f) => f.name === where || f.name === where + "s") ?? shown.find((f) => f.value.trim() === where) ?? null;
}

// What can be taken back by striking the entries it wrote.
const entries = ["weigh", "check", "note", "move", "coat", "taste", "hold", "release", "send", "lost", "correct", "void", "log"];

let last = 0;

export function clear(form) {
  for (const f of form.querySelectorAll("[aria-invalid]")) {
    f.removeAttribute("aria-invalid");
    if (f.dataset.described !== undefined) {
      if (f.dataset.described) f.setAttribute("aria-describedby", f.dataset.described);
      else f.removeAttribute("aria-describedby");
    }
  }
  form.querySelector(".came")?.replaceChildren();
}

export function refuse(form, said, again) {
  // A wheel that is held goes only with a reason: the field for it opens.
  const why = said.code === "held-back" && form.elements.namedItem("override");
  const f = said.field || why || fieldOf(form, said.where) || (again ? form.querySelector("input:not([type=hidden])") : null);
  const box = cameOf(form, f);
  const words = element("p", said.error, "wrong");
  words.id = "wrong-" + ++last;
  box.append(words);
  if (said.hint) box.append(element("p", said.hint));
  if (f) {
    f.dataset.described ??= f.getAttribute("aria-describedby") || "";
    f.setAttribute("aria-invalid", "true");
    f.setAttribute("aria-describedby", (f.dataset.described + " " + words.id).trim());
    for (let d = f.closest("details"); d; d = d.parentElement.closest("details")) d.open = true;
  }
  if (again) {
    const bar = element("div", "", "bar");
    const right = element("button", "It’s right");
    right.type = "button";
    right.addEventListener("click", again);
    bar.append(right);
    box.append(bar);
    right.focus();
  } else f?.focus();
  box.scrollIntoView({ block: "nearest" });
}

// What came of a form is said at the field that it's about, or else below the form.
function cameOf(form, field) {
  let box = form.querySelector(".came");
  if (!box) {
    box = element("div", "", "came");
    box.setAttribute("role", "alert");
  }
  (field?.closest(".field") ?? form).append(box);
  return box;
}

// The answer to a form's leading question says what else it asks.
for (const lead of document.querySelectorAll("[data-leads]")) {
  const follow = () => {
    for (const box of lead.form.querySelectorAll("[data-for]")) {
      box.hidden = !box.dataset.for.split(" ").includes(lead.value);
      for (const f of box.querySelectorAll("input, select, textarea")) f.disabled = box.hidden;
    }
  };
  lead.addEventListener("change", follow);
  follow();
}

// What came of it, in a line or two.
function told(form, act, doc) {
  if (doc.no_change) return ["no change: already recorded"];
  if (doc.said) return doc.said;
  if (act === "make" && doc.make) return [`lot ${doc.make.lot} saved, ${doc.wheels.length} wheels`];
  const tags = [...(doc.wheels ?? []), ...(doc.without_data ?? [])];
  if (tags.length) return [`${form.dataset.said}: ${tags.join(", ")}`];
  return [form.dataset.said];
}

// Where the page goes from here, by what was saved.
const then = {
  lot: (doc) => doc.make && "/lot/" + encodeURIComponent(doc.make.lot),
  plan: (doc) => doc.name && "/plan/" + doc.name,
  variety: (doc) => doc.name && "/kind/" + doc.name,
  room: (doc) => doc.room && "/room/" + encodeURIComponent(doc.room.name),
};

async function send(form, sure) {
  clear(form);
  let body;
  try {
    body = sent(form);
    form.setAttribute("aria-busy", "true");
    await photos(form, body);
  } catch (e) {
    form.removeAttribute("aria-busy");
    refuse(form, e);
    return;
  }
  const act = form.getAttribute("action").replace("/api/", "");
  // The same words keep their identity however often they are sent.
  const words = JSON.stringify(body);
  if (form.dataset.words !== words) {
    form.dataset.words = words;
    form.dataset.id = uuid7();
  }
  body.id = form.dataset.id;
  if (sure) body.sure = true;
  const { doc, said } = await post(form.getAttribute("action"), body);
  form.removeAttribute("aria-busy");
  if (said) {
    refuse(form, said, said.sure && !sure ? () => send(form, true) : null);
    return;
  }
  try {
    sessionStorage.setItem("told", JSON.stringify({ words: told(form, act, doc), remarks: doc.remarks, cautions: doc.cautions?.map((c) => c.words), id: !doc.no_change && entries.includes(act) ? body.id : "", at: Date.now() }));
  } catch { /* no storage: the page itself shows what was written */ }
  const to = then[form.dataset.then]?.(doc);
  if (to) location.assign(to);
  else location.reload();
}

document.addEventListener("submit", (e) => {
  const form = e.target;
  if (!(form.getAttribute("action") || "").startsWith("/api/")) return;
  e.preventDefault();
  if (form.getAttribute("aria-busy") !== "true") send(form, false);
});

// What the form before this page came to, with a way back.
function tell() {
  let t;
  try {
    t = JSON.parse(sessionStorage.getItem("told"));
    sessionStorage.removeItem("told");
  } catch { /* nothing to tell */ }
  if (!t || Date.now() - t.at > 60e3) return;
  const box = element("div", "", "answer");
  box.id = "told";
  box.tabIndex = -1;
  box.setAttribute("role", "status");
  for (const w of t.words) box.append(element("p", w));
  for (const w of t.remarks ?? []) box.append(element("p", w, "small"));
  for (const w of t.cautions ?? []) box.append(element("p", w, "caution small"));
  if (t.id) {
    const bar = element("div", "", "bar");
    const back = element("button", "Undo");
    back.type = "button";
    back.addEventListener("click", async () => {
      back.disabled = true;
      const { said } = await post("/api/strike", { id: t.id, why: "undone on the page" });
      if (said) {
        back.disabled = false;
        box.append(element("p", said.error, "wrong"));
        return;
      }
      try {
        sessionStorage.setItem("told", JSON.stringify({ words: ["undone: the entry stays in the history, crossed out"], id: "", at: Date.now() }));
      } catch { /* see above */ }
      location.reload();
    });
    bar.append(back);
    box.append(bar);
  }
  document.querySelector("main").prepend(box);
  box.focus();
}
tell();

for (const f of document.querySelectorAll("figure.touch")) import("./chart.js").then((m) => m.touch(f)).catch(() => {});

// A table that is wider than the page says so; on a phone its rows become cards, with
// the name of each column beside the figure.
const narrow = matchMedia("(max-width: 30rem)");
function cards(table) {
  if (!table || table.matches(".cards, .load") || table.querySelector("[colspan]")) return;
  const heads = [...table.querySelectorAll("thead th")].map((h) => h.textContent.trim());
  for (const r of table.querySelectorAll("tbody tr")) [...r.cells].forEach((c, i) => {
    if (c.tagName === "TH" || !c.childNodes.length) return;
    const words = element("span", "");
    words.append(...c.childNodes);
    c.append(words);
    c.dataset.head = heads[i] ?? "";
  });
  table.classList.add("cards");
}
const sides = new ResizeObserver((es) => { for (const e of es) side(e.target.closest(".wide")); });
function side(box) {
  if (!box?.isConnected) return;
  if (narrow.matches && box.scrollWidth > box.clientWidth + 4) cards(box.querySelector("table"));
  const left = box.scrollLeft > 4, more = box.scrollLeft + box.clientWidth < box.scrollWidth - 4;
  box.classList.toggle("is-more", more);
  box.classList.toggle("is-back", left);
  const words = box.previousElementSibling;
  words.textContent = more ? "more to the right →" : "← more to the left";
  words.hidden = !more && !left;
}
export function wideTable(box) {
  const words = element("p", "", "more act");
  words.setAttribute("aria-hidden", "true"); // it is read out whole
  words.hidden = true;
  box.before(words);
  box.addEventListener("scroll", () => side(box), { passive: true });
  sides.observe(box);
  if (box.firstElementChild) sides.observe(box.firstElementChild);
}
for (const box of document.querySelectorAll(".wide")) wideTable(box);

// A page left open says when the book has moved on. It is not swapped under
// anybody's hands: a form may be half filled in.
let line = null;
const stale = element("p", "", "notice");
stale.setAttribute("role", "status");
stale.hidden = true;
stale.append("The book has changed since this page loaded. ", Object.assign(element("a", "Reload"), { href: location.href }));
document.getElementById("main").prepend(stale);

function watch() {
  if (document.hidden || !stale.hidden) { line?.close(); line = null; return; }
  if (line) return;
  line = new EventSource(`/live?rev=${document.body.dataset.rev}`);
  line.addEventListener("change", () => { stale.hidden = false; watch(); });
  line.addEventListener("error", () => {
    if (line?.readyState !== EventSource.CLOSED) return; // it tries again by itself
    line = null;
    setTimeout(watch, 15e3);
  });
}
document.addEventListener("visibilitychange", watch);
watch();
