// The day's list on the page: which of its lines are done by what was entered
// here, and how a newer list comes in without moving what is under the thumb.

import { clock as phone, queue } from "./post.js";
import { clock, roll, wheels as some } from "./tags.js";

export const list = document.getElementById("list");
export const writes = document.body.dataset.role === "writer";

// at is when, by this phone's clock, the list on the page was asked for. What
// was in the book before that is in the list already.
let at = Date.now() - performance.now();

// A service worker may have given an older list: its own time says so.
export function age(now) {
  return now - Number(list.dataset.at);
}
export function setAge(offset) {
  const made = Number(list.dataset.at) - offset;
  if (at - made > 5000) at = made - 1500; // the offset is known to a second
}

const folded = new WeakMap(); // card -> when it last folded or opened
// justTurned says that a card changed under the thumb: a second tap of the same
// wet glove is not meant for the button that is there now.
export const justTurned = (li) => performance.now() - (folded.get(li) ?? -1e9) < 350;

const src = new WeakMap(); // card -> as the server sent it
let whole = new Map(); // place -> its shelf as the server sent it
const tagsOf = new WeakMap();

export const key = (li) => li.dataset.key;
export function tags(li) {
  let t = tagsOf.get(li);
  if (!t) tagsOf.set(li, t = JSON.parse(li.dataset.wheels));
  return t;
}
export const place = (li) => li.closest(".shelf")?.dataset.place ?? "";
export const cards = () => [...list.querySelectorAll(".card")];
export const cardOf = (k) => document.getElementById(`c${k}`);

const handled = new Set(["did", "skip", "weigh", "check", "coat", "move"]);

// entriesOf are the entries that bear on a card, by key.
let byKey = new Map();
export function index() {
  byKey = new Map();
  for (const e of queue.entries) {
    if (!e.key || !handled.has(e.act)) continue;
    if (!byKey.has(e.key)) byKey.set(e.key, []);
    byKey.get(e.key).push(e);
  }
}
export const entriesOf = (li) => byKey.get(key(li)) ?? [];
const counts = (e) => !e.undone && (e.state === "kept" || (e.state === "sent" && e.doneAt >= at));

// left are the wheels of a card that are still to be done.
export function left(li) {
  const es = entriesOf(li);
  if (li.dataset.gone) {
    // No more on the book's list. If all that was entered here is taken back,
    // it will be there again.
    return es.length && es.every((e) => e.undone) ? tags(li) : [];
  }
  const done = new Set();
  for (const e of es) if (counts(e)) for (const w of e.wheels) done.add(w);
  return done.size ? tags(li).filter((w) => !done.has(w)) : tags(li);
}

// later gives the entries of the round before, where a job that comes several
// times a day was just done here: its next round is for later today.
export function later(li) {
  if (!(Number(li.dataset.round) > 1)) return null;
  const p = place(li), mine = new Set(), es = [];
  for (const e of queue.entries) {
    if (e.job === li.dataset.job && e.place === p && e.key !== key(li) && !e.undone && e.state !== "aside" && phone.now() - Date.parse(e.at) < 3 * 3600e3) {
      for (const w of e.wheels) mine.add(w);
      es.push(e);
    }
  }
  return es.length && tags(li).every((w) => mine.has(w)) ? es : null;
}

