// The queue of the phone, tried in node: a fake book that can go away, refuse,
// lose its answers, and be busy. queue_test.go lays it beside queue.mjs.
import { test } from "node:test";
import assert from "node:assert/strict";
import { Clock, MemoryStore, Queue, after, uuid7 } from "./queue.mjs";
import { lasting, roll } from "./tags.mjs";

// Book is the other end: it does each id once.
class Book {
  constructor() { this.done = []; this.ids = new Set(); this.struck = new Set(); this.signal = true; this.say = null; this.loses = 0; this.hears = []; }
  async post(act, body) {
    this.hears.push(`${act} ${body.job ?? body.wheel ?? body.entry ?? ""}`.trim());
    if (!this.signal) throw new TypeError("no signal");
    const said = this.say?.(act, body);
    if (said) return said;
    if (act === "strike" && !this.ids.has(body.entry)) return { status: 404, said: { error: "no entry" } };
    if (!this.ids.has(body.id)) {
      this.ids.add(body.id);
      if (act === "strike") this.struck.add(body.entry);
      this.done.push({ act, ...body });
    }
    if (this.loses-- > 0) throw new TypeError("the answer was lost");
    return { status: 200, doc: { schema: "rindkeep/did/1" } };
  }
  jobs() { return this.done.filter((d) => !this.struck.has(d.id) && d.act !== "strike").map((d) => d.job); }
}

// phone is a queue with a clock that is set and timers that are let off by hand.
function phone(book, { store = new MemoryStore(), who = "", run = "r1", now = { ms: Date.parse("2026-11-25T08:00:00Z") } } = {}) {
  const timers = [], told = [];
  const q = new Queue({
    store, who, clock: new Clock(null, () => now.ms + (now.set ?? 0), () => now.ms, run), post: (a, b) => book.post(a, b),
    later: (fn, ms) => { timers.push({ fn, ms }); return timers.at(-1); },
    cancel: (t) => { if (timers.includes(t)) timers.splice(timers.indexOf(t), 1); },
    changed: (what, e) => told.push(what + (e ? ` ${e.act}` : "")),
  });
  return { q, store, timers, told, now, async settled() { for (let i = 0; i < 200; i++) await new Promise((y) => setImmediate(y)); },
    async ring() { const t = timers.shift(); assert.ok(t, "no timer is set"); await t.fn(); await this.settled(); } };
}
const turn = (q, job = "turn", about = {}) => q.add("did", { job, wheels: ["A-01"] }, { wheels: ["A-01"], key: "k", label: job, ...about });
const states = (q) => q.entries.map((e) => `${e.body.job ?? e.act} ${e.state}${e.undone ? " undone" : ""}`);

test("an entry is there at once, kept, sent and known to be in the book", async () => {
  const book = new Book(), p = phone(book);
  const e = turn(p.q);
  assert.deepEqual(states(p.q), ["turn kept"]);
  await p.settled();
  assert.deepEqual(states(p.q), ["turn sent"]);
  assert.equal(book.done[0].id, e.id);
  assert.equal(book.done[0].at, "2026-11-25T08:00:00.000Z");
  assert.equal("by" in book.done[0], false);
});

test("without a signal entries stay, in order, and go once each when it is back", async () => {
  const book = new Book(), p = phone(book);
  book.signal = false;
  for (const j of ["turn", "wash", "brush"]) turn(p.q, j);
  await p.settled();
  assert.deepEqual(states(p.q), ["turn kept", "wash kept", "brush kept"]);
  assert.equal(p.q.signal, "no");
  book.signal = true;
  await p.ring();
  assert.deepEqual(book.jobs(), ["turn", "wash", "brush"]);
  assert.deepEqual(states(p.q), ["turn sent", "wash sent", "brush sent"]);
});

