// Small helps for what opens over the list.

export const el = (id) => document.getElementById(id);

// fill puts a few elements into one: ["p.small", "text", ["strong", "more"]];
// text is text and never markup.
export function fill(box, ...parts) {
  box.replaceChildren(...parts.filter(Boolean).map(make));
}

export function make(part) {
  if (typeof part === "string") return document.createTextNode(part);
  if (part instanceof Node) return part;
  const [name, ...rest] = part;
  const [tag, ...classes] = name.split(".");
  const e = document.createElement(tag);
  if (classes.length) e.className = classes.join(" ");
  for (const r of rest) {
    if (r === null || r === undefined || r === "") continue;
    if (typeof r === "object" && !Array.isArray(r) && !(r instanceof Node)) {
      for (const [k, v] of Object.entries(r)) {
        if (v === null) continue;
        if (k.startsWith("on")) e.addEventListener(k.slice(2), v);
        else e.setAttribute(k, v);
      }
    } else e.append(make(r));
  }
  return e;
}

// open shows a dialog. What had the focus gets it back from the browser; where
// that was painted again meanwhile, its card's button does.
export function open(d) {
  if (!d.open) {
    const card = document.activeElement?.closest?.(".card")?.id;
    d.showModal();
    over.push(d);
    settle();
    if (card) {
      d.addEventListener("close", () => setTimeout(() => {
        if (document.activeElement === document.body || d.contains(document.activeElement)) el(card)?.querySelector("[data-do]")?.focus({ preventScroll: true });
      }), { once: true });
    }
  }
  d.scrollTop = 0;
}

// ---- the phone's Back -----------------------------------------------------
// Each dialog that is open has a step of its own in the history of the tab, so
// that Back closes it and does not leave the page. Steps follow the dialogs, also
// where one closes and another opens at once.

const over = []; // open dialogs, the topmost last
let steps = history.state?.over ?? 0;
let going = false; // a way back of our own is not there yet

function settle() {
  if (going) return;
  if (steps < over.length) {
    history.scrollRestoration = "manual"; // the list under a dialog stays where it is
    while (steps < over.length) history.pushState({ over: ++steps }, "");
  } else if (steps > over.length) {
    going = true;
    history.go(over.length - steps);
  } else if (!steps) history.scrollRestoration = "auto";
}

addEventListener("popstate", () => {
  steps = history.state?.over ?? 0;
  if (!going) while (over.length > steps) over.pop().close();
  going = false;
  settle();
});
document.addEventListener("close", (ev) => {
  const i = over.indexOf(ev.target);
  if (i >= 0) over.splice(i, 1);
  setTimeout(settle);
}, true);
settle(); // a step may be left of before a reload

// A tap beside a dialog closes it. One on its own edge does not: there the
// thumb of the hand that holds the phone lies.
function beside(d, ev) {
  const r = d.getBoundingClientRect();
  return ev.clientX < r.left || ev.clientX > r.right || ev.clientY < r.top || ev.clientY > r.bottom;
}

document.addEventListener("click", (ev) => {
  const d = ev.target.closest("dialog");
  if (d && (ev.target.closest("[data-close]") || (ev.target === d && beside(d, ev)))) d.close();
});

// ask asks before something is let go of.
export function ask(question, yes) {
  const d = el("ask");
  el("ask-title").textContent = question;
  el("ask-yes").textContent = yes;
  open(d);
  return new Promise((done) => {
    el("ask-yes").onclick = () => { d.returnValue = "yes"; d.close("yes"); };
    el("ask-no").onclick = () => d.close("no");
    d.addEventListener("close", () => done(d.returnValue === "yes"), { once: true });
    d.returnValue = "";
  });
}

// picks shows wheels to choose from, all of them chosen, or none of several, and
// gives back what reads the choice.
export function picks(box, tags, changed, none = false) {
  const all = make(["button", { type: "button" }, ""]);
  const boxes = tags.map((t) => make(["label", ["input", { type: "checkbox", value: t, checked: none && tags.length > 1 ? null : "" }], ["span", t]]));
  const chosen = () => boxes.map((b) => b.firstChild).filter((i) => i.checked).map((i) => i.value);
  const said = () => {
    all.textContent = chosen().length ? "none of them" : "all of them";
    changed(chosen());
  };
  all.onclick = () => {
    const on = chosen().length === 0;
    for (const b of boxes) b.firstChild.checked = on;
    said();
  };
  box.onchange = said;
  box.replaceChildren(...(tags.length > 1 ? [all, ...boxes] : boxes));
  said();
  return chosen;
}
