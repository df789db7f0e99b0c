// The round: taps become entries, entries paint the list, and the book's own
// changes come in while it is open.

import { announce, ask as fetched, clock, keeping, ledger, listen, persists, queue } from "./post.js";
import { ask, el, fill, make, open, picks } from "./dialogs.js";
import "./earlier.js";
import * as day from "./list.js";
import { clock as timeOf, lasting, roll, wheels as some } from "./tags.js";
import { lookAhead, weigh } from "./weigh.js";

const { list, together, writes } = day;

// ---- taps -----------------------------------------------------------------

// about is what an entry of a card's remembers, to find its card again.
const about = (li, wheels, label) => ({ key: day.key(li), job: li.dataset.job, place: day.place(li), wheels, label: `${label}: ${roll(wheels)}` });

// which of the day's rounds a card is for, where the job comes several times: another
// phone's tap for the same one is the same round.
const roundOf = (li) => (li.dataset.round ? { round: Number(li.dataset.round) } : {});

const sound = { dry_to_touch: "yes", cracks: "no", weeping: "no", mould: "no", mites: "no", gas: "no" };

// record writes a card's job down for some of its wheels.
function record(li, wheels, more = {}) {
  const { kind, job, past, to } = li.dataset;
  switch (kind) {
    case "did": return queue.add("did", { job, wheels, ...roundOf(li), ...more }, about(li, wheels, past));
    case "move": return queue.add("move", { wheels, place: to, ...more }, about(li, wheels, `moved to ${to}`));
    case "check": return queue.add("check", { wheels, ...sound, ...more }, about(li, wheels, "checked, sound"));
  }
}

const lineOf = (li) => ({ key: day.key(li), tags: day.tags(li), place: day.place(li), job: li.dataset.job });
// find is the line of the list a wheel is to be weighed in.
const find = (tag) => {
  const li = day.cards().find((c) => c.dataset.kind === "weigh" && day.tags(c).includes(tag));
  return li ? lineOf(li) : null;
};
const todo = (line) => {
  const li = day.cardOf(line.key);
  return li ? day.left(li) : [];
};

const acts = {
  all(li) {
    const wheels = day.left(li);
    switch (li.dataset.kind) {
      case "weigh": weigh({ ...lineOf(li), tags: wheels }, find, todo); break;
      case "coat": openCoat(li); break;
      case "move": if (!li.dataset.to) { openPart(li); break; } // falls through
      default: record(li, wheels);
    }
  },
  other(li) { (li.dataset.kind === "check" ? openHand : openPart)(li); },
  undo(li) {
    const e = day.entriesOf(li).filter((x) => !x.undone && x.state !== "aside").at(-1);
    if (e) takeBack(e);
  },
  before(li) {
    for (const e of day.later(li) ?? []) takeBack(e);
  },
  see() { openBook(); },
};

document.addEventListener("click", (ev) => {
  const b = ev.target.closest("[data-do]");
  if (!b) return;
  const what = b.dataset.do;
  if (what === "shelf") {
    for (const li of [...b.closest(".shelf").querySelectorAll(".card")].filter(day.plain)) record(li, day.left(li));
    return;
  }
  const li = b.closest(".card");
  if (day.justTurned(li)) return;
  const next = li.dataset.kind !== "weigh" && what === "all" ? after(li) : null;
  acts[what]?.(li);
  // The button is gone with its card folded: a keyboard goes on from the next.
  if (!b.isConnected && document.activeElement === document.body) (li.querySelector("[data-do]") ?? next)?.focus({ preventScroll: true });
});

function after(li) {
  const all = day.cards();
  return all.slice(all.indexOf(li) + 1).find((c) => !c.classList.contains("is-done"))?.querySelector("[data-do]");
}

// twice records a round that was taken for another's as one more.
async function twice(e) {
  const { act, body, at, stamp, who, key, job, place, wheels, label } = e;
  await queue.undo(e, "done twice: recorded again as a round more");
  queue.add(act, { ...body, twice: true }, { at, stamp, who, key, job, place, wheels, label });
}

function takeBack(e) {
  say(`undone: ${e.label}`);
  queue.undo(e);
}

// ---- some of a line, passing over, notes ------------------------------------