test("a lost answer is asked for again, and the work is in the book once", async () => {
  const book = new Book(), p = phone(book);
  book.loses = 2;
  turn(p.q);
  await p.settled();
  await p.ring();
  await p.ring();
  assert.deepEqual(book.jobs(), ["turn"]);
  assert.deepEqual(book.hears, ["did turn", "did turn", "did turn"]);
  assert.deepEqual(states(p.q), ["turn sent"]);
});

test("waits grow while there is no signal, to a minute at most", async () => {
  const book = new Book(), p = phone(book);
  book.signal = false;
  turn(p.q);
  await p.settled();
  const waits = [];
  for (let i = 0; i < 7; i++) { waits.push(p.timers[0].ms); await p.ring(); }
  assert.deepEqual(waits, [2000, 4000, 8000, 16000, 32000, 60000, 60000]);
});

test("a busy book is asked again when it said so", async () => {
  const book = new Book(), p = phone(book);
  book.say = () => ({ status: 503, retryAfter: 7 });
  turn(p.q);
  await p.settled();
  assert.equal(p.q.signal, "busy");
  assert.equal(p.timers[0].ms, 7000);
  book.say = null;
  await p.ring();
  assert.deepEqual(book.jobs(), ["turn"]);
});

test("a reload keeps what was not sent, and what was", async () => {
  const book = new Book(), p = phone(book);
  turn(p.q, "wash");
  await p.settled();
  book.signal = false;
  turn(p.q);
  await p.settled();
  const r = phone(book, { store: p.store });
  await r.q.open();
  assert.deepEqual(states(r.q), ["wash sent", "turn kept"]);
  book.signal = true;
  await r.q.flush();
  assert.deepEqual(book.jobs(), ["wash", "turn"]);
});

test("a refusal is put aside with its sentence, and what comes after it goes on", async () => {
  const book = new Book(), p = phone(book);
  book.say = (act, b) => (b.job === "wash" ? { status: 404, said: { error: 'no wheel tagged "A-01"', where: "A-01" } } : null);
  for (const j of ["turn", "wash", "brush"]) turn(p.q, j);
  await p.settled();
  assert.deepEqual(states(p.q), ["turn sent", "wash aside", "brush sent"]);
  assert.equal(p.q.aside()[0].said.error, 'no wheel tagged "A-01"');
  assert.deepEqual(book.jobs(), ["turn", "brush"]);
});

test("what was put aside stays over a reload and is not sent by itself", async () => {
  const book = new Book(), p = phone(book);
  book.say = () => ({ status: 422, said: { error: "no" } });
  turn(p.q);
  await p.settled();
  const r = phone(book, { store: p.store });
  await r.q.open();
  await r.q.flush();
  assert.deepEqual(states(r.q), ["turn aside"]);
  assert.equal(book.hears.length, 1);
});

test("a doubtful weight goes again as it is right, at its own time", async () => {
  const book = new Book(), p = phone(book);
  book.say = (act, b) => (b.sure ? null : { status: 422, said: { error: "looks wrong", sure: true } });
  const e = p.q.add("weigh", { wheel: "A-01", weight: "1055g" }, { wheels: ["A-01"] });
  await p.settled();
  assert.equal(e.state, "aside");
  p.now.ms += 60e3;
  await p.q.again(e, { body: { sure: true } });
  await p.settled();
  assert.deepEqual(p.q.entries.map((x) => x.state), ["sent"]);
  assert.equal(book.done[0].at, "2026-11-25T08:00:00.000Z");
  assert.notEqual(book.done[0].id, e.id);
});

test("undo of what was never sent takes it out, and the book never hears of it", async () => {
  const book = new Book(), p = phone(book);
  book.signal = false;
  turn(p.q, "wash");
  await p.settled();
  p.q.sending = true; // somebody else is at it: the next is not tried
  const e = turn(p.q);
  await p.settled();
  await p.q.undo(e);
  p.q.sending = false;
  book.signal = true;
  await p.q.flush();
  assert.deepEqual(states(p.q), ["wash sent"]);
  assert.deepEqual(book.hears.filter((h) => h === "did turn"), []);
});

