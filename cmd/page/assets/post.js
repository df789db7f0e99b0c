// The one queue of this page, on the browser's database and the network.

import { Ledger } from "./ledger.js";
import { Clock, DiskStore, MemoryStore, Queue, uuid7 } from "./queue.js";

const heard = new Set();
// listen gets all that the queue has to tell.
export function listen(fn) { heard.add(fn); }
function changed(what, entry, err) {
  for (const fn of heard) fn(what, entry, err);
}

const local = {
  get(k) { try { return localStorage.getItem(k); } catch { return null; } },
  set(k, v) { try { localStorage.setItem(k, v); } catch { /* it works without */ } },
};

export const clock = new Clock({
  get: () => Number(local.get("rindkeep.offset")) || 0,
  set(ms) { local.set("rindkeep.offset", String(ms)); changed("clock"); },
});

// The page says when the server made it, and the browser when it came: so the clock
// is known before the first tap. One that was kept for a reload says nothing.
const came = performance.getEntriesByType("navigation")[0];
if (came?.responseStart > 0) {
  clock.hear(Number(document.body.dataset.now), clock.base + came.fetchStart, clock.base + came.responseStart);
}

// ask is fetch with an end to its patience, teaching the clock.
export async function ask(url, init = {}, ms = 20e3) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), ms);
  const t0 = clock.steady();
  try {
    const res = await fetch(url, { credentials: "same-origin", ...init, signal: stop.signal });
    clock.learn(res.headers.get("Date"), t0, clock.steady());
    const body = await res.text();
    return { res, body };
  } finally {
    clearTimeout(timer);
  }
}

async function post(act, body) {
  const { res, body: text } = await ask(`/api/${act}`, {
    method: "POST", headers: { "Content-Type": "application/json", Accept: "application/json" }, body: JSON.stringify(body), redirect: "manual",
  }, body.photo ? 60e3 : 20e3);
  if (res.type === "opaqueredirect") return { status: 401 };
  let doc = null;
  if ((res.headers.get("Content-Type") ?? "").startsWith("application/json")) {
    try { doc = JSON.parse(text); } catch { /* cut off, or not ours */ }
  }
  const retry = Number(res.headers.get("Retry-After"));
  if (res.ok) return { status: 200, doc: String(doc?.schema ?? "").startsWith("rindkeep/") ? doc : null };
  return { status: res.status, said: doc?.error ? doc : null, retryAfter: retry > 0 ? Math.min(retry, 120) : null };
}

// keeping says what becomes of entries here: "disk", or "page" where the
// browser keeps nothing.
export let keeping = "disk";

// jots are entries on their way into the database. Those of this tab, which was
// just closed or reloaded, are taken up at once; another tab may still be
// writing its own.
function jots() {
  const mark = "rindkeep.jot.";
  let tab = "";
  try {
    tab = sessionStorage.getItem("rindkeep.tab") ?? uuid7();
    sessionStorage.setItem("rindkeep.tab", tab);
  } catch { return null; }
  return {
    put(e) { local.set(mark + e.id, JSON.stringify({ tab, e })); },
    drop(id) { try { localStorage.removeItem(mark + id); } catch { /* the next start finds it in the database */ } },
    all() {
      const out = [];
      try {
        for (const k of Object.keys(localStorage).filter((k) => k.startsWith(mark)).sort()) {
          const j = JSON.parse(localStorage.getItem(k));
          if (j.tab === tab || Date.now() - Date.parse(j.e.at) > 60e3) out.push(j.e);
        }
      } catch { /* what cannot be read is left */ }
      return out;
    },
  };
}

async function store() {
  try {
    return await DiskStore.open(globalThis.indexedDB, jots());
  } catch {
    keeping = "page";
    return new MemoryStore();
  }
}

// persists asks the browser to keep what is stored here, and gives its answer; null
// where it can't be asked.
export async function persists() {
  try {
    return (await navigator.storage.persisted()) || (await navigator.storage.persist());
  } catch { return null; }
}

// A cookie belongs to all ports of a host.
const cookie = `rindkeep-phone-${location.port || "0"}`;
const writes = document.body.dataset.role === "writer";
const disk = await store();
export const ledger = new Ledger({
  keep: { get: () => local.get("rindkeep.phone"), set: (x) => local.set("rindkeep.phone", x) },
  lost: { get: () => local.get("rindkeep.lost"), set: (x) => local.set("rindkeep.lost", x) },
  cookie: {
    get: () => document.cookie.split("; ").find((c) => c.startsWith(`${cookie}=`))?.slice(cookie.length + 1),
    set(x) { document.cookie = `${cookie}=${x}; path=/; max-age=31536000; samesite=strict${location.protocol === "https:" ? "; secure" : ""}`; },
  },
  uuid: uuid7, emptied: disk.fresh,
});

// announce tells the server which entries are on this phone; it answers what is missing.
export async function announce(more = {}) {
  const said = ledger.says(queue.entries);
  const { res, body } = await ask("/phone", {
    method: "POST", headers: { "Content-Type": "application/json", Accept: "application/json" }, body: JSON.stringify({ ...said, ...more }), redirect: "manual",
  }, queue.unsettled() ? 9e3 : 3e3); // without the server's time, what waits may get a wrong one
  if (!res.ok) return; // logged out, or busy: it's told another time
  const doc = JSON.parse(body);
  ledger.heard(said, queue.entries);
  changed("missing", null, doc.missing);
}

async function before() {
  if (!writes || !(ledger.needs(queue.entries) || queue.unsettled())) return;
  await announce().catch(() => {}); // the entries themselves matter more
}

export const queue = new Queue({
  store: disk, post, clock, changed, ledger, before,
  who: document.body.dataset.who ?? "",
  later: (fn, ms) => setTimeout(fn, ms), cancel: (t) => clearTimeout(t),
  alone: navigator.locks ? (fn) => navigator.locks.request("rindkeep-send", fn) : (fn) => fn(),
});

// What was entered before is known before anything is shown or can be tapped. On
// the log-in page nobody is anybody yet.
if (document.body.dataset.here !== "login") {
  try {
    await queue.open();
    // What can't be read isn't noted as gone.
    listen(() => ledger.note(queue.entries));
    ledger.note(queue.entries);
  } catch { /* entries of this page are sent nevertheless */ }
}

// Two pages of one browser share the store; each tells the other to look again.
if ("BroadcastChannel" in globalThis) {
  const tabs = new BroadcastChannel("rindkeep");
  let timer;
  tabs.onmessage = async () => {
    await queue.sync().catch(() => {});
    changed("tab");
  };
  listen((what) => {
    if (what !== "answer" && what !== "entry") return;
    clearTimeout(timer);
    timer = setTimeout(() => tabs.postMessage(1), 150);
  });
}