function openPart(li) {
  const { kind, past, to } = li.dataset;
  const plain = kind === "did" || (kind === "move" && to);
  el("part-title").textContent = li.querySelector(".what strong").textContent;
  for (const id of ["part-why", "part-note", "part-photo"]) el(id).value = "";
  el("part-photo-said").textContent = "";
  wrong("part-wrong", "");
  let photo = null;
  const done = el("part-done"), skip = el("part-skip"), note = el("part-keep");
  const chosen = picks(el("part-picks"), day.left(li), (c) => {
    done.textContent = `${kind === "move" ? `moved to ${to}` : past}: ${some(c.length)}`;
    skip.textContent = `skip ${some(c.length)}`;
    note.textContent = `save the note for ${some(c.length)}`;
    wrong("part-wrong", "");
  });
  done.hidden = !plain;
  const some_ = (fn) => () => {
    const c = chosen();
    if (!c.length) { wrong("part-wrong", "choose at least one wheel"); return; }
    fn(c);
  };
  const close = () => el("part").close();
  done.onclick = some_((c) => { record(li, c); close(); });
  skip.onclick = some_((c) => {
    const why = el("part-why").value.trim();
    if (!why) { wrong("part-wrong", "say why you’re skipping it"); el("part-why").focus(); return; }
    queue.add("skip", { job: li.dataset.job, wheels: c, why, ...roundOf(li) }, about(li, c, `skipped, ${li.dataset.job}`));
    close();
  });
  el("part-photo").onchange = async () => {
    photo = null;
    const file = el("part-photo").files[0], said = el("part-photo-said");
    if (!file) { said.textContent = ""; return; }
    said.textContent = "…";
    try {
      const { shrink } = await import("./photo.js");
      photo = await shrink(file);
      said.textContent = `photo: ${Math.ceil(photo.bytes / 1000)} kB`;
    } catch (e) { said.textContent = e.message; }
  };
  note.onclick = some_((c) => {
    const text = el("part-note").value.trim();
    if (!text) { wrong("part-wrong", "write the note first"); el("part-note").focus(); return; }
    if (photo && c.length > 1) { wrong("part-wrong", "a photo goes with one wheel: choose it"); return; }
    for (const wheel of c) queue.add("note", { wheel, text, ...(photo ? { photo: photo.base64 } : {}) }, { wheels: [wheel], label: `note on ${wheel}` });
    close();
  });
  open(el("part"));
}

// ---- the hand check ------------------------------------------------------------

function openHand(li) {
  const found = {};
  const asks = [...document.querySelectorAll("#hand [data-ask]")];
  const show = () => {
    for (const f of asks) for (const b of f.querySelectorAll("button")) b.setAttribute("aria-pressed", String(found[f.dataset.ask] === b.dataset.say));
    wrong("hand-wrong", "");
  };
  el("hand-note").value = "";
  const chosen = picks(el("hand-picks"), day.left(li), (c) => {
    el("hand-keep").textContent = c.length ? `save for ${some(c.length)}` : "save";
    wrong("hand-wrong", "");
  }, true);
  for (const f of asks) {
    f.onclick = (ev) => {
      const said = ev.target.closest("[data-say]")?.dataset.say;
      if (!said) return;
      if (found[f.dataset.ask] === said) delete found[f.dataset.ask];
      else found[f.dataset.ask] = said;
      show();
    };
  }
  el("hand-sound").onclick = () => { Object.assign(found, sound); show(); };
  el("hand-keep").onclick = () => {
    const c = chosen(), note = el("hand-note").value.trim();
    if (!c.length) { wrong("hand-wrong", "tick the wheels you checked"); el("hand-picks").scrollIntoView({ block: "nearest" }); return; }
    if (!Object.keys(found).length) { wrong("hand-wrong", "answer yes or no to at least one question"); return; }
    const bad = asks.map((f) => f.dataset.ask).filter((k) => found[k] && found[k] !== sound[k]);
    const words = bad.length ? bad.map((k) => (k === "dry_to_touch" ? "not dry" : k)).join(", ") : "no fault";
    queue.add("check", { wheels: c, ...found, ...(note ? { note } : {}) }, about(li, c, `checked, ${words}`));
    el("hand").close();
  };
  show();
  open(el("hand"));
}

