// What was entered here and is on its way to the book.
//
// An entry is written down on this phone first and shown as done at once; then
// it is sent, in order, until the book has answered. It carries a UUID of its
// own, by which the book knows a repeat: a lost answer costs nothing but the
// sending again. What the book refuses is put aside with its reason and waits
// for a person; what comes after it goes on.
//
// Nothing here touches the page or the network by itself: the store, the post
// and the clock are handed in, so that node can try all of it.
//
//   entry  { seq, n, id, act, body, at, stamp, who, key, wheels, label,
//            state, tried, undone, of, said, doc, doneAt }
//   state  "kept"   not in the book yet, as far as we know
//          "sent"   the book has it
//          "aside"  refused: said holds the sentence
//   n      its number on this phone
//   at     when it happened, as well as it's known; stamp says how well. One whose
//          time a person gave has no stamp
//   tried  it was sent at least once, so the book may have it
//   of     of a strike: the id of what it takes back

// uuid7 makes UUIDs of version 7 (RFC 9562) that sort as they were made.
// crypto.randomUUID is not there on a page without https, getRandomValues is.
let lastMs = 0, count = 0;
export function uuid7(now = Date.now()) {
  const b = crypto.getRandomValues(new Uint8Array(16));
  if (now > lastMs) {
    lastMs = now;
    count = ((b[6] << 8) | b[7]) & 0x7ff; // room above for more in this millisecond
  } else if (++count > 0xfff) {
    lastMs++;
    count = 0;
  }
  for (let i = 0, t = lastMs; i < 6; i++, t = Math.floor(t / 256)) b[5 - i] = t & 255;
  b[6] = 0x70 | (count >> 8);
  b[7] = count & 255;
  b[8] = 0x80 | (b[8] & 0x3f);
  const h = [...b].map((x) => x.toString(16).padStart(2, "0")).join("");
  return `${h.slice(0, 8)}-${h.slice(8, 12)}-${h.slice(12, 16)}-${h.slice(16, 20)}-${h.slice(20)}`;
}

// tolerated is how far off a phone's clock may be before the person is told and
// entries keep both times, in ms. The server allows as much.
const tolerated = 120e3;

// jumped is how far a phone's clock may stray from the steady one, in ms, before that
// is a jump.
const jumped = 2000;

// Clock is the server's time as this phone knows it: a phone's clock may be
// minutes or years off, and the book takes nothing from the future.
//
// It counts by the browser's steady clock (mono), which nobody sets, from what the
// phone's clock (raw) said as the page loaded. Where raw falls back against mono, the
// phone's clock was set. Where it runs ahead, the phone slept, which may stop mono, or
// its clock was set: which of the two, the next answer tells.
export class Clock {
  constructor(keep = null, raw = () => Date.now(), mono = () => performance.now(), run = uuid7()) {
    this.keep = keep; // { get(): number|null, set(number) }: how far off the phone's clock is
    this.raw = raw;
    this.mono = mono;
    this.run = run; // this page
    this.part = 0; // of the page's time, between jumps ahead
    this.base = raw() - mono();
    this.skew = 0; // by how much the phone's clock was set since
    this.offset = keep?.get() ?? 0; // from the steady time to the server's
    this.heard = false; // the server's time is known, and not only what it was once
  }
  // steady is the phone's time as if nobody had set its clock.
  steady() {
    const d = this.raw() - (this.base + this.mono() + this.skew);
    if (d < -jumped || (d > jumped && this.skew < 0 && Math.abs(this.skew + d) < 60e3)) { // set, or put right again
      this.skew += d;
      this.keep?.set(this.ahead());
    } else if (d > jumped) {
      this.base += d;
      this.part++;
      this.heard = false;
    }
    return this.base + this.mono();
  }
  now() { return this.steady() + this.offset; }
  // ahead is the server's time less the phone's.
  ahead() { return Math.round(this.offset - this.skew); }
  // off is how many ms the phone's clock is slow, or fast where it is below zero;
  // 0 where it is about right.
  off() {
    this.steady();
    return Math.abs(this.ahead()) > tolerated ? this.ahead() : 0;
  }
  // learn takes the Date header of an answer asked for at t0 and had at t1.
  learn(date, t0, t1) { this.hear(Date.parse(date ?? "") + 500, t0, t1); }
  // hear takes the server's time as it was between t0 and t1 by the steady clock.
  // A Date header has whole seconds only, so small differences teach nothing.
  hear(time, t0, t1) {
    const was = this.part;
    this.steady();
    if (!(time > 0) || t1 - t0 > 10e3 || was !== this.part) return;
    const offset = time - (t0 + t1) / 2, before = this.heard;
    this.heard = true;
    if (Math.abs(offset - this.offset) >= 1500 + (t1 - t0) / 2) {
      this.offset = Math.round(offset);
      this.keep?.set(this.ahead());
    } else if (before) return;
    this.onheard?.();
  }

