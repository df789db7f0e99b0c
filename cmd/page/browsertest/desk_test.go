package browsertest

import (
	"fmt"
	"strings"
	"testing"
)

// Wherever a form refuses, the words are there and the field is marked.
func TestTheDeskWritesAndRefuses(t *testing.T) {
	bk := lookBook(t)
	s := bk.serve()
	before := bk.log()
	tag := bk.lot("drying/A/2") + "-02"
	b := open(t, s.addr, desk, "/wheel/"+tag)
	b.expect("status of 422")
	g := bk.likely(tag)
	b.fill(`document.getElementById("w-weight")`, fmt.Sprint(g+180))
	b.press(`document.querySelector("form[action='/api/weigh']")`, "Weigh")
	b.until(`document.querySelector("form[action='/api/weigh'] .came .wrong")?.textContent.includes("looks wrong")`)
	b.shoot("desk-wheel-doubt")
	if n := len(bk.since(before)); n != 0 {
		t.Errorf("refused, the book has %d entries", n)
	}
	b.fill(`document.getElementById("w-weight")`, fmt.Sprint(g))
	b.press(`document.querySelector("form[action='/api/weigh']")`, "Weigh")
	b.until(`document.getElementById("told")?.innerText.includes("dry enough to coat? DRY ENOUGH")`)
	b.shoot("desk-wheel-told")
	if es := bk.since(before); len(es) != 1 || *es[0].Weight != float64(g) {
		t.Errorf("the book has %+v", es)
	}
	b.press(`document.getElementById("told")`, "Undo")
	b.until(`document.getElementById("told")?.innerText.includes("undone")`)
	for _, e := range bk.since(before) {
		if e.Kind == "weighed" && !e.Struck {
			t.Errorf("taken back, the book has %+v", e)
		}
	}

	b.goTo("/makes/new")
	js[any](b, `(() => { document.getElementById("make-variety").value = "edam"; })()`)
	b.fill(`document.getElementById("make-wheels")`, "3")
	b.fill(`document.getElementById("make-weights")`, "1801, 1822, 1795")
	b.fill(`document.getElementById("make-place")`, "drying/C/1")
	b.press(`document.querySelector("main form")`, "Save")
	b.until(`location.pathname.startsWith("/lot/") && document.getElementById("told")`)
	b.shoot("desk-lot-new")
	if words := b.text(); !strings.Contains(words, "1801") || !strings.Contains(words, "drying/C/1") {
		t.Errorf("the new lot's page shows\n%s", words)
	}

	b.goTo("/room/cellar")
	b.fill(`document.getElementById("a-temp")`, "12,1")
	b.fill(`document.getElementById("a-rh")`, "86")
	b.press(`document.querySelector("form[action='/api/air']")`, "Save")
	b.until(`document.getElementById("told")`)
	var air struct {
		Days []struct{ Readings int }
	}
	bk.read(&air, "air", "show", "cellar")
	if n := len(air.Days); n == 0 || air.Days[n-1].Readings == 0 {
		t.Errorf("a reading was noted, the book has %+v", air)
	}
}

// What an act notes and cautions about stands on the page after it.
func TestWhatAnActNotesIsShownAfterIt(t *testing.T) {
	bk := lookBook(t)
	bk.run("law", "follow", "US")
	s := bk.serve()
	tag := bk.lot("drying/A/2") + "-02"
	b := open(t, s.addr, phone, "/wheel/"+tag)
	told := func(act string, words ...string) {
		t.Helper()
		b.until(`document.getElementById("told")`)
		got := js[string](b, `document.getElementById("told").innerText`)
		for _, w := range words {
			if !strings.Contains(got, w) {
				t.Errorf("after %s the page doesn't show %q:\n%s", act, w, got)
			}
		}
		b.shoot("phone-told-" + act)
	}
	send := func(act, set string) {
		t.Helper()
		b.until(`!document.getElementById("told") && document.documentElement.classList.contains("js") && document.readyState === "complete"`)
		js[any](b, fmt.Sprintf(`(() => { const f = document.querySelector("form[action='/api/%[1]s']"); f.closest("details").open = true; %[2]s; f.requestSubmit(); })()`, act, set))
	}
	send("check", `f.elements.mites.value = "yes"`)
	told("check", "brush or wash off mould and mites", "CAUTION: mite and mould dust")
	b.goTo("/wheel/" + tag)
	send("coat", `f.elements.coat.value = "wax"`)
	told("coat", "early: "+tag, "CAUTION: hot wax burns skin")
	b.goTo("/wheel/" + tag)
	send("send", `f.elements.to.value = "Somebody"; f.elements.override.value = "a sample for the laboratory"`)
	told("send", "CAUTION: food for sale")
}