test("undo of what is in the book sends a strike behind it", async () => {
  const book = new Book(), p = phone(book);
  const e = turn(p.q);
  await p.settled();
  await p.q.undo(e);
  await p.settled();
  assert.deepEqual(states(p.q), ["turn sent undone", "strike sent"]);
  assert.deepEqual(book.jobs(), []);
  assert.equal(book.done[1].entry, e.id);
});

test("undo of what was sent with its answer lost: the entry first, then the strike", async () => {
  const book = new Book(), p = phone(book);
  book.loses = 1;
  const e = turn(p.q);
  await p.settled();
  book.signal = false;
  await p.q.undo(e);
  await p.settled();
  book.signal = true;
  await p.q.flush();
  await p.settled();
  assert.deepEqual(states(p.q), ["turn sent undone", "strike sent"]);
  assert.deepEqual(book.jobs(), []);
});

test("undo while it is refused leaves nothing behind", async () => {
  const book = new Book(), p = phone(book);
  book.loses = 1; // tried
  const e = turn(p.q);
  await p.settled();
  book.ids.clear(); book.done = []; // but it never came there
  book.say = (act) => (act === "did" ? { status: 422, said: { error: "no" } } : null);
  await p.q.undo(e);
  await p.settled();
  await p.q.flush();
  await p.settled();
  assert.deepEqual(states(p.q), ["strike sent"]);
});

test("undo is done once however often it is tapped", async () => {
  const book = new Book(), p = phone(book);
  const e = turn(p.q);
  await p.settled();
  await Promise.all([p.q.undo(e), p.q.undo(e), p.q.undo(e)]);
  await p.settled();
  assert.equal(book.hears.filter((h) => h.startsWith("strike")).length, 1);
});

test("logged out: all is kept, nothing lost, and sent after logging in", async () => {
  const book = new Book(), p = phone(book, { who: "Orla" });
  book.say = () => ({ status: 401 });
  turn(p.q);
  await p.settled();
  assert.equal(p.q.signal, "login");
  assert.deepEqual(states(p.q), ["turn kept"]);
  assert.deepEqual(p.timers, []);
  book.say = null;
  const r = phone(book, { store: p.store, who: "Orla" });
  await r.q.open();
  await r.q.flush();
  assert.deepEqual(book.jobs(), ["turn"]);
});

test("entries of one person are not sent under another's name", async () => {
  const book = new Book(), p = phone(book, { who: "Bram" });
  book.signal = false;
  turn(p.q);
  await p.settled();
  book.signal = true;
  const r = phone(book, { store: p.store, who: "Orla" });
  await r.q.open();
  await r.q.flush();
  assert.deepEqual(book.done, []);
  assert.equal(r.q.others().length, 1);
  const back = phone(book, { store: p.store, who: "Bram" });
  await back.q.open();
  await back.q.flush();
  assert.deepEqual(book.jobs(), ["turn"]);
});

test("another logged in under an open page: nothing goes in under their name", async () => {
  const book = new Book(), p = phone(book, { who: "Bram" });
  let inside = "Orla";
  book.say = (act, body) => (body.by === inside ? null : { status: 401, said: { error: `${inside} is logged in here, and not ${body.by}`, where: "by" } });
  turn(p.q);
  await p.settled();
  assert.deepEqual([book.done.length, p.q.signal, p.q.waiting().length], [0, "login", 1]);
  inside = "Bram";
  await p.q.flush();
  assert.deepEqual([book.jobs(), book.done[0].by], [["turn"], "Bram"]);
});

test("where nobody logs in, an entry still says whose it was", async () => {
  const book = new Book(), p = phone(book, { who: "Bram" });
  book.signal = false;
  turn(p.q);
  await p.settled();
  book.signal = true;
  const r = phone(book, { store: p.store });
  await r.q.open();
  await r.q.flush();
  assert.equal(book.done[0].by, "Bram");
});