// ---- the coat --------------------------------------------------------------------

let coating = null; // the card on the form
function openCoat(li, was) {
  coating = li;
  const kind = li.dataset.coat ?? "";
  el("coat-title").textContent = `coat ${kind}`;
  el("coat-wax").hidden = kind !== "wax";
  const tag = el("coat-tag"), before = el("coat-before"), after_ = el("coat-after");
  const fresh = () => {
    const left = day.left(li);
    if (!left.length) { el("coat").close(); return; }
    tag.replaceChildren(...left.map((t) => make(["option", { value: t }, t])));
    before.value = after_.value = "";
    el("coat-keep").textContent = "save, next wheel";
    if (left.length === 1) el("coat-keep").textContent = "save";
    el("coat-all").textContent = left.length > 1 ? `all ${left.length} coated, not weighed` : "coated, not weighed";
    wrong("coat-wrong", "");
  };
  const put = (wheels, more) => queue.add("coat", { wheels, coat: kind || "wax", ...more }, about(li, wheels, `coated, ${kind}`));
  el("coat-all").onclick = () => { put(day.left(li), {}); el("coat").close(); };
  el("coat-keep").onclick = () => {
    const w = {};
    for (const [name, box] of [["before", before], ["after", after_]]) {
      const v = box.value.trim();
      if (v) w[name] = /[a-z]/i.test(v) ? v : v + box.dataset.unit; // what a bare number means may change until it is sent
    }
    put([tag.value], w);
    fresh();
  };
  fresh();
  if (was) {
    tag.value = was.wheels[0];
    before.value = was.before ?? "";
    after_.value = was.after ?? "";
  }
  open(el("coat"));
}

// A coat that was refused while its form is open goes back into it.
listen((what, e) => {
  if (what !== "answer" || e.act !== "coat" || e.state !== "aside" || !el("coat").open || day.key(coating) !== e.key || e.body.wheels.length > 1) return;
  queue.forget(e).then(() => {
    queue.changed("entry");
    openCoat(coating, e.body);
    wrong("coat-wrong", e.said.error);
    if (e.said.sure) fill(el("coat-wrong"), `${e.said.error} `, ["button", { type: "button", onclick: () => {
      queue.add("coat", { ...e.body, sure: true }, { key: e.key, job: "coat", place: e.place, wheels: e.wheels, label: e.label, at: e.at, stamp: e.stamp });
      openCoat(coating);
    } }, "It’s right"]);
  });
});

function wrong(id, text) {
  const p = el(id);
  p.hidden = !text;
  p.textContent = text;
}

// ---- what was entered here --------------------------------------------------------

const words = { kept: "on this phone", sent: "in the book", aside: "refused" };

// what can be done about an entry the book refused.
function choices(e) {
  // The wheels the refusal is about can be left out together, and the rest go.
  const refused = e.said?.wheels ?? [e.said?.where];
  const named = (e.body.wheels ?? []).filter((w) => refused.includes(w));
  const rest = (e.body.wheels ?? []).filter((w) => !named.includes(w));
  return [
    e.act === "weigh" && ["button.primary", { onclick: async () => {
      el("book").close();
      await queue.forget(e);
      weigh({ key: e.key, tags: [e.body.wheel], place: e.place, job: "weigh" }, find, todo);
      queue.changed("entry");
    } }, "weigh again"],
    e.act === "coat" && day.cardOf(e.key) && ["button", { onclick: async () => {
      el("book").close();
      await queue.forget(e);
      queue.changed("entry");
      openCoat(day.cardOf(e.key), e.body);
    } }, "change it"],
    named.length > 0 && rest.length > 0 && ["button", { onclick: () => queue.again(e, {
      body: { wheels: rest }, about: { wheels: rest, job: e.job, place: e.place, label: `${e.label.split(": ")[0]}: ${roll(rest)}` },
    }) }, `leave out ${roll(named)}`],
    e.said?.sure && ["button.quiet", { onclick: () => queue.again(e, { body: { sure: true } }) }, "It’s right"],
    ["button", { onclick: () => queue.again(e, { about: { job: e.job, place: e.place } }) }, "send again"],
    ["button.quiet", { onclick: async () => {
      if (!(await ask(`Delete "${e.label}"? There is no other copy.`, "Delete"))) return;
      await queue.forget(e);
      queue.changed("entry");
    } }, "delete"],
  ].filter(Boolean);
}