  // stamp is all that is known of this moment; settle makes the server's time of it.
  stamp() {
    const tick = this.steady();
    return { run: this.run, part: this.part, tick, raw: this.raw(), at: tick + this.offset, sure: this.heard };
  }

  // settle gives a stamp its time, as well as it's known now: one that is sure stays so.
  // On this page the steady clock tells. On another, or before a jump ahead, the
  // phone's own clock does if it's as far off as it was then: else it was set, nobody
  // knows when, and the time is unsure.
  settle(s) {
    const now = this.now();
    if (s.sure) return s;
    if (s.run === this.run && s.part === this.part) return { ...s, at: s.tick + this.offset, sure: this.heard };
    if (!this.heard) return s;
    if (Math.abs(s.at - s.raw - this.ahead()) <= tolerated) return { ...s, at: s.raw + this.ahead(), sure: true };
    return { ...s, at: [s.at, s.raw + this.ahead()].find((t) => t <= now) ?? now, unsure: true };
  }
}

// MemoryStore keeps entries as long as the page is open.
export class MemoryStore {
  constructor() { this.rows = new Map(); this.last = 0; }
  async all() { return [...this.rows.values()].sort((a, b) => a.seq - b.seq).map((e) => structuredClone(e)); }
  async put(e) {
    const seq = e.seq ?? ++this.last;
    this.last = Math.max(this.last, seq);
    this.rows.set(seq, structuredClone({ ...e, seq }));
    return seq;
  }
  async drop(seq) { this.rows.delete(seq); }
  // claim marks an entry as tried and gives it, or null where it is gone or
  // needs no sending any more.
  async claim(seq) {
    const e = this.rows.get(seq);
    if (!e || e.state !== "kept") return null;
    e.tried = true;
    return structuredClone(e);
  }
  // amend changes an entry that is still there.
  async amend(seq, more) {
    const e = this.rows.get(seq);
    if (e) Object.assign(e, structuredClone(more));
  }
  // dropUntried takes an entry out unless it was sent, or is being sent.
  async dropUntried(seq) {
    const e = this.rows.get(seq);
    if (!e) return true;
    return !e.tried && this.rows.delete(seq);
  }
}