const button = (act, text, cls) => `<button data-do="${act}"${cls ? ` class="${cls}"` : ""}>${text}</button>`;
const esc = (s) => s.replace(/[&<>"]/g, (c) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[c]);

// coats say what was written of a line's coats: "; 261119A-01 coated, 40 g of wax".
export function coats(es) {
  const said = es.filter((e) => e.doc?.coat_g != null).map((e) => `${roll(e.wheels)} coated, ${e.doc.coat_g.toFixed(0)} g of ${e.doc.coat}`);
  return said.length ? `; ${said.join(", ")}` : "";
}

// together says who recorded the round of an entry before, by the book's answer; "" if
// nobody did.
export function together(e) {
  const all = e.undone ? [] : e.doc?.same_round ?? [];
  return [...new Set(all.map((s) => `${s.by ? `by ${s.by} ` : ""}at ${clock(s.at)}`))].join(" and ");
}

// paint shows a card as it stands.
export function paint(li) {
  const all = tags(li), todo = left(li), { kind, past, job, to } = li.dataset;
  const isDone = todo.length === 0, before = isDone ? null : later(li), isLater = !!before;
  const es = entriesOf(li).filter((e) => !e.undone && e.state !== "aside");
  const shared = es.map(together).find(Boolean);
  const wax = coats(es) + (shared ? `; recorded already ${shared}` : "");
  const state = `${todo.length}/${isLater}/${es.length}/${li.dataset.gone ?? ""}`;
  if (li.dataset.state === state && (li.dataset.wax ?? "") === wax) return;
  if (li.dataset.state !== undefined && li.dataset.state !== state) folded.set(li, performance.now());
  li.dataset.state = state;
  li.dataset.wax = wax;
  li.classList.toggle("is-done", isDone || isLater);
  li.classList.toggle("is-later", isLater);
  const what = li.querySelector(".what");
  const name = what.querySelector("strong"), who = what.querySelector(".who");
  name.dataset.was ??= name.textContent;
  who.dataset.was ??= who.textContent;
  if (isDone) {
    const passed = es.length > 0 && es.every((e) => e.act === "skip");
    name.textContent = es.length === 0 ? job : passed ? `skipped: ${job}` : past;
    who.textContent = es.length === 0 ? "no longer on the list: done or changed elsewhere" : `${some(all.length)}, ${clock(es.at(-1).at)}${wax}`;
  } else if (isLater) {
    name.textContent = before.every((e) => e.act === "skip") ? `skipped: ${job}` : past;
    who.textContent = `${some(all.length)}, ${clock(before.at(-1).at)}; again later today`;
  } else {
    name.textContent = name.dataset.was;
    who.textContent = (todo.length < all.length ? `${todo.length} of ${all.length} left: ${roll(todo)}` : who.dataset.was) + wax;
  }
  if (!writes) return;
  let box = li.querySelector(".do");
  if (!box) {
    box = document.createElement("div");
    box.className = "do act";
    li.append(box);
  }
  const n = todo.length, all_ = n > 1 ? `, all ${n}` : "";
  if (isDone) box.innerHTML = es.length === 1 ? button("undo", "Undo") : es.length ? button("see", "see") : "";
  else if (isLater) box.innerHTML = button("before", "Undo") + button("all", "again");
  else {
    const main = {
      did: () => esc(past) + all_, weigh: () => "weigh", check: () => (n > 1 ? `all ${n} sound` : "sound"),
      coat: () => `coat`, move: () => (to ? `moved to ${esc(to)}` : "move"),
    }[kind]();
    box.innerHTML = button("all", main, "primary") + button("other", kind === "check" ? "something found" : n > 1 ? "Not all? Skip or add a note" : "Skip or add a note", "other");
  }
  for (const b of box.children) b.setAttribute("aria-label", `${b.textContent}: ${name.textContent} ${roll(isDone ? all : todo)}`);
}

// shelfHead gives a shelf with several plain jobs open one button for all of
// them.
export function shelfHead(shelf) {
  if (!writes || !shelf) return;
  const open = [...shelf.querySelectorAll(".card")].filter(plain);
  const words = [...new Set(open.map((li) => li.dataset.past))];
  let b = shelf.querySelector("[data-do=shelf]");
  if (open.length < 2) { b?.remove(); return; }
  if (!b) {
    b = document.createElement("button");
    b.dataset.do = "shelf";
    b.className = "act";
    let head = shelf.querySelector(".shelf-head");
    if (!head) {
      head = document.createElement("div");
      head.className = "shelf-head glove";
      const h = shelf.querySelector("h3");
      if (h) { h.replaceWith(head); head.append(h); } else shelf.prepend(head);
    }
    head.append(b);
  }
  const text = `Everything ${words.join(", ")}`;
  if (b.textContent !== text) b.textContent = text;
}
export const plain = (li) => (li.dataset.kind === "did" || (li.dataset.kind === "move" && li.dataset.to)) && !li.classList.contains("is-done");

// paintAll shows every card as it stands.
export function paintAll() {
  index();
  for (const li of cards()) paint(li);
  cover();
  for (const s of list.querySelectorAll(".shelf")) shelfHead(s);
}

// cover leaves out what the line of the next round says too.
function cover() {
  const said = new Set();
  for (const li of list.querySelectorAll(".is-later")) for (const e of later(li) ?? []) said.add(e.key);
  for (const li of list.querySelectorAll(".card")) li.classList.toggle("is-covered", said.has(key(li)) && !!li.dataset.gone && left(li).length === 0);
}

// keep remembers how the server sent each card and shelf; call before the first paint.
export function keep(root = list) {
  whole = new Map([...root.querySelectorAll(".shelf")].map((s) => [s.dataset.place, s.outerHTML]));
  for (const li of root.querySelectorAll(".card")) src.set(li, li.outerHTML);
}

// complete puts the shelves that didn't change into a newer list, which has only their
// names; false if one isn't at hand.
export function complete(fresh) {
  for (const s of [...fresh.querySelectorAll(".shelf[data-same]")]) {
    const html = whole.get(s.dataset.place);
    if (html === undefined) return false;
    s.outerHTML = html;
  }
  return true;
}

// take puts a newer list in the place of the one on the page. Lines that stayed
// as they were keep their very elements, and so focus and place; what is no
// more on the list stays where it was, folded.
export function take(fresh, askedAt) {
  at = askedAt;
  const sameDay = fresh.dataset.date === list.dataset.date;
  const had = cards();
  const hadKey = new Map(had.map((li) => [key(li), li]));
  const hadShelf = new Map([...list.querySelectorAll(".shelf")].map((s) => [s.dataset.place, s]));
  const before = had.map((li) => ({ li, place: place(li), room: li.closest(".room").dataset.room }));
  const focus = document.activeElement?.closest?.(".card") && { key: key(document.activeElement.closest(".card")), act: document.activeElement.dataset.do };
  const seen = had.find((li) => li.getBoundingClientRect().bottom > 0);
  const top = seen?.getBoundingClientRect().top;

  keep(fresh);
  const now = new Map();
  for (const li of fresh.querySelectorAll(".card")) {
    const old = hadKey.get(key(li));
    if (old && src.get(old) === src.get(li)) {
      delete old.dataset.gone;
      li.replaceWith(old);
      now.set(key(old), old);
    } else {
      now.set(key(li), li);
    }
  }
  // A shelf's own element knows its height while it is off the screen.
  for (const s of [...fresh.querySelectorAll(".shelf")]) {
    const old = hadShelf.get(s.dataset.place);
    if (!old) continue;
    old.querySelector("ul").replaceChildren(...s.querySelector("ul").children);
    s.replaceWith(old);
  }
  if (sameDay) {
    let prev = null;
    index();
    for (const { li, place, room } of before) {
      if (!now.has(key(li)) && !entriesOf(li).length && moved(li, now)) continue;
      if (!now.has(key(li))) {
        li.dataset.gone = "yes";
        const ul = shelfIn(fresh, hadShelf.get(place), place, room, prev).querySelector("ul");
        if (prev?.parentElement === ul) prev.after(li);
        else ul.prepend(li);
      }
      prev = now.get(key(li)) ?? li;
    }
  }
  list.replaceChildren(...fresh.children);
  Object.assign(list.dataset, { at: fresh.dataset.at, date: fresh.dataset.date, have: fresh.dataset.have });
  paintAll();
  if (seen?.isConnected) scrollBy({ top: seen.getBoundingClientRect().top - top, behavior: "instant" });
  if (focus && !document.activeElement?.closest?.(".card")) {
    const li = cardOf(focus.key);
    (li?.querySelector(`[data-do="${focus.act}"]`) ?? li?.querySelector("button"))?.focus({ preventScroll: true });
  }
}

// moved says whether a line's wheels are all on other lines for the same job: it
// was split or joined, as a coat's date came nearer, and is not gone.
function moved(li, now) {
  const there = new Set();
  for (const c of now.values()) if (c.dataset.job === li.dataset.job) for (const t of tags(c)) there.add(t);
  return tags(li).every((t) => there.has(t));
}

// tally counts the lines done and all lines: those on the page, and those
// entered here that the book no longer lists.
export function tally() {
  const shown = cards().filter((c) => !c.classList.contains("is-covered"));
  const known = new Set(cards().map(key));
  for (const li of shown) if (li.classList.contains("is-later")) for (const e of later(li) ?? []) known.add(e.key);
  const off = new Set();
  const midnight = new Date(phone.now()).setHours(0, 0, 0, 0);
  for (const [k, es] of byKey) if (!known.has(k) && es.some((e) => !e.undone && e.state !== "aside" && Date.parse(e.at) >= midnight)) off.add(k);
  const done = shown.filter((c) => c.classList.contains("is-done")).length;
  return { done: done + off.size, all: shown.length + off.size };
}

// shelfIn finds a shelf in a new list, or puts the old one back behind the line
// that came before it.
function shelfIn(fresh, old, place, room, prev) {
  const there = [...fresh.querySelectorAll(".shelf")].find((s) => s.dataset.place === place);
  if (there) return there;
  old.querySelector("ul").replaceChildren();
  let r = [...fresh.querySelectorAll(".room")].find((x) => x.dataset.room === room);
  if (!r) {
    r = [...list.querySelectorAll(".room")].find((x) => x.dataset.room === room).cloneNode(false);
    const h = document.createElement("h2");
    h.textContent = room || "no place given";
    r.append(h);
    const after = prev?.closest(".room");
    if (after && fresh.contains(after)) after.after(r);
    else fresh.prepend(r);
    for (const p of fresh.querySelectorAll(":scope > .notice")) p.remove();
  }
  const after = prev?.closest(".shelf");
  if (after?.parentElement === r) after.after(old);
  else r.querySelector("h2").after(old);
  return old;
}