function openBook() { showBook(); open(el("book")); }

function showBook() {
  const waiting = queue.waiting().length;
  fill(el("book-state"), ["strong", postWords()], ". ", keepWords(), queue.signal === "login" ? ["span", " ", ["a", { href: "/login" }, "Log in"]] : null);
  fill(el("book-aside"), ...queue.aside().map((e) => ["div.caution", ["p", ["strong", e.label ?? e.act], `, ${timeOf(e.at)}`], ["p", e.said?.error ?? "refused"],
    e.said?.hint ? ["p.small", e.said.hint] : null, ["div.bar", ...choices(e)]]));
  const others = queue.others();
  fill(el("book-others"), others.length ? ["p.notice", `${others.length} saved here for ${[...new Set(others.map((e) => e.who))].join(", ")}, and sent when they log in`] : null);
  const es = queue.entries.filter((e) => e.state !== "aside" && e.act !== "strike" && queue.mine(e)).sort((a, b) => (a.at < b.at ? 1 : -1));
  fill(el("book-list"), ...es.map((e) => ["li", e.undone ? { class: "gone" } : null,
    ["span", [e.undone ? "span.struck" : "span", e.label ?? e.act], ["small", `${timeOf(e.at)}, ${e.undone ? "undone" : words[e.state]}${passed(e)}`],
      e.stamp?.unsure ? ["small", "Time uncertain: this phone’s clock was changed."] : null,
      together(e) ? ["small", `recorded already ${together(e)}: counts once`] : null],
    together(e) && writes ? ["button", { onclick: () => twice(e), "aria-label": `Done twice: ${e.label}` }, "Done twice"] : null,
    !e.undone && writes ? ["button", { onclick: () => takeBack(e), "aria-label": `Undo ${e.label}` }, "Undo"] : null]));
  if (!es.length) fill(el("book-list"), ["li", waiting ? "" : "nothing yet"]);
}

function passed(e) {
  const r = e.doc?.results?.[0];
  return r && r.loss_pct !== null ? `, loss ${r.loss_pct.toFixed(1)} %` : day.coats([e]).replace(/^.*coated,/, ",");
}

// keepWords say what keeps the round here when the signal goes.
function keepWords() {
  if (keeping === "page") return "This browser can’t save entries (a private window?): don’t close this page until everything is sent.";
  if (navigator.serviceWorker?.controller) return "Your entries are saved on this phone, and you can reload without a signal.";
  return "Keep this page open; your entries are saved on this phone.";
}

let off = false; // the line to the book is cut

// postWords say how the entries stand.
function postWords() {
  const n = queue.waiting().length, aside = queue.aside().length;
  if (aside) return aside === 1 ? "1 needs you" : `${aside} need you`;
  if (queue.signal === "login") return n ? `log in to send ${n}` : "log in to go on";
  if (!n) return off || queue.signal === "no" ? "no signal; all sent" : "all sent";
  if (queue.signal === "no" || off) return `${n} saved on this phone: no signal`;
  if (queue.signal === "busy") return `${n} saved on this phone: the book is busy`;
  return `sending ${n}`;
}

// ---- the bar at the foot ------------------------------------------------------------

function foot() {
  const { done, all } = day.tally();
  el("count").textContent = all ? `${done} of ${all} done` : "nothing to do";
  if (tiled(list)) el("count").textContent = "choose a list";
  el("post").textContent = postWords();
  el("tally").classList.toggle("needs", queue.aside().length > 0 || queue.signal === "login");
  const last = queue.entries.filter((e) => !e.undone && e.state !== "aside" && e.act !== "strike" && queue.mine(e) && clock.now() - Date.parse(e.at) < 15 * 60e3).at(-1);
  const undo = el("undo");
  undo.hidden = !last || !writes;
  if (last) {
    fill(undo, "Undo", ["small", last.label ?? last.act]);
    undo.onclick = () => takeBack(last);
  }
  el("foot").hidden = false;
  if (el("book").open) showBook();
}