// DiskStore keeps entries in the browser's own database, over reloads and
// with the phone switched off. Its writing transactions take turns, also
// between two tabs, so claim and dropUntried cannot both win.
//
// A browser gives up what a page was still writing when that page closes, even
// in the moment after a tap. So a new entry is jotted down first, where writing
// is done at once (jots: put, drop, all), until the database has it.
export class DiskStore {
  static async open(factory = globalThis.indexedDB, jots = null) {
    if (!factory) throw new Error("no database in this browser");
    const s = new DiskStore();
    s.fresh = false; // made just now: this is the first time, or all was cleared
    s.db = await new Promise((yes, no) => {
      const q = factory.open("rindkeep", 1);
      q.onupgradeneeded = () => {
        q.result.createObjectStore("entries", { keyPath: "seq", autoIncrement: true });
        s.fresh = true;
      };
      q.onsuccess = () => yes(q.result);
      q.onerror = () => no(q.error);
      q.onblocked = () => no(new Error("the browser's database is held by another page"));
    });
    s.db.onversionchange = () => s.db.close();
    s.jots = jots;
    const had = new Set((await s.all()).map((e) => e.id)); // a private window may open and then refuse
    for (const e of jots?.all() ?? []) {
      if (had.has(e.id)) jots.drop(e.id);
      else await s.put(e);
    }
    return s;
  }
  // atOnce commits without waiting to hear of each request: then an entry stays
  // even if the page closes the moment it was tapped.
  tx(mode, work, atOnce = false) {
    return new Promise((yes, no) => {
      const t = this.db.transaction("entries", mode, { durability: "strict" });
      let out;
      work(t.objectStore("entries"), (v) => { out = v; });
      if (atOnce) t.commit?.();
      t.oncomplete = () => yes(out);
      t.onerror = t.onabort = () => no(t.error ?? new Error("not kept"));
    });
  }
  all() { return this.tx("readonly", (s, out) => { s.getAll().onsuccess = (ev) => out(ev.target.result); }); }
  async put(e) {
    const fresh = e.seq === undefined;
    if (fresh) this.jots?.put(e);
    const seq = await this.write(e);
    if (fresh) this.jots?.drop(e.id);
    return seq;
  }
  write(e) { return this.tx("readwrite", (s, out) => { s.put(e).onsuccess = (ev) => out(ev.target.result); }, true); }
  drop(seq) { return this.tx("readwrite", (s) => s.delete(seq), true); }
  claim(seq) {
    return this.tx("readwrite", (s, out) => {
      s.get(seq).onsuccess = (ev) => {
        const e = ev.target.result;
        if (!e || e.state !== "kept") return out(null);
        e.tried = true;
        s.put(e);
        out(e);
      };
    });
  }
  amend(seq, more) {
    return this.tx("readwrite", (s) => {
      s.get(seq).onsuccess = (ev) => { if (ev.target.result) s.put(Object.assign(ev.target.result, more)); };
    });
  }
  dropUntried(seq) {
    return this.tx("readwrite", (s, out) => {
      s.get(seq).onsuccess = (ev) => {
        const e = ev.target.result;
        if (e?.tried) return out(false);
        if (e) s.delete(seq);
        out(true);
      };
    });
  }
}

// after says what the book's answer means for an entry:
//   "sent" it has it; "aside" it will not have it so; "later" try again in a
//   while; "login" the person needs to log in first.
export function after(entry, answer) {
  const { status } = answer;
  if (status === 200) return answer.doc ? "sent" : "later"; // not our server: a log-in page of some network
  if (status === 401) return "login";
  if (entry.act === "strike" && entry.of && status === 404) return "sent"; // nothing there to take back
  if (status === 408 || status === 425 || status === 429 || status === 502 || status === 503 || status === 504) return "later";
  if (status >= 500) return (entry.faults ?? 0) < 4 ? "later" : "aside";
  if (status >= 400) return "aside";
  return "later";
}

// Queue is the entries of this phone, in order.
//
//   post(act, body)  sends one; gives { status, doc, said, retryAfter } or
//                    throws where there is no signal
//   later(fn, ms)    calls fn after a while; gives something cancel() takes
//   alone(fn)        runs fn while no other tab runs its own
//   ledger           numbers the entries
//   before()         is called, and waited for, before any are sent
//   changed(what, entry, err)  tells the page: "entry" came, went or was taken
//                    back; "answer" came from the book; "signal" is another;
//                    "unkept": the store would not take it
export class Queue {
  constructor({ store, post, clock, who = "", later, cancel = () => {}, alone = (fn) => fn(), changed = () => {}, ledger = null, before = async () => {} }) {
    Object.assign(this, { store, post, clock, who, later, cancel, alone, changed, ledger, before });
    this.entries = [];
    this.signal = "unknown"; // "yes", "no", "busy" or "login"
    this.writing = new Set(); // entries on their way into the store: what it holds of them is old
    this.dropped = new Set(); // seqs on their way out of it
    this.wait = 0;
    this.sending = false;
    clock.onheard = () => {
      for (const e of this.entries) {
        if (e.state === "sent" || !e.stamp || e.stamp.sure) continue;
        const { at, stamp } = this.settle(e);
        if (e.seq !== undefined) this.store.amend(e.seq, { at, stamp }).catch(() => {});
      }
    };
  }

