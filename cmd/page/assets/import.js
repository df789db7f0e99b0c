// A table on its way into the book: looked through first, recorded once a person agrees.

import { clear, element, post, refuse, wideTable } from "./desk.js";
import { uuid7 } from "./queue.js";

const form = document.querySelector("#import form");
const look = document.getElementById("look"), body = document.getElementById("look-body"), head = document.getElementById("look-h");
let answers = {}; // to what the table leaves open, and where its columns belong

// An address may say what's coming.
for (const [name, value] of new URLSearchParams(location.search)) {
  const f = form.elements.namedItem(name);
  if (f?.options && [...f.options].some((o) => o.value === value)) {
    f.value = value;
    f.dispatchEvent(new Event("change"));
  }
}

async function base64(file) {
  const url = await new Promise((done, fail) => {
    const r = new FileReader();
    r.onload = () => done(r.result);
    r.onerror = () => fail(r.error);
    r.readAsDataURL(file);
  });
  return url.slice(url.indexOf(",") + 1);
}

// What is sent: the form, and the answers.
async function request() {
  const out = { name: form.elements.file.files[0].name };
  for (const f of form.elements) {
    if (["table", "room", "sheet", "on", "mapping"].includes(f.name) && !f.disabled && f.value.trim()) out[f.name] = f.value.trim();
  }
  for (const [name, v] of Object.entries(answers)) {
    const [to, word] = [name.slice(0, name.indexOf(".")), name.slice(name.indexOf(".") + 1)];
    if (name.includes(".")) (out[to] ??= {})[word] = v;
    else out[name] = v;
  }
  const keep = document.getElementById("answer-mapping")?.value.trim();
  if (keep) out.mapping = keep;
  out.file = await base64(form.elements.file.files[0]);
  return out;
}

let busy = false;
async function send(more) {
  if (busy) return;
  busy = true;
  clear(form);
  form.setAttribute("aria-busy", "true");
  look.setAttribute("aria-busy", "true");
  try {
    const sent = { ...await request(), ...more };
    // The same table, understood in the same way, keeps its identity: sent twice, it's recorded once.
    const words = JSON.stringify({ ...sent, dry_run: undefined, sure: undefined });
    if (form.dataset.words !== words) Object.assign(form.dataset, { words, id: uuid7() });
    sent.id = form.dataset.id;
    const { doc, said } = await post("/api/import", sent, 300e3);
    if (!said) return more.dry_run ? show(doc) : recorded(doc, sent.id);
    if (said.problems) return show(said);
    look.hidden = true;
    refuse(form, said, said.sure ? () => send({ ...more, sure: true }) : null);
  } catch {
    refuse(form, { field: form.elements.file, error: "the file can’t be read; has it changed? Choose it again" });
  } finally {
    busy = false;
    form.removeAttribute("aria-busy");
    look.removeAttribute("aria-busy");
  }
}

function table(caption, heads, rows) {
  const box = element("div", "", "wide"), t = element("table"), tr = element("tr"), body = element("tbody");
  box.tabIndex = 0;
  box.setAttribute("role", "region");
  box.setAttribute("aria-label", caption + ", a table");
  t.append(element("caption", caption));
  for (const h of heads) tr.append(Object.assign(element("th", h), { scope: "col" }));
  t.append(element("thead"), body);
  t.tHead.append(tr);
  for (const r of rows) {
    const tr = element("tr");
    r.forEach((c, i) => {
      const cell = element(i ? "td" : "th", typeof c === "string" ? c : "");
      if (!i) cell.scope = "row";
      if (typeof c !== "string") cell.append(c);
      tr.append(cell);
    });
    body.append(tr);
  }
  box.append(t);
  return box;
}

function choice(name, label, options, value) {
  const s = element("select");
  s.setAttribute("aria-label", label);
  s.dataset.answer = name;
  for (const [v, words] of options) s.append(Object.assign(element("option", words), { value: v, defaultSelected: v === value }));
  return s;
}

// How the columns were understood; where that can be put right, a choice for each.
function columns(doc) {
  if (!doc.headings.length) return [];
  const may = doc.fields.length > 0;
  const rows = doc.headings.map((h) => {
    const is = h.field + (h.unit ? ", " + h.unit : "");
    if (!may) return [h.column, h.heading, is || "not used"];
    const s = choice("", "column " + h.column + " is", [["", "not used"], ...doc.fields.map((f) => [f, f])], h.field);
    s.dataset.heading = h.heading;
    return [h.column, h.heading, s];
  });
  return [table("Columns", ["column", "heading", "is"], rows)];
}

