// A picture kept small, on the phone, before it is queued: at most 1600 pixels
// long and 280 kB, and bare of where and with what it was taken.

const longest = 1600, most = 280e3;

// shrink gives a picture as JPEG in base64.
export async function shrink(file) {
  let img;
  try {
    img = await createImageBitmap(file, { imageOrientation: "from-image" });
  } catch {
    throw new Error(/hei[cf]/i.test(file.type + file.name)
      ? "this browser can’t read HEIC photos: set the phone’s camera to JPEG, or send a screenshot of it"
      : "this browser can’t read that picture: send a JPEG, PNG or WebP");
  }
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