let saying;
function say(text) {
  clearTimeout(saying);
  saying = setTimeout(() => { el("saying").textContent = text; }, 50);
}

function news(id, ...parts) {
  let p = document.getElementById(id);
  if (!parts.length) { p?.remove(); return; }
  if (!p) {
    p = make(["p.notice", { id }]);
    el("news").append(p);
  }
  fill(p, ...parts);
}

let shared = []; // rounds that another recorded before, since they were last looked at

// tellTogether asks nothing: a shared round counts once unless they say otherwise.
function tellTogether(e) {
  shared = [...shared.filter(together), e];
  const look = () => { shared = []; news("together"); };
  if (shared.length === 1) {
    news("together", ["strong", e.label], `: recorded already ${together(e)}, so it counts as one round. `,
      ["button", { onclick: () => { look(); twice(e); } }, "It was done twice"]);
  } else {
    news("together", ["strong", `${shared.length} jobs were recorded already`], " by somebody else: each counts as one round. ",
      ["button", { onclick: () => { look(); openBook(); } }, "Look at them"]);
  }
}

// ---- what never came ---------------------------------------------------------------

// missingNews tells of entries that a phone had and the book never got.
function missingNews(all) {
  for (const p of document.querySelectorAll(".missing")) p.remove();
  for (const m of all) {
    const p = make(["p.notice.missing"]), n = m.entries === 1 ? "1 entry" : `${m.entries} entries`;
    const on = (t) => new Date(t).toLocaleDateString("en-GB", { weekday: "short", day: "numeric", month: "short" });
    const where = (m.by ? `by ${m.by} ` : "") + "on " + (m.this_phone ? "this phone" : "another phone of yours");
    const times = m.from ? ` on ${on(m.from)}, ${timeOf(m.from)}${m.to === m.from ? "" : ` to ${timeOf(m.to)}`}` : "";
    const why = m.cleared ? `${m.entries === 1 ? "It was" : "They were"} entered ${where}${times}, and its storage was cleared before ${m.entries === 1 ? "it was" : "they were"} sent. Look at what was done then, and enter it again.`
      : `${m.entries === 1 ? "It was" : "They were"} entered ${where}${times}. Open the round there to send ${m.entries === 1 ? "it" : "them"}, or enter ${m.entries === 1 ? "it" : "them"} again here.`;
    fill(p, ["strong", `${n} never reached the book.`], ` ${why} `,
      ["button", { onclick: () => queue.alone(() => announce({ seen: [m.phone] })).catch(() => {}).finally(() => p.remove()) }, "Done, don’t show this again"]);
    el("news").prepend(p);
  }
}

// keepsWords say, before the round, whether this browser promised to keep what is
// entered without signal.
function keepsWords(kept) {
  if (kept) return "This browser keeps your entries on this phone until they’re sent.";
  return "This browser may delete unsent entries if the phone runs out of space. To make them safer, add this page to the home screen.";
}

function clockNews() {
  const off = clock.off();
  if (!off) return news("clock");
  news("clock", ["strong", `This phone’s clock is ${lasting(Math.abs(off))} ${off > 0 ? "slow" : "fast"}`],
    ": rindkeep saves the right time of what you enter here, and the phone’s own time beside it.");
}

el("tally").addEventListener("click", openBook);

// ---- showing only some ---------------------------------------------------------------

const only = { room: null, job: null };
const tiled = (l) => !!l.querySelector(".tiles"); // it's no list, but what one can be chosen from
function sift() {
  if (tiled(list)) return;
  for (const a of document.querySelectorAll("#sift a")) {
    const on = ("room" in a.dataset ? only.room : only.job) ?? "";
    const mine = "room" in a.dataset ? a.dataset.room : a.dataset.job;
    if (mine === on) a.setAttribute("aria-current", "true");
    else a.removeAttribute("aria-current");
  }
  for (const r of list.querySelectorAll(".room")) {
    r.hidden = !!only.room && r.dataset.room !== only.room;
    for (const s of r.querySelectorAll(".shelf")) {
      let any = false;
      for (const c of s.querySelectorAll(".card")) any = !(c.hidden = !!only.job && c.dataset.job !== only.job) || any;
      s.hidden = !any;
    }
    if (only.job && !r.hidden) r.hidden = [...r.querySelectorAll(".shelf")].every((s) => s.hidden);
    // Each job's first card has its cautions; what several jobs share is said once.
    const said = new Set();
    for (const p of r.querySelectorAll(".card:not(.is-done):not([hidden]) .caution")) {
      p.hidden = said.has(p.textContent);
      said.add(p.textContent);
    }
  }
  el("sifted").textContent = only.room || only.job ? `: ${[only.room, only.job].filter(Boolean).join(", ")}` : "…";
}
document.addEventListener("click", (ev) => {
  const a = ev.target.closest("#sift a");
  if (!a || ev.ctrlKey || ev.metaKey || list.dataset.narrow) return;
  ev.preventDefault();
  if ("room" in a.dataset) only.room = a.dataset.room;
  else only.job = a.dataset.job;
  sift();
});

