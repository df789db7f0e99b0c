// A picture kept small, on the phone, before it is queued: at most 1024 pixels
// long and 150 kB, and bare of where and with what it was taken.

const longest = 1024, most = 150e3;

// shrink gives a picture as JPEG in base64.
export async function shrink(file) {
  const img = await createImageBitmap(file, { imageOrientation: "from-image" });
  let k = Math.min(1, longest / Math.max(img.width, img.height));
  for (; k > 0.05; k *= 0.8) {
    const c = document.createElement("canvas");
    c.width = Math.max(1, Math.round(img.width * k));
    c.height = Math.max(1, Math.round(img.height * k));
    const to = c.getContext("2d");
    to.fillStyle = "#fff"; // under what is see-through
    to.fillRect(0, 0, c.width, c.height);
    to.drawImage(img, 0, 0, c.width, c.height);
    for (const q of [0.82, 0.7, 0.55]) {
      const blob = await new Promise((yes) => c.toBlob(yes, "image/jpeg", q));
      if (blob && blob.size <= most) {
        const bytes = new Uint8Array(await blob.arrayBuffer());
        let s = "";
        for (let i = 0; i < bytes.length; i += 8192) s += String.fromCharCode(...bytes.subarray(i, i + 8192));
        return { base64: btoa(s), bytes: blob.size };
      }
    }
  }
  throw new Error("the photo can’t be made small enough");
}
