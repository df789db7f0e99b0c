// The service worker: with it the round opens without a signal, also after a
// reload or when the phone was off. version and files are written above this by
// the server.
//
// It keeps the round's lists that were opened and the files they load, and nothing else:
// what is written goes through the queue of the page itself, and never through here.

const shelf = `rindkeep-${version}`; // files of this binary
const pages = "rindkeep-round"; // the round's lists as last seen
const most = 20; // lists
let out = 0; // how often somebody logged out: an answer asked for before then is not kept
const patience = 3000; // ms, then the round as last seen will do

self.addEventListener("install", (ev) => {
  ev.waitUntil((async () => {
    const c = await caches.open(shelf);
    await c.addAll(files);
    // The page that brought us was loaded without us: keep its list too, and the one that
    // this phone opens with last, as that stays under / then.
    const asked = out;
    const open = (await self.clients.matchAll({ includeUncontrolled: true })).map((c) => new URL(c.url));
    const lists = open.filter((u) => u.pathname === "/" && u.search).map((u) => u.search);
    for (const search of new Set([...lists, ""])) await fetch("/" + search).then((res) => keep(res, asked, search)).catch(() => {});
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", (ev) => {
  ev.waitUntil((async () => {
    // The files of the binary before stay while its page may still be open, and
    // may be the one that was kept; older ones go.
    const old = (await caches.keys()).filter((n) => n.startsWith("rindkeep-") && n !== pages && n !== shelf);
    for (const n of old.slice(0, -1)) await caches.delete(n);
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (ev) => {
  const q = ev.request;
  const at = new URL(q.url);
  if (at.origin !== self.location.origin) return;
  if (q.method === "POST" && at.pathname === "/logout") {
    out++;
    ev.waitUntil(caches.delete(pages)); // who is not logged in does not see the round
    return;
  }
  if (q.method !== "GET") return;
  if (at.pathname.startsWith("/a/")) {
    ev.respondWith(file(q));
  } else if (at.pathname === "/" && q.mode === "navigate") {
    ev.respondWith(round(q, ev));
  } else if (q.mode === "navigate") {
    ev.respondWith(fetch(q).catch(() => without()));
  }
});

async function file(q) {
  const kept = await caches.match(q);
  if (kept) return kept;
  const res = await fetch(q);
  if (res.ok) (await caches.open(shelf)).put(q, res.clone());
  return res;
}

// keysOf are the addresses that open a list from now on: its own, and / where it's what
// was chosen on this phone. A list that somebody just looks at isn't kept.
function keysOf(search) {
  const q = new URLSearchParams(search);
  const chosen = search === "" || q.has("rooms") || q.has("room") || q.has("at") || (q.get("share") ?? "").includes("/");
  return chosen && !q.has("job") ? new Set(["/" + search, "/"]) : [];
}

// keep keeps a list as the book gave it, but for the time it was given, from which a page
// learns how its phone's clock is off; a log-in page is none.
async function keep(res, asked, search) {
  const html = (res.headers.get("Content-Type") ?? "").startsWith("text/html");
  if (!res.ok || res.redirected || res.type !== "basic" || !html) return;
  const old = (await res.text()).replace(/ data-now="\d+"/, "");
  const kept = await caches.open(pages);
  for (const key of keysOf(search)) await kept.put(key, new Response(old, { headers: res.headers }));
  for (const q of (await kept.keys()).slice(0, -most)) await kept.delete(q);
  if (asked !== out) await caches.delete(pages);
}

// round asks the book for a list, and takes it as last seen where no answer comes soon.
async function round(q, ev) {
  const before = out, { search } = new URL(q.url);
  const asked = fetch(q).then((res) => {
    ev.waitUntil(keep(res.clone(), before, search));
    return res;
  });
  asked.catch(() => {}); // may come to nothing after we stopped waiting
  const kept = await (await caches.open(pages)).match("/" + search);
  if (!kept) return asked.catch(() => without("This list is not kept on this phone: open it once with a signal, logged in."));
  const slow = new Promise((yes) => setTimeout(() => yes(kept.clone()), patience));
  return Promise.race([asked.catch(() => kept.clone()), slow]);
}

// without is the page shown where neither the book nor a copy is at hand.
function without(why = "This part of the book needs it. The round goes on without.") {
  const css = files.find((f) => f.endsWith("/page.css"));
  return new Response(`<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>no signal · rindkeep</title><link rel="stylesheet" href="${css}"><main><h1>No signal</h1>
<p>${why}</p><p><a class="button" href="/">to the round</a></p></main></html>`,
  { status: 503, headers: { "Content-Type": "text/html; charset=utf-8" } });
}