// ---- the book's own changes ------------------------------------------------------------

let rev = document.body.dataset.rev;
let line = null, soon = null, refreshing = false, again = false, askedLast = Date.now();
const here = list.dataset.list; // the query of the list on the page

// fetchList asks for what changed since the list on the page, or for all of it.
async function fetchList(have) {
  const { res, body } = await fetched(`/?${here || "rooms"}`, { headers: { "X-Round": have || "none", Accept: "text/html" } });
  const page = res.ok && !res.redirected ? new DOMParser().parseFromString(body, "text/html") : null;
  // Another who logged in on this phone has a page of their own.
  const fresh = page?.body.dataset.who === document.body.dataset.who ? page.getElementById("list") : null;
  if (!fresh && (res.status === 401 || res.redirected || page)) loggedOut();
  return { page, fresh };
}

function refresh() {
  clearTimeout(soon);
  soon = setTimeout(async () => {
    if (refreshing) { again = true; return; }
    refreshing = true;
    const asked = askedLast = Date.now();
    try {
      let { page, fresh } = await fetchList(list.dataset.have);
      if (fresh && !day.complete(fresh)) ({ page, fresh } = await fetchList());
      if (!fresh) return;
      rev = page.body.dataset.rev;
      if (tiled(fresh) && !tiled(list) && day.cards().length) {
        news("long", "This list has become too long for one page. ", ["a", { href: `/?${here || "rooms"}` }, "Choose a part of it"]);
        return;
      }
      const copy = fresh.outerHTML;
      day.take(document.importNode(fresh, true), asked);
      top(document, page);
      sift();
      tagList();
      news("old");
      foot();
      recopy(copy, page);
    } catch { /* no signal: the list stays as it is */ } finally {
      refreshing = false;
      if (again) { again = false; refresh(); }
    }
  }, 100);
}

// top brings what stands above the list up to date.
function top(doc, page) {
  for (const what of [".day h1", "#sum"]) doc.querySelector(what).replaceChildren(...doc.importNode(page.querySelector(what), true).childNodes);
  for (const p of doc.querySelectorAll(".alarm")) p.remove();
  doc.getElementById("news").after(...[...page.querySelectorAll(".alarm")].map((p) => doc.importNode(p, true)));
  doc.getElementById("sift-by")?.replaceWith(doc.importNode(page.getElementById("sift-by"), true));
}

// recopy brings the copies that open without a signal up to date, once it's quiet.
let copying;
function recopy(copy, page) {
  clearTimeout(copying);
  copying = setTimeout(async () => {
    if (!globalThis.caches || !(await caches.has("rindkeep-round"))) return;
    const kept = await caches.open("rindkeep-round");
    for (const key of new Set(["/", "/" + location.search])) {
      const res = await kept.match(key);
      const doc = res && new DOMParser().parseFromString(await res.text(), "text/html");
      const old = doc?.getElementById("list");
      if (old?.dataset.list !== here || doc.body.dataset.who !== document.body.dataset.who) continue;
      old.outerHTML = copy;
      top(doc, page);
      doc.body.dataset.rev = page.body.dataset.rev;
      await kept.put(key, new Response(`<!doctype html>\n${doc.documentElement.outerHTML}`, { headers: res.headers }));
    }
  }, 300);
}

function loggedOut() {
  queue.signal = "login";
  news("login", `${queue.who ? `${queue.who} is no longer` : "Nobody is"} logged in here. Your entries are saved on this phone. `, ["a", { href: "/login" }, "Log in"], " to send them.");
  foot();
}

