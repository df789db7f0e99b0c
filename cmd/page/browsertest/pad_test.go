package browsertest

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// onPad types a weight on the pad's own keys.
func (b *tab) onPad(figures string) {
	b.t.Helper()
	for _, k := range figures {
		b.tap(fmt.Sprintf(`document.querySelector("#pad [data-key='%c']")`, k))
	}
}

const answered = `!document.getElementById("pad-answer").hidden && document.getElementById("pad-answer").textContent`

// Somebody new weighs a wheel, learns that it is dry enough, and waxes it.
func TestAWheelIsWeighedFoundDryAndWaxed(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	before := bk.log()
	b := open(t, s.addr, phone, "/")
	place := "drying/A/2"
	tag := bk.lot(place) + "-01"
	if c := b.card("weigh", place); c.Wheels[0] != tag {
		t.Fatalf("the demo has %v there", c.Wheels)
	}
	g := bk.likely(tag)
	b.begin(b.card("weigh", place), "all", "pad")
	b.until(`document.getElementById("pad-tag").value === ` + q(tag))
	b.shoot("phone-pad")
	b.onPad(fmt.Sprint(g))
	if v := js[string](b, `document.getElementById("pad-figure").textContent`); v != fmt.Sprint(g) {
		t.Errorf("typed %d, the pad shows %q", g, v)
	}
	b.press(`document.getElementById("pad")`, "save")
	b.until(answered + `.includes("DRY ENOUGH")`)
	b.shoot("phone-pad-answer")
	answer := js[string](b, `document.getElementById("pad-answer").innerText`)
	for _, word := range []string{tag, fmt.Sprintf("%d g",
		g), "loss ", "on its curve", "dry enough to coat? DRY ENOUGH", "coat it by"} {
		if !strings.Contains(answer, word) {
			t.Errorf("the answer does not say %q:\n%s", word, answer)
		}
	}
	if next := js[string](b, `document.getElementById("pad-tag").value`); next == tag || next == "" {
		t.Errorf("weighed, the pad stays at %q", next)
	}
	b.press(`document.getElementById("pad")`, "close")

	b.allSent()
	// What was weighed makes it a line apart; before that comes, "all" is the others too.
	b.until(`[...document.querySelectorAll(".card[data-job=coat]")].some((c) => c.dataset.wheels === ` +
		q(`["`+tag+`"]`) + `)`)
	b.begin(b.card("coat", place, tag), "all", "coat")
	b.shoot("phone-coat")
	if !strings.Contains(js[string](b, `document.getElementById("coat").innerText`), "hot wax burns") {
		t.Error("no caution at the wax")
	}
	b.tap(`document.getElementById("coat-before")`)
	b.keys(fmt.Sprint(g))
	b.tap(`document.getElementById("coat-after")`)
	b.keys(fmt.Sprint(g + 40))
	b.tap(`document.getElementById("coat-keep")`)
	b.until(`!` + isOpen("coat") + ` || document.getElementById("coat-before").value === ""`)
	if js[bool](b, isOpen("coat")) { // there are more wheels in the line
		b.press(`document.getElementById("coat")`, "close")
	}
	b.allSent()
	b.until(`[...document.querySelectorAll(".card[data-job=coat] .who")].some((x) => x.textContent.endsWith("40 g of ` +
		`wax"))`)
	var doc struct {
		Stage string   `json:"stage"`
		Coat  *float64 `json:"coat_g"`
	}
	bk.read(&doc, "wheel", "show", "--", tag)
	if doc.Coat == nil || *doc.Coat != 40 || doc.Stage == "drying" {
		t.Errorf("waxed with 40 g, the book says %+v", doc)
	}
	var kinds []string
	for _, e := range bk.since(before) {
		kinds = append(kinds, e.did())
	}
	if want := []string{"weighed " + tag, "coated " + tag}; !slices.Equal(kinds, want) {
		t.Errorf("the book has %v, want %v", kinds, want)
	}
}

// Before a weight is typed the pad says what the wheel weighed last and what is expected
// now, also without signal; what the scale says then is within it.
func TestThePadSaysWhatIsExpected(t *testing.T) {
	bk := demoBook(t)
	a := bk.serve().air()
	b := open(t, a.url(), phone, "/")
	b.expect(noSignal...)
	b.atHand()
	c := b.card("weigh", "drying/A/1")
	b.until(`(localStorage.getItem("rindkeep.before") ?? "").includes(` + q(c.Wheels[0]) + `)`)
	a.goes(b)
	b.reload()
	b.begin(c, "all", "pad")
	says := js[string](b, `document.getElementById("pad-before").textContent`)
	m := regexp.MustCompile(`^last (\d+) g on \d+ \w+; now probably (\d+) g to (\d+) g$`).FindStringSubmatch(says)
	if m == nil {
		t.Fatalf("the pad says %q", says)
	}
	b.shoot("phone-pad-before")
	last, _ := strconv.Atoi(m[1])
	low, _ := strconv.Atoi(m[2])
	high, _ := strconv.Atoi(m[3])
	if is := bk.likely(c.Wheels[0]); low > high || high > last || float64(is) < 0.97*float64(low) || float64(is) > 1.03*float64(high) {
		t.Errorf("it says %q, the wheel weighs %v", says, is)
	}
}