test("two tabs send each entry once and see each other's", async () => {
  const book = new Book(), a = phone(book), b = phone(book, { store: a.store });
  book.signal = false;
  turn(a.q);
  turn(b.q, "wash");
  await a.settled();
  book.signal = true;
  await Promise.all([a.q.flush(), b.q.flush()]);
  await a.settled();
  await a.q.sync();
  await b.q.sync();
  assert.deepEqual(book.jobs().sort(), ["turn", "wash"]);
  assert.deepEqual(states(a.q), ["turn sent", "wash sent"]);
  assert.deepEqual(states(b.q), ["turn sent", "wash sent"]);
});

test("what another tab took back is not sent by this one", async () => {
  const book = new Book(), a = phone(book), b = phone(book, { store: a.store });
  a.q.sending = b.q.sending = true;
  const e = turn(a.q);
  await a.settled();
  await b.q.open();
  await a.q.undo(e);
  b.q.sending = false;
  await b.q.flush();
  assert.deepEqual(book.hears, []);
});

test("a store that takes nothing: said at once, and sent all the same", async () => {
  const book = new Book(), store = new MemoryStore();
  store.put = async () => { throw new Error("QuotaExceededError"); };
  const p = phone(book, { store });
  turn(p.q);
  await p.settled();
  assert.ok(p.told.includes("unkept did"), p.told.join(", "));
  assert.deepEqual(book.jobs(), ["turn"]);
});

test("a store that stops taking anything after the first: no sending without end", async () => {
  const book = new Book(), store = new MemoryStore(), p = phone(book, { store });
  p.q.sending = true;
  turn(p.q);
  await p.settled();
  p.q.sending = false;
  store.put = async () => { throw new Error("QuotaExceededError"); };
  await p.q.flush();
  assert.deepEqual(book.hears, ["did turn"]);
});

test("an answer that is not the book's own counts as no signal", async () => {
  const book = new Book(), p = phone(book);
  book.say = () => ({ status: 200, doc: null }); // the log-in page of some network
  turn(p.q);
  await p.settled();
  assert.equal(p.q.signal, "no");
  assert.deepEqual(states(p.q), ["turn kept"]);
});

test("a fault of the server is asked about a few times, then put aside", async () => {
  const book = new Book(), p = phone(book);
  book.say = (act, b) => (b.job === "turn" ? { status: 500, said: { error: "a fault" } } : null);
  turn(p.q);
  turn(p.q, "wash");
  await p.settled();
  for (let i = 0; i < 4; i++) await p.ring();
  assert.deepEqual(states(p.q), ["turn aside", "wash sent"]);
});

test("a picture is let go of once the book has it", async () => {
  const book = new Book(), p = phone(book);
  const e = p.q.add("note", { wheel: "A-01", text: "domed", photo: "AAAA" });
  await p.settled();
  assert.equal(book.done[0].photo, "AAAA");
  assert.equal(e.body.photo, undefined);
  assert.equal((await p.store.all())[0].body.photo, undefined);
});

test("what was sent long ago is let go of; what was not, never", async () => {
  const book = new Book(), p = phone(book);
  turn(p.q, "wash");
  await p.settled();
  book.signal = false;
  turn(p.q);
  await p.settled();
  const r = phone(book, { store: p.store, now: { ms: p.now.ms + 48 * 3600e3 } });
  await r.q.open();
  assert.deepEqual(states(r.q), ["turn kept"]);
});

// hears is what the server's time was to the phone, ms ahead of the steady clock.
const hears = (p, ms = 0) => p.q.clock.hear(p.now.ms + ms, p.now.ms, p.now.ms);
const sentAs = (book) => book.done.map((d) => [d.at.slice(11, 16), d.clock?.slice(11, 16), d.unsure]);
const min = 60e3, h = 3600e3;

test("a clock that ran ahead: entries of this page are put right by what is heard", async () => {
  const book = new Book(), p = phone(book);
  book.signal = false;
  turn(p.q);
  await p.settled();
  hears(p, -h); // the server says: an hour earlier
  book.signal = true;
  await p.q.flush();
  assert.deepEqual(sentAs(book), [["07:00", "08:00", undefined]]);
});

