package wheel

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"pgregory.net/rapid"

	"rindkeep/cave/quantity"
)

// names gives the entries' notes, in order.
func names(es []Entry) string {
	var out []string
	for _, e := range es {
		out = append(out, e.Note)
	}
	return strings.Join(out, " ")
}

func TestStrikes(t *testing.T) {
	for _, c := range []struct {
		name  string
		write func(d *diary)
		want  string
	}{
		{"nothing struck", func(d *diary) {
			d.on(0, Entry{Kind: Noted, Note: "a"})
			d.on(1, Entry{Kind: Noted, Note: "b"})
		}, "a b"},
		{"one of two struck", func(d *diary) {
			a := d.on(0, Entry{Kind: Noted, Note: "a"})
			d.on(1, Entry{Kind: Noted, Note: "b"})
			d.strike(2, a)
		}, "b"},
		{"a strike said to have happened before what it strikes", func(d *diary) {
			a := d.on(5, Entry{Kind: Noted, Note: "a"})
			d.strike(0, a)
		}, ""},
		{"struck twice is struck", func(d *diary) {
			a := d.on(0, Entry{Kind: Noted, Note: "a"})
			d.strike(1, a)
			d.strike(2, a)
		}, ""},
		{"a strike that was struck does not count", func(d *diary) {
			a := d.on(0, Entry{Kind: Noted, Note: "a"})
			s := d.strike(1, a)
			d.strike(2, s)
		}, "a"},
		{"a strike of the strike of a strike counts again", func(d *diary) {
			a := d.on(0, Entry{Kind: Noted, Note: "a"})
			s := d.strike(1, a)
			r := d.strike(2, s)
			d.strike(3, r)
		}, ""},
		{"one of two strikes struck leaves the other", func(d *diary) {
			a := d.on(0, Entry{Kind: Noted, Note: "a"})
			s := d.strike(1, a)
			d.strike(2, a)
			d.strike(3, s)
		}, ""},
		{"a strike of what is not there", func(d *diary) {
			d.on(0, Entry{Kind: Noted, Note: "a"})
			d.strike(1, uuid.MustParse("018f0000-0000-7000-8000-00000000dead"))
		}, "a"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var d diary
			c.write(&d)
			for seed := range int64(6) {
				es := shuffled(d.es, seed)
				Sort(es)
				if got := names(Live(es)); got != c.want {
					t.Errorf("live are %q, want %q", got, c.want)
				}
			}
		})
	}
}

// By the definition: an entry is struck where any strike of it is not itself
// struck.
func TestLiveIsWhatTheDefinitionSaysInAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var d diary
		n := rapid.IntRange(1, 20).Draw(t, "entries")
		for i := range n {
			if i > 0 && rapid.Bool().Draw(t, "strike") {
				d.strike(rapid.Float64Range(0, 30).Draw(t, "day"), d.es[rapid.IntRange(0, i-1).Draw(t, "target")].ID)
				continue
			}
			d.on(rapid.Float64Range(0, 30).Draw(t, "day"), Entry{Kind: Noted, Note: "n"})
		}
		var struck func(id uuid.UUID) bool
		struck = func(id uuid.UUID) bool {
			for _, e := range d.es {
				if e.Kind == Struck && e.Target == id && !struck(e.ID) {
					return true
				}
			}
			return false
		}
		want := map[uuid.UUID]bool{}
		for _, e := range d.es {
			if e.Kind != Struck && !struck(e.ID) {
				want[e.ID] = true
			}
		}
		es := shuffled(d.es, rapid.Int64().Draw(t, "order"))
		kept := append([]Entry(nil), es...)
		got := map[uuid.UUID]bool{}
		for _, e := range Live(es) {
			got[e.ID] = true
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatal(diff)
		}
		if diff := cmp.Diff(kept, es); diff != "" {
			t.Fatalf("the entries handed in were changed:\n%s", diff)
		}
	})
}

func TestSortIsByTimeThenWritingThenIDWhateverTheOrder(t *testing.T) {
	at := began.Noon(time.UTC)
	id := func(n byte) uuid.UUID { return uuid.UUID{15: n} }
	want := []Entry{
		{ID: id(9), At: at, Written: at},
		{ID: id(1), At: at, Written: at.Add(time.Minute)},
		{ID: id(2), At: at, Written: at.Add(time.Minute)},
		{ID: id(0), At: at.Add(time.Second), Written: at},
	}
	for seed := range int64(20) {
		got := shuffled(want, seed)
		Sort(got)
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatal(diff)
		}
	}
}

