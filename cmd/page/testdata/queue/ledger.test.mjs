// The numbers of a phone's entries, tried in node: which of its two copies is lost, and
// what the server is told.
import { test } from "node:test";
import assert from "node:assert/strict";
import { Ledger, read } from "./ledger.mjs";

const slot = (text = "") => ({ text, get() { return this.text; }, set(t) { this.text = t; } });
const at = (n) => `2026-11-25T08:0${n}:00.000Z`;
const entry = (l, state = "kept") => { const n = l.next(); return { n, at: at(n), state }; };
const uuid = () => "0193a0b1-0000-7000-8000-000000000001";

function phone({ keep = slot(), cookie = slot(), lost = slot(), emptied = false } = {}) {
  return { keep, cookie, lost, l: new Ledger({ keep, cookie, lost, uuid, emptied }) };
}
// used is a phone with three entries, of which the first was sent.
function used() {
  const p = phone({ emptied: true });
  assert.equal(p.l.fresh, true);
  p.l.note([]);
  p.l.heard(p.l.says([]), []);
  p.es = [entry(p.l, "sent"), entry(p.l), entry(p.l)];
  p.l.note(p.es);
  return p;
}

test("a phone keeps its name and its numbers", () => {
  const p = used(), r = phone(p);
  assert.equal(r.l.id, uuid());
  assert.equal(r.l.fresh, false);
  assert.equal(r.l.had, null);
  assert.equal(r.l.next(), 4);
  assert.deepEqual(r.l.says(p.es).open, [{ n: 2, at: at(2) }, { n: 3, at: at(3) }]);
});

test("a phone is new until the server was told", () => {
  const p = phone();
  p.l.note([]);
  assert.equal(phone(p).l.says([]).new, true);
  p.l.heard(p.l.says([]), []);
  assert.equal(phone(p).l.says([]).new, false);
});

for (const [name, left] of [
  ["all but the cookie is cleared", (p) => ({ cookie: p.cookie, emptied: true })],
  ["the database alone is cleared", (p) => ({ keep: p.keep, cookie: p.cookie, emptied: true })],
]) {
  test(`${name}: the server is told until it has heard`, () => {
    const p = used(), r = phone(left(p));
    assert.equal(r.l.id, uuid());
    r.l.note([]); // nothing is there any more
    const again = phone(r);
    for (const l of [r.l, again.l]) {
      const said = l.says([]);
      assert.equal(said.cleared, true);
      assert.deepEqual(said.had, [{ n: 2, at: at(2) }, { n: 3, at: at(3) }]);
      assert.equal(said.last, 3);
      assert.equal(l.needs([]), true);
    }
    again.l.heard(again.l.says([]), []);
    assert.equal(phone(r).l.says([]).cleared, false);
  });
}

test("a cookie that was cleared loses nothing", () => {
  const p = used(), r = phone({ keep: p.keep });
  assert.equal(r.l.says(p.es).cleared, false);
  assert.equal(r.l.next(), 4);
});

test("one entry goes without a word ahead, several don't", () => {
  const p = used();
  assert.equal(p.l.needs(p.es.slice(0, 2)), false);
  assert.equal(p.l.needs(p.es), true);
  p.l.heard(p.l.says(p.es), p.es);
  assert.equal(p.l.needs(p.es), false);
  p.es[1].state = "sent";
  assert.equal(p.l.needs(p.es), false);
  assert.equal(p.l.needs(p.es.slice(0, 2)), true); // a person let one go
});

test("a text that isn't ours is nothing", () => {
  for (const t of [null, "", "x", "a.b.c", `${uuid()}.1.x..`]) assert.equal(read(t), null);
});

test("four thousand characters hold however many holes there are", () => {
  const p = phone(), es = Array.from({ length: 1500 }, (_, i) => ({ n: 2 * i + 1, at: at(1), state: "kept" }));
  p.l.note(es);
  assert.ok(p.cookie.text.length < 1000, p.cookie.text);
});
