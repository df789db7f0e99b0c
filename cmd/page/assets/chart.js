// A chart that answers a finger: a touch, or the slider under it, chooses one of its
// points, and the line below says what was measured there. The points and their words
// come with the picture, in whatever width it is shown.

// pointsOf reads the points that a picture tells of, from left to right.
function pointsOf(svg) {
  // Its style isn't needed, and the page's policy would complain of it.
  const doc = new DOMParser().parseFromString(svg.replace(/<style>[^]*?<\/style>/, ""), "image/svg+xml"), [, , w, h] = (doc.documentElement.getAttribute("viewBox") ?? "0 0 1 1").split(" ").map(Number);
  return [...doc.querySelectorAll("circle")].filter((c) => c.querySelector("title")).map((c) => ({
    x: c.getAttribute("cx") / w, y: c.getAttribute("cy") / h, said: c.querySelector("title").textContent,
  })).sort((a, b) => a.x - b.x);
}

// touch lets a figure answer.
export function touch(figure) {
  const img = figure.querySelector("img"), picture = img.closest("picture");
  const ring = Object.assign(document.createElement("i"), { className: "ring", hidden: true });
  const field = Object.assign(document.createElement("p"), { className: "at", hidden: true });
  const slider = Object.assign(document.createElement("input"), { type: "range", min: 0, step: 1 });
  const said = document.createElement("output");
  slider.setAttribute("aria-label", figure.dataset.point);
  picture.append(ring);
  field.append(slider, said);
  picture.after(field);
  let points = [], chosen = -1;
  const choose = (i) => {
    chosen = Math.max(0, Math.min(points.length - 1, i));
    const p = points[chosen];
    slider.value = chosen;
    slider.setAttribute("aria-valuetext", p.said);
    said.textContent = p.said;
    ring.hidden = false;
    ring.style.left = `${100 * p.x}%`;
    ring.style.top = `${100 * p.y}%`;
  };
  const nearest = (ev) => {
    const r = img.getBoundingClientRect(), x = (ev.clientX - r.left) / r.width, y = (ev.clientY - r.top) / r.height;
    // Across counts most; under each other lie weights about a coat, sisters, and temperature and humidity.
    const far = (p) => Math.hypot(p.x - x, (p.y - y) / 10);
    choose(points.reduce((best, p, i) => (far(p) < far(points[best]) ? i : best), 0));
  };
  picture.addEventListener("pointerdown", (ev) => { if (points.length) nearest(ev); });
  picture.addEventListener("pointermove", (ev) => { if (points.length && (ev.buttons || ev.pointerType === "mouse")) nearest(ev); });
  slider.addEventListener("input", () => choose(Number(slider.value)));
  const read = async () => {
    try {
      const res = await fetch(img.currentSrc, { credentials: "same-origin" });
      if (!res.ok) return;
      points = pointsOf(await res.text());
    } catch { return; } // no signal: the picture is there and doesn't answer
    field.hidden = points.length === 0;
    slider.max = points.length - 1;
    if (points.length) choose(chosen < 0 ? points.length - 1 : chosen);
  };
  img.addEventListener("load", read); // again where it's shown in another width
  if (img.complete && img.naturalWidth) read();
}