for (const [name, heard] of [["known before", true], ["not known before", false]]) {
  test(`the clock is set back two hours between two entries, the server's time ${name}`, async () => {
    const book = new Book(), p = phone(book);
    if (heard) hears(p);
    book.signal = false;
    turn(p.q);
    p.now.ms += 10 * min;
    p.now.set = -2 * h;
    turn(p.q, "wash");
    assert.equal(p.q.clock.off(), 2 * h);
    p.now.ms += 10 * min;
    await p.settled();
    if (!heard) hears(p);
    book.signal = true;
    await p.q.flush();
    assert.deepEqual(sentAs(book), [["08:00", undefined, undefined], ["08:10", "06:10", undefined]]);
  });
}

test("the clock is set forwards, or the phone slept: the next answer tells which", async () => {
  for (const [slept, want] of [[true, [["08:00", undefined, undefined], ["11:00", undefined, undefined]]], [false, [["08:00", undefined, undefined], ["08:00", "11:00", undefined]]]]) {
    const book = new Book(), p = phone(book);
    hears(p);
    book.signal = false;
    turn(p.q);
    p.now.set = 3 * h; // the steady clock of some browsers stops in sleep
    turn(p.q, "wash");
    await p.settled();
    const steady = p.q.clock.steady();
    p.q.clock.hear(p.now.ms + (slept ? 3 * h : 0), steady, steady);
    book.signal = true;
    await p.q.flush();
    assert.deepEqual(sentAs(book), want, `slept: ${slept}`);
  }
});

test("an entry of a page closed since: its time is sure if the clock is as far off as then", async () => {
  for (const [set, want] of [[0, ["08:00", undefined, undefined]], [-2 * h, ["08:00", "08:00", true]], [2 * h, ["08:00", "08:00", true]]]) {
    const book = new Book(), p = phone(book);
    book.signal = false;
    turn(p.q);
    await p.settled();
    const r = phone(book, { store: p.store, run: "r2", now: { ms: p.now.ms + 3 * h + set } });
    await r.q.open();
    assert.equal(r.q.unsettled(), true);
    hears(r, -set);
    assert.equal(r.q.unsettled(), false);
    book.signal = true;
    await r.q.flush();
    assert.deepEqual(sentAs(book), [want], `set by ${set}`);
    assert.equal(!!r.q.entries[0].stamp.unsure, !!set);
  }
});

test("what was put right stays so over a reload", async () => {
  const book = new Book(), p = phone(book);
  book.say = () => ({ status: 401 });
  turn(p.q);
  await p.settled();
  p.now.set = -2 * h;
  p.now.ms += 10 * min;
  hears(p, -5 * min);
  await p.settled();
  const r = phone(book, { store: p.store, run: "r2", now: { ms: p.now.ms - 2 * h } });
  await r.q.open();
  book.say = null;
  hears(r, 2 * h - 5 * min);
  await r.q.flush();
  assert.deepEqual(sentAs(book), [["07:55", "08:00", undefined]]);
});

test("the clock learns from the server, and not from a second more or less", () => {
  const kept = [], c = new Clock({ get: () => null, set: (x) => kept.push(x) }, () => 1000e3, () => 1000e3);
  c.learn(new Date(1000e3).toUTCString(), 1000e3, 1000e3);
  assert.equal(c.offset, 0);
  c.learn(new Date(1600e3).toUTCString(), 1000e3, 1000e3 + 200);
  assert.equal(c.offset, 600400);
  assert.equal(c.now(), 1600400);
  c.learn(new Date(1601e3).toUTCString(), 1000e3, 1000e3);
  assert.equal(c.offset, 600400);
  c.learn("no date", 0, 0);
  c.learn(null, 0, 0);
  assert.deepEqual(kept, [600400]);
});

