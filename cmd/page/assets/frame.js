// What every page does: keeps the round at hand, sends what was entered on this
// phone and not sent yet, and speaks up where that does not go.

import { listen, queue } from "./post.js";

document.documentElement.classList.add("js");

if ("serviceWorker" in navigator && window.isSecureContext) {
  navigator.serviceWorker.register("/sw.js").catch(() => {});
}

const here = document.body.dataset.here;
if (here !== "login") { // there nobody is anybody yet
  const flush = () => { queue.flush(); };
  flush();
  addEventListener("online", flush);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) flush(); });
  addEventListener("pageshow", (ev) => { if (ev.persisted) flush(); });
}

// Elsewhere than on the round, which says more, a line tells of what is not in
// the book yet.
if (here !== "round" && here !== "login") {
  const line = document.createElement("p");
  line.className = "notice act";
  line.setAttribute("role", "status");
  line.hidden = true;
  document.getElementById("main").prepend(line);
  const say = () => {
    const n = queue.waiting().length, aside = queue.aside().length;
    line.hidden = n + aside === 0 || (n > 0 && aside === 0 && queue.signal === "unknown");
    const words = [];
    if (n) words.push(`${n} from the round saved on this phone, not in the book yet${queue.signal === "no" ? ": no signal" : ""}`);
    if (aside) words.push(`${aside} from the round refused`);
    line.textContent = `${words.join("; ")}. `;
    if (aside) line.append(Object.assign(document.createElement("a"), { href: "/", textContent: "Go to the round" }));
  };
  listen(say);
  say();
}

// Logging out with entries unsent leaves them on this phone until the same
// person is back; that is worth a question.
document.getElementById("logout")?.addEventListener("submit", (ev) => {
  const n = queue.waiting().length;
  if (n && !confirm(`Not everything from the round is in the book yet: ${n} left. They stay on this phone until ${queue.who} logs in again. Log out?`)) ev.preventDefault();
});