  // settle gives an entry the best time that is known.
  settle(e) {
    if (!e.stamp) return e;
    e.stamp = this.clock.settle(e.stamp);
    e.at = new Date(e.stamp.at).toISOString();
    return e;
  }

  // unsettled says whether the server's time is wanted before what waits is sent.
  unsettled() { return this.waiting().some((e) => e.stamp && !e.stamp.sure && !e.stamp.unsure) && !this.clock.heard; }

  // open reads what was kept, and lets go of what was sent long ago.
  async open() {
    await this.sync();
    for (const e of [...this.entries]) {
      if (e.state === "sent" && this.clock.now() - Date.parse(e.at) > 20 * 3600e3) await this.forget(e);
    }
    this.changed("entry");
  }

  // sync reads the store again: another tab may have written to it.
  async sync() {
    const rows = await this.store.all();
    const here = new Map(this.entries.map((e) => [e.id, e]));
    const out = [];
    for (const r of rows) {
      if (this.dropped.has(r.seq)) continue;
      const e = here.get(r.id);
      if (!e) { out.push(r); continue; }
      here.delete(r.id);
      out.push(this.writing.has(e) ? Object.assign(e, { seq: r.seq }) : Object.assign(e, r));
    }
    for (const e of here.values()) if (e.seq === undefined || this.writing.has(e)) out.push(e);
    this.entries = out;
  }

  // add writes an entry down, and sends it as soon as may be. It is on the list
  // at once; its promise kept comes when the store has it.
  add(act, body, about = {}) {
    const e = { id: uuid7(), act, body, who: this.who, state: "kept", ...about };
    if (!e.at && this.earlier && act !== "strike") { // as the person says
      const at = Math.min(this.earlier, this.clock.now());
      Object.assign(e, { at: new Date(at).toISOString(), stamp: { at, raw: at, sure: true } });
    }
    // What is sent again keeps its time.
    if (!e.at) this.settle(Object.assign(e, { stamp: this.clock.stamp() }));
    if (this.ledger) e.n = this.ledger.next();
    this.entries.push(e);
    const kept = this.keep(e).then(() => { this.flush(); });
    Object.defineProperty(e, "kept", { value: kept }); // not stored
    this.changed("entry", e);
    return e;
  }

  async keep(e) {
    this.writing.add(e);
    try {
      const { unkept, ...row } = e;
      e.seq = await this.store.put(row);
      delete e.unkept;
    } catch (err) {
      e.unkept = true;
      this.changed("unkept", e, err);
    } finally {
      this.writing.delete(e);
    }
  }

  async forget(e) {
    this.entries = this.entries.filter((x) => x.id !== e.id);
    if (e.seq === undefined) return;
    this.dropped.add(e.seq);
    await this.store.drop(e.seq).catch(() => {});
  }

  // undo takes an entry back: out of the queue where it was never sent, else by
  // a strike behind it, since the book may have it even where no answer came.
  async undo(e, why = "undone on the phone") {
    if (e.undone) return;
    e.undone = true;
    this.changed("entry", e);
    await e.kept;
    const unsent = e.state === "aside" || (e.seq === undefined ? !e.tried : await this.store.dropUntried(e.seq).catch(() => false));
    if (unsent) {
      await this.forget(e);
    } else {
      e.tried = true;
      await this.keep(e);
      await this.add("strike", { entry: e.id, why }, { of: e.id, label: `undone: ${e.label ?? e.act}` }).kept;
    }
    this.changed("entry", e);
  }

