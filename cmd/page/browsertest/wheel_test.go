package browsertest

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"
)

// On a wheel's page a job that is due takes one tap, one that needs figures leads to its
// form, and what was done earlier is recorded with its time.
func TestAWheelsDueJobsAreRecordedOnItsPage(t *testing.T) {
	bk := demoBook(t)
	b := open(t, bk.serve().addr, phone, "/")
	c, w := b.card("turn", "drying/A/1"), b.card("weigh", "drying/A/1")
	before := bk.log()
	b.goTo("/wheel/" + c.Wheels[0])
	b.shoot("phone-wheel-due")
	b.tap(`document.querySelector(".rows a[href='#do-check']")`)
	b.until(`document.getElementById("do-check").open && document.activeElement.closest("#do-check") !== null`)
	b.tap(`document.querySelector(".rows form [value=turn] ~ button")`)
	comes(t, "the turn", func() bool { return len(bk.since(before)) == 1 })
	b.goTo("/wheel/" + w.Wheels[1])
	js[any](b, `(() => { document.getElementById("c-cracks").closest("details").open = true; })()`)
	js[any](b, `(() => { document.getElementById("c-cracks").value = "no"; document.getElementById("c-at").value = "yesterday 17:45"; })()`)
	js[any](b, `document.querySelector("#do-check form").requestSubmit()`)
	comes(t, "the check", func() bool { return len(bk.since(before)) == 2 })
	for _, e := range bk.since(before) {
		switch at, written := when(t, e.At), when(t, e.Written); {
		case e.Of == c.Wheels[0] && e.What != "turned", e.Of != c.Wheels[0] && e.What != "checked":
			t.Errorf("the book has %+v", e)
		case e.What == "checked" && (at.Format("15:04") != "17:45" || !at.Before(written)):
			t.Errorf("it was yesterday at 17:45: %+v", e)
		}
	}
}

// A phone stores a picture as its chip lay and notes how it was held, and where.
func TestAPhotoGoesOntoAWheelsPageUpright(t *testing.T) {
	bk := demoBook(t)
	b := open(t, bk.serve().addr, phone, "/")
	tag := b.card("turn", "drying/A/1").Wheels[0]
	var jpg bytes.Buffer
	if err := jpeg.Encode(&jpg, image.NewGray(image.Rect(0, 0, 3000, 2000)), nil); err != nil {
		t.Fatal(err)
	}
	exif := "Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06\x00\x00\x00\x00\x00\x00"
	taken := jpg.String()[:2] + "\xff\xe1\x00" + string(rune(len(exif)+2)) + exif + jpg.String()[2:]
	file := filepath.Join(t.TempDir(), "rind.jpg")
	if err := os.WriteFile(file, []byte(taken), 0o600); err != nil {
		t.Fatal(err)
	}
	for i, note := range []string{"a blue spot", "it has gone"} {
		b.goTo("/wheel/" + tag)
		js[any](b, `(() => { document.getElementById("do-note").open = true; })()`)
		b.upload("#n-photo", file)
		b.fill(`document.getElementById("n-text")`, note)
		js[any](b, `document.querySelector("#do-note form").requestSubmit()`)
		b.until(fmt.Sprintf(`document.querySelectorAll(".shots li").length === %d && document.getElementById("told") !== null`, i+1))
	}
	size := js[string](b, `(async () => {
		const img = new Image(); img.src = document.querySelector(".shots img").src; await img.decode();
		return img.naturalWidth + " x " + img.naturalHeight; })()`)
	if size != "1067 x 1600" {
		t.Errorf("the photo is %s", size)
	}
	b.shoot("phone-wheel-photos")
	b.goTo("/wheel/" + tag + "#do-note")
	text := filepath.Join(t.TempDir(), "IMG_1.HEIC")
	if err := os.WriteFile(text, []byte("\x00\x00\x00\x18ftypheic"), 0o600); err != nil {
		t.Fatal(err)
	}
	b.upload("#n-photo", text)
	b.fill(`document.getElementById("n-text")`, "another")
	js[any](b, `document.querySelector("#do-note form").requestSubmit()`)
	b.until(`document.querySelector("#do-note .wrong")?.textContent.includes("set the phone’s camera to JPEG")`)
}

// A finger on the curve, or the arrow keys on the slider under it, choose a weighing.
func TestTheCurveAnswersAFinger(t *testing.T) {
	bk := demoBook(t)
	b := open(t, bk.serve().addr, phone, "/")
	tag := b.card("weigh", "drying/A/1").Wheels[0]
	b.goTo("/wheel/" + tag)
	said := `document.querySelector(".at output").textContent`
	b.until(said + ` !== ""`)
	last := js[string](b, said)
	if !regexp.MustCompile(`^[A-Z][a-z]{2} \d+ [A-Z][a-z]{2}: \d+ g, loss [\d.]+ %, expected [\d.]+ to [\d.]+$`).MatchString(last) {
		t.Errorf("the last weighing is said as %q", last)
	}
	js[any](b, `(() => {
		const img = document.querySelector(".touch img"), r = img.getBoundingClientRect();
		const at = { clientX: r.left + 0.05 * r.width, clientY: r.top + 0.6 * r.height, bubbles: true, pointerType: "touch" };
		img.dispatchEvent(new PointerEvent("pointerdown", at)); })()`)
	first := js[string](b, said)
	if first == last || strings.Contains(first, "expected") || !strings.Contains(first, "loss 0.0 %") {
		t.Errorf("a finger at the left chose %q", first)
	}
	js[any](b, `document.querySelector(".at input").focus()`)
	b.keys(kb.ArrowRight)
	if next := js[string](b, said); next == first || next != js[string](b, `document.querySelector(".at input").getAttribute("aria-valuetext")`) {
		t.Errorf("the arrow chose %q", next)
	}
}

