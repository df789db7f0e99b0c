package browsertest

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// pick chooses an answer of a select, as its person would.
func (b *tab) pick(el, value string) {
	b.t.Helper()
	b.until(el)
	const set = `(() => { const s = %s; s.value = %s; s.dispatchEvent(new Event("change", { bubbles: true })); ` +
		`return s.value === %[2]s; })()`
	if !js[bool](b, fmt.Sprintf(set, el, q(value))) {
		b.t.Fatalf("%s doesn't offer %s", el, value)
	}
}

// faultAt waits until a form says a fault at a field, with what was typed there.
func (b *tab) faultAt(id, typed, says string) {
	b.t.Helper()
	f := "document.getElementById(" + q(id) + ")"
	b.until(fmt.Sprintf(`%s?.getAttribute("aria-invalid") === "true"`, f))
	if v := js[string](b, f+".value"); v != typed {
		b.t.Errorf("%s was %q, and is %q after the fault", id, typed, v)
	}
	said := js[string](b, f+`.getAttribute("aria-describedby").split(" ")`+
		`.map((id) => document.getElementById(id)?.innerText ?? "NO " + id).join(" ")`)
	if !js[bool](b, f+`.closest(".field").querySelector(".wrong").checkVisibility()`) {
		b.t.Errorf("the fault of %s is said elsewhere", id)
	}
	if !strings.Contains(said, says) || strings.Contains(said, "NO ") {
		b.t.Errorf("%s is described by %q, without %q", id, said, says)
	}
	if !js[bool](b, `document.activeElement === `+f) {
		b.t.Errorf("%s hasn't the focus", id)
	}
}

// told waits for what the page says of a form that was sent.
func (b *tab) told(says string) {
	b.t.Helper()
	b.until(`document.getElementById("told")?.innerText.includes(` + q(says) + `)`)
}

