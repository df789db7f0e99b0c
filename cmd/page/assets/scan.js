// Scanning a label: its QR code carries the wheel's tag and nothing else. The
// browser's own detector reads it where there is one, else jsQR (Apache-2.0, see
// jsqr/LICENSE.txt), loaded only then.

import { el, open } from "./dialogs.js";

let jsqr;
function load() {
  jsqr ??= new Promise((yes, no) => {
    const s = document.createElement("script"); // not a module: it puts itself on window
    s.src = new URL("./jsqr/jsQR.js", import.meta.url).href;
    s.onload = () => yes(window.jsQR);
    s.onerror = () => { jsqr = undefined; no(new Error("no signal to load the label reader with")); };
    document.head.append(s);
  });
  return jsqr;
}

async function reader() {
  if ("BarcodeDetector" in window && (await BarcodeDetector.getSupportedFormats()).includes("qr_code")) {
    const d = new BarcodeDetector({ formats: ["qr_code"] });
    return async (source) => (await d.detect(source))[0]?.rawValue;
  }
  const read = await load();
  const canvas = document.createElement("canvas");
  const c = canvas.getContext("2d", { willReadFrequently: true });
  return async (source) => {
    const w = source.videoWidth || source.width, h = source.videoHeight || source.height;
    const k = Math.min(1, 800 / Math.max(w, h));
    canvas.width = Math.round(w * k);
    canvas.height = Math.round(h * k);
    c.drawImage(source, 0, 0, canvas.width, canvas.height);
    const px = c.getImageData(0, 0, canvas.width, canvas.height);
    return read(px.data, px.width, px.height)?.data;
  };
}

// scan opens the camera and gives the tag, or "" where the person gave up.
// Without https no page gets the camera; a photograph of the label does then.
export async function scan() {
  const d = el("scan"), video = el("scan-video"), said = el("scan-said"), file = el("scan-file");
  said.textContent = "";
  file.value = "";
  open(d);
  let stream = null, found = "";
  const over = new Promise((yes) => d.addEventListener("close", yes, { once: true }));
  const got = (text) => {
    if (!text?.trim()) return false;
    found = text.trim();
    d.close();
    return true;
  };
  file.onchange = async () => {
    try {
      const read = await reader();
      if (!got(await read(await createImageBitmap(file.files[0])))) said.textContent = "no code found; move closer, with more light";
    } catch (err) { said.textContent = err.message; }
  };
  video.hidden = true;
  if (navigator.mediaDevices?.getUserMedia) {
    try {
      const read = await reader();
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      video.srcObject = stream;
      video.hidden = false;
      await video.play();
      said.textContent = "hold the label in front of the camera";
      (async () => {
        while (d.open) {
          if (video.videoWidth && got(await read(video).catch(() => ""))) return;
          await new Promise((yes) => setTimeout(yes, 150));
        }
      })();
    } catch { said.textContent = "no camera here; photograph the label, or type the tag"; }
  } else {
    said.textContent = "the camera needs https; photograph the label, or type the tag";
  }
  await over;
  for (const t of stream?.getTracks() ?? []) t.stop();
  video.srcObject = null;
  return found;
}

// warm fetches the decoder while there is a signal, for phones that need it.
export function warm() {
  if (!("BarcodeDetector" in window)) load().catch(() => {});
}