function problem(p) {
  const li = element("li"), words = element("p", p.words, "wrong");
  li.append(words);
  const others = p.rows - p.where.length;
  const where = p.where.join("; ") + (others > 0 ? `; and ${others} more` : "");
  if (where) li.append(element("p", where, "small"));
  if (p.more) li.append(element("p", `${p.more} more of this kind in that column`, "small"));
  return li;
}

function show(doc) {
  const parts = [], bar = element("div", "", "bar"), faulty = Array.isArray(doc.problems);
  if (faulty) {
    parts.push(element("p", doc.error, "notice"));
    const list = element("ul", "", "faults");
    for (const p of doc.problems) list.append(problem(p));
    parts.push(list);
    for (const q of doc.questions) {
      const f = element("div", "", "field"), label = element("label", q.words), s = choice(q.name, q.words, [["", "choose"], ...q.options], answers[q.name] ?? q.value);
      s.removeAttribute("aria-label");
      s.id = label.htmlFor = "answer-" + q.name;
      f.append(label, s);
      parts.push(f);
    }
  } else {
    for (const s of doc.said) parts.push(element("p", s, "lead"));
    if (doc.sample.length) parts.push(table("First rows", doc.head, doc.sample));
  }
  const again = element("button", "Look through it again");
  again.type = "button";
  again.addEventListener("click", () => { take(); send({ dry_run: true }); });
  if (!faulty) {
    // What was chosen can be kept, if it isn't added to a mapping anyway.
    if (Object.keys(answers).length && ![...form.querySelectorAll("[name=mapping]")].some((f) => !f.disabled && f.value)) {
      const box = element("div", "", "field"), label = element("label", "keep these choices for the next table like it, under a name"), f = element("input");
      f.id = label.htmlFor = "answer-mapping";
      f.autocomplete = "off";
      box.append(label, f);
      parts.push(box);
    }
    const yes = element("button", "Record it", "primary");
    yes.type = "button";
    yes.addEventListener("click", () => send(doc.sure ? { sure: true } : {}));
    bar.append(yes);
    parts.push(bar, ...columns(doc));
  } else {
    parts.push(...columns(doc));
    parts.push(element("p", "Mend the file, choose it again and look through it again; or answer above."));
    if (doc.problems.every((p) => p.sure)) {
      const right = element("button", "They’re right: record it");
      right.type = "button";
      right.addEventListener("click", () => send({ sure: true }));
      bar.append(right);
    }
  }
  const last = faulty ? bar : element("div", "", "bar");
  if (doc.questions?.length || doc.fields.length) last.append(again);
  body.replaceChildren(...parts, last);
  for (const box of body.querySelectorAll(".wide")) wideTable(box);
  look.hidden = false;
  head.textContent = faulty ? "It can’t be recorded like this" : "This would be recorded";
  head.focus();
}

// take keeps what was chosen in the answers.
function take() {
  const given = [...body.querySelectorAll("select[data-heading]")];
  if (given.some((s) => s.value !== before(s))) {
    for (const k of Object.keys(answers)) if (k.startsWith("columns.")) delete answers[k];
    for (const s of given) if (s.value) answers["columns." + s.value] = s.dataset.heading;
  }
  for (const s of body.querySelectorAll("select[data-answer]")) if (s.dataset.answer && s.value) answers[s.dataset.answer] = s.value;
}
const before = (s) => [...s.options].find((o) => o.defaultSelected)?.value ?? "";

function recorded(doc, id) {
  const undo = ["weights", "results"].includes(doc.table) && !doc.no_change ? id : "";
  try {
    sessionStorage.setItem("told", JSON.stringify({ words: doc.said ?? ["no change: already recorded"], id: undo, at: Date.now() }));
  } catch { /* the pages show what was recorded */ }
  location.assign(doc.table === "air" ? "/room/" + encodeURIComponent(doc.room) : doc.table === "weights" ? "/wheels" : "/makes");
}

form.addEventListener("submit", (e) => {
  e.preventDefault();
  e.stopPropagation();
  send({ dry_run: true });
});
// Another table: what was said of the one before doesn't hold.
form.elements.table.addEventListener("change", () => { answers = {}; look.hidden = true; });
for (const f of form.querySelectorAll("[name=file], [name=mapping]")) f.addEventListener("change", () => { look.hidden = true; });