// Somebody with an empty book and a phone: the first wheels, a room, a make with its log, and
// a spreadsheet with a slip in it.
func TestABookBeginsOnThePage(t *testing.T) {
	bk := newBook(t)
	bk.run("book", "new")
	s := bk.serve()
	b := open(t, s.addr, phone, "/makes")
	b.expect("status of 422", "status of 400")
	field := func(id string) string { return "document.getElementById(" + q(id) + ")" }
	form := `document.querySelector("main form")`

	b.press(`document.querySelector("main")`, "By questions")
	b.fill(field("start-place"), "my fridge")
	b.pick(field("start-variety"), "tomme")
	b.fill(field("start-wheels"), "2")
	b.fill(field("start-weights"), "2.080, 2095")
	b.press(form, "Save")
	b.faultAt("start-weights", "2.080, 2095", "did you mean 2.080 kg?")
	if v := js[string](b, field("start-place")+".value"); v != "my fridge" {
		t.Errorf("after a fault the place is %q", v)
	}
	b.shoot("phone-start-fault")
	b.fill(field("start-weights"), "2080, 2095")
	b.press(form, "Save")
	b.told("new room fridge")
	b.shoot("phone-start-told")

	b.goTo("/rooms")
	b.press(`document.querySelector("main")`, "New room")
	b.fill(field("room-name"), "cellar")
	b.fill(field("room-temp"), "90")
	b.press(form, "Save")
	b.faultAt("room-temp", "90", "can't be right")
	b.fill(field("room-temp"), "11")
	b.fill(field("room-racks"), "A:5x10")
	b.press(form, "Save")
	b.until(`location.pathname === "/room/cellar"`)
	b.press(`document.querySelector("main")`, "Edit the room")
	b.fill(field("room-rh"), "88")
	b.press(`document.querySelector("form[action='/api/room']")`, "Save")
	b.until(`document.querySelector("main").innerText.includes("88 % humidity")`) // the first save says "room saved" too
	b.told("room saved")
	var room struct {
		Room struct {
			Temp     float64 `json:"temp_c"`
			RHHigh   float64 `json:"rh_high_pct"`
			Capacity int
		}
	}
	bk.read(&room, "room", "show", "cellar")
	if room.Room.Temp != 11 || room.Room.RHHigh != 95 || room.Room.Capacity != 50 {
		t.Errorf("the room is %+v", room)
	}

	b.goTo("/makes/new")
	b.pick(field("make-variety"), "gouda")
	b.fill(field("make-place"), "cellar/A/1")
	b.fill(field("make-wheels"), "2")
	b.press(form, "Save")
	b.until(`location.pathname.startsWith("/lot/") && document.getElementById("told")`)
	lot := js[string](b, `location.pathname.slice(5)`)
	log := `document.querySelector("form[action='/api/log']")`
	b.press(`document.querySelector("main")`, "Add to the make log")
	b.fill(field("log-source"), "Hill Farm")
	b.press(log, "Save line")
	b.until(log + `.querySelector(".wrong")`)
	b.faultAt("log-litres", "", "volume")
	b.fill(field("log-litres"), "40,5")
	b.press(log, "Save line")
	b.told("40.5 l")
	b.press(`document.querySelector("main")`, "Add to the make log")
	b.pick(field("log-what"), "acidity")
	if js[bool](b, field("log-litres")+".checkVisibility()") {
		t.Error("the acidity asks for litres")
	}
	b.fill(field("log-ph"), "6,45")
	b.fill(field("log-stage"), "renneting")
	b.press(log, "Save line")
	b.told("6.45")
	var sheet struct {
		Log []struct {
			What   string
			Litres float64 `json:"milk_l"`
			PH     float64 `json:"ph"`
		}
	}
	if bk.read(&sheet, "make", "show", lot); len(sheet.Log) != 2 || sheet.Log[0].Litres+sheet.Log[1].Litres != 40.5 {
		t.Errorf("the log is %+v", sheet)
	}

	file := filepath.Join(t.TempDir(), "cave.csv")
	table := func(made string) {
		text := "My cave\nTag;Sort;Made;Old shelf;Where\n" +
			"T-1;Tome;" + made + ";9;cellar/A/2\nT-2;Tome;" + made + ";9;cellar/A/2\n"
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	table("2026-13-01")
	b.goTo("/import")
	b.upload("#import-file", file)
	b.press(form, "Look through it")
	b.until(`document.getElementById("look-h")?.innerText.includes("can’t be recorded")`)
	for _, want := range []string{"cave.csv has 2 problems", "line 3, column C; line 4"} {
		if words := b.text(); !strings.Contains(words, want) {
			t.Errorf("the faults lack %q:\n%s", want, words)
		}
	}
	b.shoot("phone-import-fault")
	table("2026-10-01")
	b.upload("#import-file", file)
	b.pick(`document.querySelector("#look select[data-heading=Sort]")`, "variety")
	b.press(`document.getElementById("look")`, "Look through it again")
	b.pick(`document.querySelector("#look select[data-answer='kinds.Tome']")`, "tomme")
	b.press(`document.getElementById("look")`, "Look through it again")
	b.until(`document.getElementById("look-h")?.innerText === "This would be recorded"`)
	if words := b.text(); !strings.Contains(words, "would record from 2 rows: 1 new lot, 2 new wheels") {
		t.Errorf("it would be\n%s", words)
	}
	b.shoot("phone-import-look")
	for _, w := range js[[]string](b, wide) {
		t.Errorf("the preview: %s", w)
	}
	b.rules("import", axeCore(t))
	b.fill(`document.getElementById("answer-mapping")`, "old shelves")
	b.press(`document.getElementById("look")`, "Record it")
	b.told("recorded from 2 rows")
	var list struct{ Wheels []struct{ Wheel string } }
	if bk.read(&list, "wheel", "list", "cellar/A/2"); len(list.Wheels) != 2 || list.Wheels[0].Wheel != "T-1" {
		t.Errorf("the shelf has %+v", list)
	}
	b.goTo("/import")
	if s := js[string](b, `document.querySelector("#import [name=mapping]:enabled").innerText`); !strings.Contains(s, "old shelves") {
		t.Errorf("what was said of the table isn't kept for the next: %s", s)
	}
}