// So do the curves of a lot, and the air of a room.
func TestALotsCurvesAndARoomsAirAnswerAFinger(t *testing.T) {
	bk := demoBook(t)
	bk.run("air", "log", "drying", "12.1C", "82%", "--at", "yesterday 08:00")
	bk.run("air", "log", "drying", "12.6C", "79%", "--at", "yesterday 18:00")
	b := open(t, bk.serve().addr, phone, "/")
	tag := b.card("weigh", "drying/A/1").Wheels[0]
	for _, c := range []struct{ path, said string }{
		{"/lot/" + tag[:strings.LastIndex(tag, "-")], `^[0-9A-Z]+-\d+, [A-Z][a-z]{2} \d+ [A-Z][a-z]{2}: \d+ g, loss [\d.]+ %`},
		{"/room/drying", `^[A-Z][a-z]{2} \d+ [A-Z][a-z]{2} \d\d:\d\d: (temperature [\d.]+ C|humidity [\d.]+ %)$`},
	} {
		b.goTo(c.path)
		all := `[...document.querySelectorAll(".touch")].at(-1)`
		said := "(" + all + `.querySelector(".at output")?.textContent ?? "")`
		b.until(said + ` !== ""`)
		last := js[string](b, said)
		if !regexp.MustCompile(c.said).MatchString(last) {
			t.Errorf("%s says %q", c.path, last)
		}
		js[any](b, `(() => {
			const img = `+all+`.querySelector("img"), r = img.getBoundingClientRect();
			const at = { clientX: r.left + 0.1 * r.width, clientY: r.top + 0.3 * r.height, bubbles: true, pointerType: "touch" };
			img.dispatchEvent(new PointerEvent("pointerdown", at)); })()`)
		if first := js[string](b, said); first == last || !regexp.MustCompile(c.said).MatchString(first) {
			t.Errorf("%s: a finger at the left chose %q", c.path, first)
		}
	}
}

// What was done an hour ago is tapped now, on the round and on a wheel's page.
func TestWhatWasDoneEarlierCarriesItsTime(t *testing.T) {
	bk := demoBook(t)
	b := open(t, bk.serve().addr, phone, "/")
	c, later, w := b.card("turn", "drying/A/1"), b.card("turn", "drying/A/2"), b.card("weigh", "drying/A/1")
	before := bk.log()
	b.tap(`document.querySelector("#earlier summary")`)
	said := js[string](b, `(() => {
		const at = new Date(Date.now() - 3600e3), local = new Date(at - at.getTimezoneOffset() * 60e3).toISOString().slice(0, 16);
		document.getElementById("earlier-at").value = local;
		document.getElementById("earlier-at").dispatchEvent(new Event("change"));
		return new Date(local).toISOString(); })()`)
	b.until(`document.querySelector(".earlier strong").checkVisibility()`)
	b.shoot("phone-earlier")
	b.do(bk, c)
	b.begin(w, "all", "pad")
	b.until(`document.querySelector("#pad [data-earlier]").checkVisibility()`)
	b.press(`document.getElementById("pad")`, "close")
	b.tap(`document.getElementById("earlier-now")`)
	b.until(`!document.querySelector(".earlier").checkVisibility()`)
	b.do(bk, later)
	b.allSent()
	for _, e := range bk.since(before) {
		early := when(t, e.At).Equal(when(t, said))
		if slices.Contains(c.Wheels, e.Of) != early || e.What != "turned" {
			t.Errorf("%s was said for the wheels of %v, and the book has %+v", said, c.Wheels, e)
		}
	}
	before = bk.log()
	b.goTo("/wheel/" + c.Wheels[0])
	js[any](b, `(() => { document.getElementById("due-at").closest("details").open = true;
		document.getElementById("due-at").value = "yesterday 25:00"; })()`)
	due := `document.querySelector(".rows form button")`
	b.until(due)
	b.tap(due)
	b.until(`document.getElementById("due-at").getAttribute("aria-invalid") === "true"`)
	js[any](b, `(() => { document.getElementById("due-at").value = "00:05"; })()`)
	b.expect("status of 400")
	b.tap(due)
	comes(t, "the job", func() bool { return len(bk.since(before)) == 1 })
	if e := bk.since(before)[0]; when(t, e.At).Format("15:04") != "00:05" {
		t.Errorf("it was done at 00:05, and the book has %+v", e)
	}
}