// A make is corrected on its page: only what was changed is sent, an emptied field
// too, and it can be undone; so can its removal.
func TestAMakeIsCorrectedAndRemovedOnItsPage(t *testing.T) {
	bk := lookBook(t)
	s := bk.serve()
	lot := bk.lot("drying/A/2")
	show := func() (d struct {
		Make struct {
			Date   string
			SoldAs string  `json:"sold_as"`
			Litres float64 `json:"milk_l"`
			Wheels int
		}
		Corrections []struct {
			Why     string
			Removed bool
			Changes []struct{ Field string }
		}
	}) {
		bk.read(&d, "make", "show", lot)
		return d
	}
	was := show()
	b := open(t, s.addr, desk, "/lot/"+lot)
	b.expect("status of 422", "status of 400")
	form := `document.querySelector("form[action='/api/correct']")`
	correct := func(fields map[string]string) {
		b.press(`document.querySelector("main")`, "Correct the make")
		js[any](b, `(`+form+`.querySelectorAll("details").forEach((d) => { d.open = true; }), 1)`)
		for id, words := range fields {
			b.fill(`document.getElementById("correct-`+id+`")`, words)
		}
		b.press(form, "Correct")
	}
	correct(map[string]string{"sold_as": "Fell Cheddar", "why": "misread"})
	b.until(`document.getElementById("told")?.innerText.includes("corrected")`)
	d := show()
	if d.Make.SoldAs != "Fell Cheddar" || len(d.Corrections) != 1 || len(d.Corrections[0].Changes) != 1 {
		t.Errorf("corrected, it is %+v", d)
	}
	if words := b.text(); !strings.Contains(words, "Fell Cheddar") || !strings.Contains(words, "misread") {
		t.Errorf("the lot's page shows\n%s", words)
	}
	b.shoot("desk-lot-corrected")
	correct(map[string]string{"sold_as": "", "litres": "31", "why": "no such name"})
	b.until(`document.querySelector("main").innerText.includes("no such name")`)
	if d := show(); d.Make.SoldAs != "" || d.Make.Litres != 31 || len(d.Corrections) != 2 {
		t.Errorf("corrected once more, it is %+v", d)
	}
	b.press(`document.getElementById("told")`, "Undo")
	b.until(`document.getElementById("told")?.innerText.includes("undone")`)
	if d := show(); d.Make.SoldAs != "Fell Cheddar" || d.Make.Litres != was.Make.Litres || len(d.Corrections) != 1 {
		t.Errorf("undone, it is %+v", d)
	}

	b.press(`document.querySelector("main")`, "Remove the make")
	b.fill(`document.getElementById("v-why")`, "entered twice")
	b.press(`document.querySelector("form[action='/api/void']")`, "Remove lot "+lot)
	b.until(`document.querySelector("form[action='/api/void'] .came .wrong")?.textContent.includes("looked after")`)
	b.press(`document.querySelector("form[action='/api/void']")`, "It’s right")
	b.until(`document.querySelector("main").innerText.includes("This make was removed as a mistake")`)
	b.shoot("desk-lot-removed")
	if d := show(); len(d.Corrections) != 2 || !d.Corrections[1].Removed {
		t.Errorf("removed, it is %+v", d)
	}
	b.press(`document.getElementById("told")`, "Undo")
	b.until(`document.getElementById("told")?.innerText.includes("undone")`)
	if d := show(); len(d.Corrections) != 1 {
		t.Errorf("the removal undone, it is %+v", d)
	}
}
