// Tags, counts and times in short.

// roll rolls tags up to ranges: "261121A-01 to -06, 261122A-03".
export function roll(tags) {
  const split = (t) => {
    const m = /^(.+-)(\d{1,7})$/s.exec(t);
    return m && { prefix: m[1], n: Number(m[2]), width: m[2].length };
  };
  const out = [];
  let lot = "";
  for (let i = 0; i < tags.length;) {
    const s = split(tags[i]);
    let j = i + 1;
    while (s && j < tags.length) {
      const x = split(tags[j]);
      if (!x || x.prefix !== s.prefix || x.width !== s.width || x.n !== s.n + j - i) break;
      j++;
    }
    const name = (k) => (s && s.prefix === lot ? tags[k].slice(s.prefix.length - 1) : tags[k]);
    if (j - i > 2) {
      const first = name(i);
      lot = s.prefix;
      out.push(`${first} to ${name(j - 1)}`);
    } else {
      for (let k = i; k < j; k++) {
        out.push(name(k));
        lot = s ? s.prefix : "";
      }
    }
    i = j;
  }
  return out.join(", ");
}

export const wheels = (n) => (n === 1 ? "1 wheel" : `${n} wheels`);

// lasting is a length of time in ms: "5 min", "3 h 12 min", "2 days".
export function lasting(ms) {
  const min = Math.round(ms / 60e3), h = Math.floor(min / 60), days = Math.round(h / 24);
  if (h >= 48) return `${days} days`;
  return [h ? `${h} h` : "", min % 60 ? `${min % 60} min` : ""].filter(Boolean).join(" ");
}

// clock is an instant as the time of day here.
export function clock(at) {
  const t = new Date(at);
  return `${t.getHours()}`.padStart(2, "0") + ":" + `${t.getMinutes()}`.padStart(2, "0");
}
