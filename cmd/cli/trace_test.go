package cli

import (
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// tracedWorld has a vat split in two lots, customers, a piece sent, a wheel
// lost, one held and air that was read.
func tracedWorld(t testing.TB) *world {
	w := newWorld(t).kept()
	w.must("make new --variety tomme --lot 261111A --wheels 2 --weight 1.6kg --place drying/A/2 --on 2026-11-11 --quiet")
	w.must("make log 261110A milk --litres 90 --source Hill --species cow --treatment pasteurised --heat 72C --heat-for " +
		"15s --lot M1 --at 2026-11-10T06:00 --quiet")
	w.must("make log 261110A ingredient --kind culture --name meso --lot C77 --supplier House --amount 2g --at " +
		"2026-11-10T07:00 --quiet")
	w.must("make log 261110A curd --weight 10kg --at 2026-11-10T09:00 --quiet")
	w.must("make log 261110A set-aside --weight 1kg --for tomme --into 261111A --at 2026-11-11T08:00 --quiet")
	w.must("make log 261110A salt --weight 160g --where curd --at 2026-11-10T11:00 --quiet")
	w.must("air log drying 12.1C 84% --at 2026-11-12T08:00 --quiet")
	w.must("customer new Shop --contact 555-0100 --address Elmfold")
	w.must("wheel send 261110A-01 --to shop --weight 2kg --document DN-1 --at 2026-11-20T10:00 --quiet")
	w.must("wheel send 261110A-02 --part --weight 300g --to Lab --at 2026-11-21T10:00 --quiet")
	w.must("wheel lost 261110A-03 --why blown --at 2026-11-22T10:00 --quiet")
	w.must("wheel hold 261110A-04 --why tests --kind quality --at 2026-11-22T11:00 --quiet")
	return w
}

func TestTheDocumentsOfTraceCustomersAndStockKeepTheirFields(t *testing.T) {
	w := tracedWorld(t)
	for _, c := range []struct{ name, line string }{
		{"trace", "trace 261110A"},
		{"trace-room", "trace --room drying --from 2026-11-12 --to 2026-11-13"},
		{"stock", "stock"},
		{"customer", "customer new Lab --contact 555-0101"},
		{"customer-show", "customer show Lab"},
		{"customer-list", "customer list"},
	} {
		var v map[string]any
		w.doc(&v, c.line)
		if s, _ := v["schema"].(string); !regexp.MustCompile(`^rindkeep/[a-z-]+/1$`).MatchString(s) {
			t.Errorf("rindkeep %s --json: schema is %q", c.line, s)
		}
		golden(t, filepath.Join("json", c.name+".txt"), strings.Join(shapeOf(v), "\n")+"\n")
	}
}

// foundDoc is what the tests look at of a trace.
type foundDoc struct {
	Totals struct{ Lots, Wheels, Here, Sent, Lost, Deliveries, Customers int }
	Lots   []struct {
		Lot, Reach string
		Air        []struct {
			Room, From, To string
			Readings       int
			Temp           struct{ Min, Mean, Max *float64 } `json:"temp_c"`
		}
		Hands []struct {
			By      string
			Entries int
		}
	}
	Deliveries []struct{ Wheel, Customer, Date, Document string }
}

func (w *world) found(args ...string) (d foundDoc) {
	w.t.Helper()
	w.doc(&d, "trace "+strings.Join(args, " "))
	return d
}

func TestWhatWasStruckIsNoPartOfATrace(t *testing.T) {
	w := tracedWorld(t)
	before := w.found("261110A")
	w.must("wheel send 261110A-04 --to Shop --weight 2kg --override sample --at 2026-11-23T10:00 --quiet")
	w.must("strike last --why wrong --quiet")
	w.must("make log 261110A ingredient --name rennet --lot R1 --at 2026-11-10T08:00 --quiet")
	w.must("strike last --why wrong --quiet")
	w.must("wheel move 261110A-04 drying/A/3 --at 2026-11-23T11:00 --quiet")
	w.must("strike last --why wrong --quiet")
	same(t, "the trace after everything was struck again", w.found("261110A"), before)
	w.want(exitNotFound, `no ingredient or milk lot "R1"`, "trace", "--ingredient", "R1")
	var shop foundDoc
	w.doc(&shop, "trace --customer Shop")
	same(t, "what the shop had", len(shop.Deliveries), 1)
	// A setting aside that was struck leaves the two lots apart.
	w.must("make log 261111A step --stage turned --at 2026-11-11T12:00 --quiet")
	same(t, "lots while the curd went over", w.found("261110A").Totals.Lots, 2)
	for _, e := range w.logged("261110A") {
		if strings.Contains(e.Detail, "261111A") {
			w.must("strike " + e.ID + " --why wrong --quiet")
		}
	}
	same(t, "lots after the setting aside was struck", w.found("261110A").Totals.Lots, 1)
	same(t, "lots traced back after it was struck", w.found("261111A").Totals.Lots, 1)
	w.sound()
}

func (w *world) logged(lot string) []struct{ ID, Detail, Kind string } {
	w.t.Helper()
	var d struct {
		Entries []struct{ ID, Detail, Kind string }
	}
	w.doc(&d, "log "+lot+" --kind logged")
	return d.Entries
}

func TestATraceFollowsCurdBothWaysAndCountsOnlyWhatItConcerns(t *testing.T) {
	w := tracedWorld(t)
	type sum struct {
		Lots                   string
		Wheels, Here, Sent     int
		Lost, Deliveries, Cust int
	}
	for _, c := range []struct {
		name string
		args []string
		want sum
	}{
		{"a lot, and the lot its curd went into", []string{"261110A"},
			sum{"261110A asked, 261111A curd-into", 6, 4, 1, 1, 2, 2}},
		{"the lot the curd went into, and back", []string{"261111A"},
			sum{"261111A asked, 261110A curd-from", 2, 2, 0, 0, 0, 0}},
		{"a wheel is no more than itself", []string{"261110A-01"}, sum{"261110A asked", 1, 0, 1, 0, 1, 1}},
		{"two wheels of two lots", []string{"261110A-01,261111A-02"}, sum{"261110A asked, 261111A asked", 2, 1, 1, 0, 1, 1}},
		{"a wheel and its whole lot is the lot", []string{"261110A-01", "261110A"},
			sum{"261110A asked, 261111A curd-into", 6, 4, 1, 1, 2, 2}},
		{"a milk lot, spelt in another case", []string{"--ingredient", "m1"},
			sum{"261110A asked, 261111A curd-into", 6, 4, 1, 1, 2, 2}},
		{"a customer that nobody wrote down", []string{"--customer", "lab"}, sum{"261110A asked", 1, 1, 0, 0, 1, 1}},
		{"a room before the second lot lay there", []string{"--room", "drying", "--from", "2026-11-10", "--to", "2026-11-10"},
			sum{"261110A asked", 4, 2, 1, 1, 2, 2}},
		{"a room on the day a wheel left", []string{"--room", "drying", "--from", "2026-11-20", "--to", "2026-11-20"},
			sum{"261110A asked, 261111A asked", 6, 4, 1, 1, 2, 2}},
		{"a room on the day after", []string{"--room", "drying", "--from", "2026-11-21", "--to", "2026-11-21"},
			sum{"261110A asked, 261111A asked", 5, 4, 0, 1, 1, 1}},
		{"a room before there was anything", []string{"--room", "drying", "--from", "2026-10-01", "--to", "2026-10-02"},
			sum{}},
	} {
		d := w.found(c.args...)
		var lots []string
		for _, l := range d.Lots {
			lots = append(lots, l.Lot+" "+l.Reach)
		}
		n := d.Totals
		same(t, c.name, sum{strings.Join(lots, ", "), n.Wheels, n.Here, n.Sent, n.Lost, n.Deliveries, n.Customers}, c.want)
	}
}

func TestTheAirOfATraceIsThatOfTheDaysAWheelLayThere(t *testing.T) {
	w := tracedWorld(t)
	w.must("room new cave --temp 9C --rh 90% --quiet")
	w.must("wheel move 261110A-04 cave --at 2026-11-14T09:00 --quiet")
	w.must("air log drying 15C 80% --at 2026-11-16T08:00 --quiet") // after it left, before its sister did
	type spell struct {
		Room, From, To string
		Readings       int
		Max            float64
	}
	for _, c := range []struct {
		wheel string
		want  []spell
	}{
		{"261110A-01", []spell{{"drying", "2026-11-10", "2026-11-20", 2, 15}}},
		{"261110A-04", []spell{{"drying", "2026-11-10", "2026-11-14", 1, 12.1}, {"cave", "2026-11-14", "2026-11-25", 0, 9}}},
	} {
		var got []spell
		for _, a := range w.found(c.wheel).Lots[0].Air {
			got = append(got, spell{a.Room, a.From, a.To, a.Readings, *a.Temp.Max})
		}
		same(t, "the air of "+c.wheel, got, c.want)
	}
	out := w.must("trace 261110A-04 --quiet")
	if !strings.Contains(out, "cave, 2026-11-14 to now: not read; set to 9.0 °C, 90 %") {
		t.Errorf("a room that was not read is not said to be:\n%s", out)
	}
}

func TestAWheelEnteredByMistakeIsInNoTrace(t *testing.T) {
	w := tracedWorld(t)
	w.must("wheel void 261111A-02 --why miscounted --quiet")
	var d struct {
		Totals struct{ Wheels, Sent int }
		Lots   []struct {
			OfLot int `json:"wheels_of_lot"`
		}
	}
	w.doc(&d, "trace 261111A")
	same(t, "wheels, sent, of the lot", []int{d.Totals.Wheels, d.Totals.Sent, d.Lots[0].OfLot}, []int{1, 0, 1})
}

func TestTheDocumentOfAWheelSentThoughHeldIsInItsTrace(t *testing.T) {
	w := tracedWorld(t)
	w.must("wheel send 261110A-04 --to Shop --document DN-9 --override sample --note cold --at 2026-11-23T10:00 --quiet")
	d := w.found("261110A-04")
	same(t, "the document of one sent although held", d.Deliveries[0].Document, "DN-9")
	w.want(exitUsage, "no semicolon", "wheel", "send", "261111A-01", "--to", "Shop", "--document", "a;b")
}

func TestNoCellOfATableIsTakenForAFormula(t *testing.T) {
	w := tracedWorld(t)
	w.run("wheel", "send", "261111A-01", "--to", "=HYPERLINK(1)", "--override", "test", "--at", "2026-11-23T10:00")
	out := w.must("trace 261111A-01 --recall -")
	want := "wheel,lot,customer,contact,address,date,weight_g,whole_or_piece,document\n261111A-01,26111" +
		"1A,'=HYPERLINK(1),,,2026-11-23,,whole,\n"
	if d := cmp.Diff(want, out); d != "" {
		t.Error(d)
	}
}

func TestASendingTakesTheCustomersOwnSpellingAndSaysOnceWhoIsNotWrittenDown(t *testing.T) {
	w := tracedWorld(t)
	send := func(to string, more ...string) ran {
		return w.run(
			append([]string{"wheel", "send", "261111A-01,261111A-02", "--to", to, "--at", "2026-11-23T10:00"}, more...)...)
	}
	r := send("Shopp")
	same(t, "a name near one that is written down", ran{r.Code, "", r.Err}, ran{exitRefused, "",
		"rindkeep: no customer \"Shopp\" is saved\nhint: did you mean Shop? if it is right, repeat with --sure\n"})
	r = send("Shopp", "--sure", "--quiet")
	same(t, "one that is sure, with --quiet", ran{r.Code, "", r.Err}, ran{exitDone, "", ""})
	w.must("strike last --why wrong --quiet")
	r = send("Laboratory")
	same(t, "what it says of a name that is not written down", r.Err,
		"no customer \"Laboratory\" is saved: rindkeep customer new Laboratory --contact TEXT --address TEXT\n")
	w.must("strike last --why wrong --quiet")
	r = w.run("wheel", "send", "261111A-01", "--to", "SHOP", "--at", "2026-11-23T10:00")
	same(t, "what it says of one that is", r.Err, "")
	same(t, "its name in the trace", w.found("261111A-01").Deliveries[0].Customer, "Shop")
}

func TestATraceOfHostileWordsReachesNoTerminalRaw(t *testing.T) {
	w := tracedWorld(t)
	for _, word := range []string{"a\x1b[2Jb", strings.Repeat("x", 10_000), "\u202eabc", "a\xffb", "", " ", ",", "*",
		"'; rm"} {
		for _, flag := range []string{"", "--ingredient", "--customer", "--room"} {
			args := []string{"trace"}
			if flag != "" {
				args = append(args, flag)
			}
			args = append(args, word)
			if flag == "--room" {
				args = append(args, "--from", "mon", "--to", "today")
			}
			r := w.run(args...)
			if r.Code != exitRefused && r.Code != exitUsage && r.Code != exitNotFound {
				t.Errorf("trace %s %.20q: exit code %d\n%s", flag, word, r.Code, r.Out)
			}
			r.plain(t, fmt.Sprintf("trace %s %.20q", flag, word))
		}
		w.run("customer", "new", word).plain(t, fmt.Sprintf("customer new %.20q", word))
	}
	for _, word := range []string{"a\x1b[2Jb", strings.Repeat("x", 10_000), "\u202eabc", "a\xffb", "", " "} {
		if r := w.run("customer", "new", word); r.Code != exitRefused {
			t.Errorf("customer new %.20q: exit code %d\n%s%s", word, r.Code, r.Out, r.Err)
		}
		if r := w.run("customer", "new", "Shop", "--address", word+"\x07"); r.Code != exitRefused {
			t.Errorf("customer new Shop --address %.20q: exit code %d\n%s%s", word, r.Code, r.Out, r.Err)
		}
	}
}

// BenchmarkTrace is one lot and one tag out of a book of 50,000 wheels, the
// whole command without the start of the process.
func BenchmarkTrace(b *testing.B) {
	w := newWorld(b)
	w.must("demo --wheels 50000 --book " + w.book + " --quiet")
	var d struct{ Makes []struct{ Lot string } }
	w.doc(&d, "make list --most 0")
	lot := d.Makes[len(d.Makes)-1].Lot
	for _, what := range []string{lot, lot + "-01"} {
		b.Run(strings.Map(func(r rune) rune {
			if r == '-' {
				return '_'
			}
			return r
		}, what), func(b *testing.B) {
			for b.Loop() {
				w.must("trace " + what)
			}
		})
	}
}
