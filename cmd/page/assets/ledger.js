// The numbers of what was entered on this phone. Each entry has one, and those that
// aren't in the book yet are written down twice: beside the entries, and in a cookie,
// which often stays where a browser clears the rest. What the cookie has and the
// storage has lost never reached the book, and a person is told.
//
// As text: ID.LAST.RANGES.FROM.TO, of the entries that are open, with the times of the
// first and the last in seconds: "0193….42.26-42.1764300000.1764303600"; with ".new"
// behind it until the server knows the phone.

const mostRanges = 60; // a cookie holds 4 kB

function ranges(numbers) {
  const out = [];
  for (const n of numbers) {
    const r = out.at(-1);
    if (r && r[1] === n - 1) r[1] = n;
    else out.push([n, n]);
  }
  return out.slice(-mostRanges).map(([a, b]) => (a === b ? `${a}` : `${a}-${b}`)).join("_");
}

// read takes a text apart; null where there is none.
export function read(text) {
  const m = /^([0-9a-f-]{36})\.(\d+)\.([\d_-]*)\.(\d*)\.(\d*)(\.new)?$/.exec(text ?? "");
  if (!m) return null;
  const numbers = m[3].split("_").filter(Boolean).flatMap((r) => {
    const [a, b = a] = r.split("-").map(Number);
    return Array.from({ length: Math.min(Math.max(0, b - a + 1), 2000) }, (_, i) => a + i);
  });
  const open = numbers.map((n) => ({ n }));
  const at = (s) => new Date(Number(s) * 1000).toISOString();
  if (open.length && m[4]) open[0].at = at(m[4]);
  if (open.length && m[5]) open.at(-1).at = at(m[5]);
  return { id: m[1], last: Number(m[2]), open, fresh: !!m[6] };
}

// Ledger is this phone's numbers. keep, cookie and lost each hold a text: get(), set(text).
//   emptied  the entries' own store was made just now: it's new, or was cleared
export class Ledger {
  constructor({ keep, cookie, lost, uuid, emptied = false }) {
    Object.assign(this, { keep, cookie, lost });
    const stored = read(keep.get()), spare = read(cookie.get()), was = stored ?? spare;
    this.id = was?.id ?? uuid();
    this.fresh = was?.fresh ?? true; // the server doesn't know this phone yet
    this.last = Math.max(stored?.last ?? 0, spare?.last ?? 0);
    if (was && (!stored || (emptied && stored.open.length > 0))) {
      lost.set(stored ? keep.get() : cookie.get()); // until the server has been told
    }
    this.had = read(lost.get())?.open ?? null;
    this.told = new Set(); // numbers that the server was told are open
  }

  // next is the number of a new entry.
  next() {
    this.last = Math.max(this.last, read(this.keep.get())?.last ?? 0) + 1; // another tab counts too
    return this.last;
  }

  // note writes down which of the entries are open.
  note(entries) {
    const open = this.open(entries);
    const secs = (e) => (e ? Math.round(Date.parse(e.at) / 1000) : "");
    const text = `${this.id}.${this.last}.${ranges(open.map((e) => e.n))}.${secs(open[0])}.${secs(open.at(-1))}${this.fresh ? ".new" : ""}`;
    if (text === this.text) return;
    this.text = text;
    this.keep.set(text);
    this.cookie.set(text);
  }

  open(entries) {
    return entries.filter((e) => e.n && e.state !== "sent").sort((a, b) => a.n - b.n).map(({ n, at }) => ({ n, at }));
  }

  // needs says whether the server should be told before more is sent: of several that
  // wait, or that a person let some go.
  needs(entries) {
    if (this.fresh || this.had) return true;
    const open = this.open(entries), now = new Set(open.map((e) => e.n));
    for (const n of this.told) {
      if (now.has(n)) continue;
      if (!entries.some((e) => e.n === n)) return true;
      this.told.delete(n); // it was sent: the server knows
    }
    return open.some((e) => !this.told.has(e.n)) && (open.length > 1 || entries.some((e) => e.state === "aside"));
  }

  // says is what the server is told.
  says(entries) {
    return { phone: this.id, new: this.fresh, cleared: !!this.had, last: this.last, open: this.open(entries), had: this.had ?? [] };
  }

  // heard notes that the server was told so.
  heard(said, entries) {
    this.told = new Set(said.open.map((e) => e.n));
    this.fresh = false;
    this.had = null;
    this.lost.set("");
    this.note(entries);
  }
}