  // again sends what was put aside once more, changed: as a new entry of the
  // old time, since the old one was refused under its own name.
  async again(e, { body = {}, about = {} } = {}) {
    const { act, at, stamp, who, key, wheels, label } = e;
    const next = this.add(act, { ...e.body, ...body }, { at, stamp, who, key, wheels, label, ...about });
    await next.kept;
    await this.forget(e);
    this.changed("entry", next);
    return next;
  }

  waiting() { return this.entries.filter((e) => e.state === "kept" && this.mine(e)); }
  aside() { return this.entries.filter((e) => e.state === "aside"); }
  // others are entries of somebody who is not logged in here now: they are not
  // sent under another's name.
  others() { return this.entries.filter((e) => e.state === "kept" && !this.mine(e)); }
  mine(e) { return this.who === "" || !e.who || e.who === this.who; }

  // flush sends all that waits, in order, until something stands in the way.
  async flush() {
    this.more = true;
    if (this.sending) return;
    this.sending = true;
    this.cancel(this.timer);
    this.retryAfter = null;
    try {
      do {
        this.more = false;
        await this.alone(async () => {
          await this.before();
          await this.run();
        });
      } while (this.more && this.signal === "yes");
    } finally {
      this.sending = false;
    }
    if ((this.signal === "no" || this.signal === "busy") && this.waiting().length > 0) {
      this.wait = Math.min(60e3, this.wait ? this.wait * 2 : 2e3);
      this.timer = this.later(() => this.flush(), this.retryAfter ?? this.wait);
    }
  }

  async run() {
    const had = new Set();
    for (;;) {
      await this.sync().catch(() => {});
      const next = this.waiting().find((e) => !had.has(e.id));
      if (!next) return;
      had.add(next.id);
      if (next.seq !== undefined && !(await this.store.claim(next.seq).catch(() => true))) continue; // taken back, or sent by another tab
      next.tried = true;
      if (!(await this.sendOne(next))) return;
    }
  }

  // sendOne sends an entry; false says that no other will get through either.
  async sendOne(e) {
    const s = this.settle(e).stamp;
    const at = Math.min(Date.parse(e.at), this.clock.now()); // the two are known to a second or two
    const body = { ...e.body, id: e.id, at: new Date(at).toISOString() };
    if (s && (s.unsure || Math.abs(s.at - s.raw) > tolerated)) body.clock = new Date(s.raw).toISOString();
    if (s?.unsure) body.unsure = true;
    if (e.n) Object.assign(body, { phone: this.ledger.id, tap: e.n });
    if (e.who) body.by = e.who; // another may be logged in by now: then the book says so
    let answer;
    try {
      answer = await this.post(e.act, body);
    } catch {
      return this.hear("no", false);
    }
    switch (after(e, answer)) {
      case "login":
        return this.hear("login", false);
      case "later":
        if (answer.status === 500) {
          e.faults = (e.faults ?? 0) + 1;
          await this.keep(e);
        }
        this.retryAfter = answer.retryAfter ? answer.retryAfter * 1000 : null;
        return this.hear(answer.status === 200 ? "no" : "busy", false);
      case "sent":
        Object.assign(e, { state: "sent", doc: answer.doc ?? null, doneAt: this.clock.raw() });
        if (e.body.photo) e.body = { ...e.body, photo: undefined }; // the book has it; the phone needs the room
        break;
      case "aside":
        Object.assign(e, { state: "aside", said: answer.said ?? { error: `the page answered ${answer.status}` } });
    }
    this.wait = 0;
    if (e.state === "aside" && e.undone) await this.forget(e);
    else await this.keep(e);
    this.hear("yes", true);
    this.changed("answer", e);
    return true;
  }

  hear(signal, go) {
    const was = this.signal;
    this.signal = signal;
    if (was !== signal) this.changed("signal");
    return go;
  }
}