func TestTwoEntriesOfOneFactAreTheSame(t *testing.T) {
	at := began.Noon(time.UTC)
	a := Entry{ID: uuid.UUID{1}, Subject: subject, Kind: Weighed, At: at, Written: at, By: "Orla", Weight: 1942,
		Sure: true}
	b := a
	b.ID, b.Written, b.By, b.Sure = uuid.UUID{2}, at.Add(time.Hour), "Ann", false
	b.At = at.In(time.FixedZone("", 3600))
	if !a.Same(b) || !b.Same(a) {
		t.Error("one weight written down by two people is two facts")
	}
	for name, change := range map[string]func(*Entry){
		"another time": func(e *Entry) { e.At = at.Add(time.Second) }, "another weight": func(e *Entry) { e.Weight = 1943 },
		"another wheel": func(e *Entry) { e.Subject = uuid.UUID{3} }, "another kind": func(e *Entry) { e.Kind = Noted },
		"another note": func(e *Entry) { e.Note = "wet" }, "another job": func(e *Entry) { e.Job = Turn },
	} {
		c := a
		change(&c)
		if a.Same(c) {
			t.Errorf("%s is the same fact", name)
		}
	}
}

func TestWhatAnEntryIsRefusedFor(t *testing.T) {
	at := began.Noon(time.UTC)
	good := Entry{ID: uuid.UUID{1}, Subject: subject, Kind: Weighed, At: at, Written: at, Weight: 1942}
	mustNotFail(t, good.Check())
	for _, c := range []struct {
		name   string
		change func(*Entry)
		want   string
	}{
		{"a kind there is not", func(e *Entry) { e.Kind = 99 }, "unknown {What:kind Word:99 Known:}"},
		{"no kind", func(e *Entry) { e.Kind = 0 }, "unknown {What:kind Word:0 Known:}"},
		{"no identity", func(e *Entry) { e.ID = uuid.Nil }, "missing {What:id}"},
		{"no subject", func(e *Entry) { e.Subject = uuid.Nil }, "missing {What:id}"},
		{"before 1970", func(e *Entry) { e.At = time.Unix(-1, 0) }, "outside {What:year Value:1969 Low:1970 High:9999}"},
		{"a job there is not", func(e *Entry) { e.Kind, e.Job = Did, "polish" }, "unknown {What:job Word:polish Known:}"},
		{"no job passed over", func(e *Entry) { e.Kind = Skipped }, "unknown {What:job Word: Known:}"},
		{"no weight", func(e *Entry) { e.Weight = 0 }, "missing {What:weight}"},
		{"a weight of no number", func(e *Entry) { e.Weight = quantity.Grams(nan) },
			"outside {What:weight Value:NaN Low:0 High:500000}"},
		{"half a tonne and more", func(e *Entry) { e.Weight = 500001 },
			"outside {What:weight Value:500001 Low:0 High:500000}"},
		{"a coat with a weight of no number", func(e *Entry) { e.Kind, e.Weight = CoatedOn, quantity.Grams(nan) },
			"outside {What:weight"},
		{"a coat with a weight before of no number", func(e *Entry) { e.Kind, e.Before = CoatedOn, quantity.Grams(nan) },
			"outside {What:weight"},
		{"a core of less than nothing", func(e *Entry) { e.Kind, e.Removed = Cored, -1 }, "outside {What:weight"},
		{"a strike of nothing", func(e *Entry) { e.Kind = Struck }, "missing {What:entry}"},
		{"a hand check that says nothing", func(e *Entry) { e.Kind = Checked }, "empty-check"},
		{"an escape sequence for a person", func(e *Entry) { e.By = "\x1b[31mOrla" },
			"unprintable {What:person Char:27 Byte:1}"},
		{"a customer with a bell", func(e *Entry) { e.Kind, e.To = Sent, "shop\a" },
			"unprintable {What:customer Char:7 Byte:5}"},
		{"a note with an escape sequence", func(e *Entry) { e.Note = "wet \x1b[2J" },
			"unprintable {What:note Char:27 Byte:5}"},
		{"a note of three thousand bytes", func(e *Entry) { e.Note = strings.Repeat("x", 3000) },
			"text-too-long {What:note Has:3000 Most:2000}"},
	} {
		e := good
		c.change(&e)
		if err := e.Check(); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

func TestJobsStagesAndTreatmentsAreReadInAnyCaseAndPastForm(t *testing.T) {
	for i, j := range Jobs {
		for _, s := range []string{string(j), strings.ToUpper(string(j)), " " + j.Done() + " "} {
			if got, err := ParseJob(s); err != nil || got != j {
				t.Errorf("%q is %q, %v", s, got, err)
			}
		}
		if j.Order() != i || j.Done() == "" {
			t.Errorf("%q is %d, %q", j, j.Order(), j.Done())
		}
	}
	if Job("polish").Order() != len(Jobs) {
		t.Error("an unknown job does not come last")
	}
	if _, err := ParseJob("polish"); err == nil ||
		!strings.HasPrefix(err.Error(), "unknown {What:job Word:polish Known:check, weigh, ") {
		t.Errorf("polish: %v", err)
	}
	for _, s := range Stages {
		if got, err := ParseStage(" " + strings.ToUpper(string(s))); err != nil || got != s {
			t.Errorf("%q is %q, %v", s, got, err)
		}
	}
	if _, err := ParseStage("born"); err == nil ||
		err.Error() != "unknown {What:stage Word:born Known:pressing, drying, coated, ripening, ready, gone}" {
		t.Errorf("born: %v", err)
	}
	for in, want := range map[string]Treatment{"raw": Raw, "Thermized": Thermised, "pasteurised": Pasteurised,
		"PASTEURIZED": Pasteurised} {
		if got, err := ParseTreatment(in); err != nil || got != want {
			t.Errorf("%q is %q, %v", in, got, err)
		}
	}
	if _, err := ParseTreatment("boiled"); err == nil {
		t.Error("boiled is a treatment")
	}
}

func TestTheWordsOfAnEntry(t *testing.T) {
	for want, e := range map[string]Entry{
		"turned": {Kind: Did, Job: Turn}, "skipped brush": {Kind: Skipped, Job: Brush}, "coated": {Kind: CoatedOn},
		"weighed": {Kind: Weighed}, "kind 99": {Kind: 99},
	} {
		if got := e.Word(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func FuzzCheckNote(f *testing.F) {
	for _, s := range []string{"", "a note\nof two lines\twith a tab", "\x1b[31m", strings.Repeat("é", 40),
		strings.Repeat("x", 59) + "\u202e", "\xff", strings.Repeat("日本", 50), strings.Repeat("x", 59) + "\x1b"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		err := CheckNote(s)
		if err == nil && !printable(s) {
			t.Errorf("%q is taken", s)
		}
		if err != nil && printable(s) && len(s) <= MaxNote {
			t.Errorf("%q is refused: %v", s, err)
		}
	})
}

func TestEveryKindHasANameAndTheJobItRecords(t *testing.T) {
	names := Kinds()
	for k := range 256 {
		if kind := Kind(k); kind.Known() != slices.Contains(names, kind.String()) {
			t.Errorf("kind %d, %s, is known or named, not both", k, kind)
		}
	}
	if names[0] != "weighed" || names[1] != "did" {
		t.Errorf("the names are not in the order of the kinds: %v", names)
	}
	for _, c := range []struct {
		e    Entry
		want Job
	}{
		{Entry{Kind: Did, Job: Turn}, Turn}, {Entry{Kind: Skipped, Job: Brush}, Brush}, {Entry{Kind: Weighed}, Weigh},
		{Entry{Kind: Cored}, Taste}, {Entry{Kind: Tasted}, Taste}, {Entry{Kind: CoatedOn}, Coat}, {Entry{Kind: Moved}, Move},
		{Entry{Kind: Checked}, Check}, {Entry{Kind: Asked, Job: Check}, ""}, {Entry{Kind: Noted}, ""},
	} {
		if got := c.e.Does(); got != c.want {
			t.Errorf("an entry %s records the job %q, want %q", c.e.Word(), got, c.want)
		}
	}
}

// A round that several people recorded is the first entry's; if that is cancelled, the
// next one's.
func TestARoundRecordedByTwoCountsOnce(t *testing.T) {
	var d diary
	turn := func(at float64, of uuid.UUID) uuid.UUID {
		return d.on(at, Entry{Kind: Did, Job: Turn, Target: of})
	}
	first := turn(1, uuid.Nil)
	second := turn(1.1, first)
	third := turn(1.2, first)
	turn(0.9, second) // joined the second once the first was struck
	rounds := func() (n int, of []uuid.UUID) {
		for _, e := range Live(d.es) {
			if e.SameRound() {
				of = append(of, e.Target)
			} else {
				n++
			}
		}
		return n, of
	}
	check := func(when string, want ...uuid.UUID) {
		t.Helper()
		if n, of := rounds(); n != 1 || !slices.Equal(of, want) {
			t.Errorf("%s: %d rounds, shared with %v, want 1 and %v", when, n, of, want)
		}
		if got := d.life().Done[Turn].Count; got != 1 {
			t.Errorf("%s: turned %d times", when, got)
		}
	}
	check("all of them", first, first, second)
	d.strike(2, first)
	check("without the first", second, second)
	d.strike(3, second)
	check("without the second either", third)
	d.strike(4, third)
	check("only the last")
}