function live() {
  if (line || document.hidden) return;
  line = new EventSource(`/live?${new URLSearchParams({ rev, list: here, phone: ledger.id })}`);
  line.onopen = () => { off = false; queue.flush(); foot(); };
  line.addEventListener("change", (ev) => {
    const now = String(JSON.parse(ev.data).rev);
    if (now !== rev) refresh();
  });
  line.onerror = () => {
    off = true;
    foot();
    if (line?.readyState === EventSource.CLOSED) { // it was refused: asked again later
      line = null;
      setTimeout(live, 15e3);
    }
  };
}
// A page out of sight holds no line open; back in sight it looks again.
document.addEventListener("visibilitychange", () => {
  if (!document.hidden) {
    live();
    if (Date.now() - askedLast > 60e3) refresh();
    return;
  }
  line?.close();
  line = null;
});
// The day turns, and work falls late, without a change of the book.
setInterval(() => { if (!document.hidden) refresh(); }, 10 * 60e3);

function tagList() {
  const box = document.getElementById("tags");
  if (!box) return;
  const all = new Set(day.cards().flatMap((c) => day.tags(c)));
  box.replaceChildren(...[...all].sort().map((t) => make(["option", { value: t }])));
}

// choose keeps the list on this phone: / shows it from now on.
function choose() {
  const q = new URLSearchParams(location.search), is = new URLSearchParams(here);
  const part = is.has("room") || is.has("at") || (is.get("share") ?? "").includes("/");
  if (is.has("job") || (!part && !q.has("rooms"))) return; // one job is looked at for a while
  document.cookie = `rindkeep-round=${part ? encodeURIComponent(here) : ""}; path=/; max-age=${part ? 31536000 : 0}; samesite=lax${location.protocol === "https:" ? "; secure" : ""}`;
}

// ---- begin --------------------------------------------------------------------------------

choose();
day.keep();
day.setAge(clock.ahead());

listen((what, e, err) => {
  switch (what) {
    case "entry":
    case "tab":
      day.index();
      if (e?.key && day.cardOf(e.key)) {
        const li = day.cardOf(e.key);
        day.paint(li);
        day.shelfHead(li.closest(".shelf"));
      } else day.paintAll();
      if (what === "entry" && e && !e.undone && e.state === "kept" && e.act !== "strike") say(e.label ?? e.act);
      break;
    case "answer":
      day.index();
      if (e.key && day.cardOf(e.key)) day.paint(day.cardOf(e.key));
      if (e.state === "aside") say(`refused: ${e.label}: ${e.said.error}`);
      if (together(e)) tellTogether(e);
      if (!line) refresh();
      break;
    case "signal":
      if (queue.signal === "login") loggedOut();
      else news("login");
      break;
    case "missing":
      missingNews(err);
      break;
    case "clock":
      clockNews();
      break;
    case "unkept":
      news("unkept", ["strong", "This phone couldn’t save an entry"], " (is its storage full?). Keep this page open until everything is sent.");
  }
  foot();
});

if (keeping === "page") news("keeping", ["strong", "This browser can’t save entries"], " (a private window?). Your entries are lost if you close this page before they’re sent.");
const made = Number(list.dataset.at);
if (clock.now() - made > 10 * 60e3) news("old", `List from ${timeOf(made)}, saved on this phone.`);

if (writes) {
  queue.alone(() => announce()).catch(() => {}); // no signal: it's told before anything is sent
  if (keeping !== "page") persists().then((kept) => { fill(el("keeps"), keepsWords(kept)); el("keeps").hidden = false; });
}
clockNews();
day.paintAll();
sift();
tagList();
foot();
el("any")?.addEventListener("click", () => weigh(null, find, todo));
live();
addEventListener("online", () => { if (!line) live(); });
(globalThis.requestIdleCallback ?? setTimeout)(async () => {
  if (!writes) return;
  await lookAhead(day.cards().filter((c) => c.dataset.kind === "weigh").flatMap(day.tags));
  if (!navigator.mediaDevices) return;
  try { (await import("./scan.js")).warm(); } catch { /* no signal: it is loaded when it is wanted */ }
});