test("the first page teaches the clock, and what is entered keeps both times", async () => {
  const book = new Book(), p = phone(book); // at 08:00 by its own clock
  const late = (ms) => p.q.clock.hear(p.now.ms + ms, p.now.ms - 100, p.now.ms + 100);
  late(119e3);
  assert.equal(p.q.clock.off(), 0);
  turn(p.q);
  await p.settled();
  assert.deepEqual([book.done[0].at, book.done[0].clock], ["2026-11-25T08:01:59.000Z", undefined]);
  late(3 * 3600e3);
  assert.equal(p.q.clock.off(), 3 * 3600e3);
  book.signal = false;
  const e = turn(p.q, "wash");
  await p.settled();
  p.now.ms += 600e3;
  book.signal = true;
  book.say = () => ({ status: 422, said: { error: "no" } });
  await p.q.flush();
  book.say = null;
  assert.equal(e.state, "aside");
  await p.q.again(e, { body: { sure: true } });
  await p.settled();
  assert.deepEqual([book.done[1].at, book.done[1].clock, book.done[1].sure], ["2026-11-25T11:00:00.000Z", "2026-11-25T08:00:00.000Z", true]);
  // A page that was kept, or came too slowly, teaches nothing.
  p.q.clock.hear(NaN, 0, 0);
  p.q.clock.hear(5e12, 0, 11e3);
  assert.equal(p.q.clock.off(), 3 * 3600e3);
});

test("what an answer means", () => {
  const did = { act: "did" }, undo = { act: "strike", of: "x" };
  const cases = [
    [did, { status: 200, doc: {} }, "sent"], [did, { status: 200, doc: null }, "later"], [did, { status: 401 }, "login"], [did, { status: 403 }, "aside"],
    [did, { status: 400 }, "aside"], [did, { status: 404 }, "aside"], [did, { status: 413 }, "aside"], [did, { status: 422 }, "aside"], [did, { status: 421 }, "aside"],
    [undo, { status: 404 }, "sent"], [undo, { status: 422 }, "aside"], [{ act: "strike" }, { status: 404 }, "aside"],
    [did, { status: 408 }, "later"], [did, { status: 429 }, "later"], [did, { status: 502 }, "later"], [did, { status: 503 }, "later"], [did, { status: 500 }, "later"],
    [{ act: "did", faults: 4 }, { status: 500 }, "aside"], [did, { status: 302 }, "later"],
  ];
  for (const [e, a, want] of cases) assert.equal(after(e, a), want, `${e.act} ${a.status}`);
});

test("UUIDs are of version 7, all different, and sort as they were made", () => {
  const made = Array.from({ length: 9000 }, () => uuid7(1764057600000));
  assert.equal(new Set(made).size, made.length);
  assert.deepEqual([...made].sort(), made);
  for (const u of [made[0], made.at(-1)]) assert.match(u, /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
  assert.equal(parseInt(uuid7(1864057600000).replaceAll("-", "").slice(0, 12), 16), 1864057600000);
});

test("tags roll up as on paper", () => {
  const cases = [
    [["261121A-01", "261121A-02", "261121A-03"], "261121A-01 to -03"], [["261121A-01", "261121A-02"], "261121A-01, -02"],
    [["261121A-01", "261121A-03", "261122A-01", "261122A-02", "261122A-03"], "261121A-01, -03, 261122A-01 to -03"],
    [["blue", "A-1", "A-2", "A-3"], "blue, A-1 to -3"], [["A-9", "A-10"], "A-9, -10"], [[], ""],
  ];
  for (const [tags, want] of cases) assert.equal(roll(tags), want);
});

test("how long something lasts, in words", () => {
  for (const [min, want] of [[3, "3 min"], [60, "1 h"], [192, "3 h 12 min"], [47 * 60 + 59, "47 h 59 min"], [48 * 60, "2 days"], [365 * 1440, "365 days"]]) {
    assert.equal(lasting(min * 60e3), want);
  }
});