func TestADoubtfulWeightIsAskedBack(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	before := bk.log()
	b := open(t, s.addr, phone, "/")
	b.expect("status of 422")
	tag := bk.lot("drying/A/2") + "-01"
	heavy := bk.likely(tag) + 180
	weigh := func() {
		t.Helper()
		b.keys(fmt.Sprint(heavy))
		b.keys("\r")
		b.until(answered + `.includes("looks wrong")`)
	}
	b.begin(b.card("weigh", "drying/A/2"), "all", "pad")
	b.until(`document.getElementById("pad-tag").value === ` + q(tag))
	weigh()
	b.until(`document.getElementById("pad-tag").value === ` + q(tag)) // it was on the next, and is back
	b.shoot("phone-pad-doubt")
	if n := len(bk.since(before)); n != 0 {
		t.Errorf("a doubtful weight is in the book before anybody said it is right: %d entries", n)
	}
	// Weigh again: the wheel is there once more and nothing is kept.
	b.press(`document.getElementById("pad-answer")`, "weigh again")
	b.until(`document.getElementById("pad-tag").value === ` + q(tag) + ` && document.getElementById("pad-answer").hidden`)
	if n := len(bk.since(before)); n != 0 {
		t.Errorf("to be weighed again, it is in the book: %d entries", n)
	}
	weigh()
	b.press(`document.getElementById("pad-answer")`, "It’s right")
	b.until(answered + `.includes("DOUBTFUL")`)
	b.until(`document.getElementById("pad-tag").value !== ` + q(tag)) // and goes on to the next
	b.allSent()
	es := bk.since(before)
	if len(es) != 1 || es[0].Of != tag || es[0].Weight == nil || *es[0].Weight != float64(heavy) {
		t.Errorf("said to be right, the book has %+v", es)
	}
}

// A corrected figure typed at once is the refused wheel's, and takes the place of
// what was refused.
func TestAFigureTypedAfterADoubtIsTheSameWheels(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	before := bk.log()
	b := open(t, s.addr, phone, "/")
	b.expect("status of 422")
	tag := bk.lot("drying/A/2") + "-01"
	g := bk.likely(tag)
	b.begin(b.card("weigh", "drying/A/2"), "all", "pad")
	b.until(`document.getElementById("pad-tag").value === ` + q(tag))
	b.keys(fmt.Sprint(g + 180))
	b.keys("\r")
	b.until(answered + `.includes("looks wrong")`)
	b.keys(fmt.Sprint(g))
	b.keys("\r")
	b.until(answered + `.includes("on its curve")`)
	b.until(`document.getElementById("pad-tag").value !== ` + q(tag))
	b.allSent()
	es := bk.since(before)
	if len(es) != 1 || es[0].Of != tag || es[0].Weight == nil || *es[0].Weight != float64(g) {
		t.Errorf("the book has %+v", es)
	}
}

func TestAnyWheelIsWeighedByItsTag(t *testing.T) {
	bk := demoBook(t)
	s := bk.serve()
	before := bk.log()
	b := open(t, s.addr, phone, "/")
	b.expect("status of 404")
	lot := bk.lot("cellar/C/2")
	tag := lot + "-03" // not to be weighed today
	g := bk.likely(tag)
	b.tap(`document.getElementById("any")`)
	b.until(`document.getElementById("pad").open && document.activeElement.id === "pad-tag"`)
	b.keys(lot + "-99\r")
	b.keys(fmt.Sprint(g))
	b.press(`document.getElementById("pad")`, "save")
	b.until(answered + `.includes(` + q(lot+"-99") + `) && document.querySelector("#pad-answer button")`)
	b.press(`document.getElementById("pad-answer")`, "delete")
	b.press(`document.getElementById("ask")`, "Delete")
	b.until(`!document.getElementById("ask").open && document.getElementById("pad-answer").hidden`)
	b.tap(`document.getElementById("pad-tag")`)
	b.fill(`document.getElementById("pad-tag")`, tag)
	b.until(`document.getElementById("pad-where").textContent === "not on today's list"`)
	b.keys("\r")
	b.onPad(fmt.Sprint(g))
	b.press(`document.getElementById("pad")`, "save")
	b.until(answered + `.includes(` + q(tag) + `)`)
	b.allSent()
	es := bk.since(before)
	if len(es) != 1 || es[0].Of != tag || es[0].Weight == nil || *es[0].Weight != float64(g) {
		t.Errorf("the book has %+v", es)
	}
}
