package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/schedule"
	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
	"rindkeep/store/register"
	"rindkeep/store/sorts"
	"rindkeep/wheel"
	"rindkeep/wheel/variety"
)

// whole is a book with something of everything that an export tells of.
func whole(t *testing.T) *farm {
	f := newFarm(t)
	tomme, _ := variety.Find("tomme")
	hard, _ := schedule.Find("waxed-hard")
	f.update(func(tx *WriteTx) error {
		r := room(t, "loft", 3, 0.85)
		r.Racks = []cave.Rack{{Name: "A", Shelves: 4, PerShelf: 8}}
		r.Tests = []cave.SensorTest{{At: at(t, "2026-11-02 09:30"), Salt: "NaCl", Temp: 12, Read: 0.741, True: 0.757,
			Offset: 0.016, By: "Ann"}}
		if err := tx.PutRoom(r); err != nil {
			return err
		}
		mine := strings.Replace(hard.Text, `"waxed-hard"`, `"mine"`, 1)
		if _, err := register.Plans.Put(tx.Writer, "mine.toml", []byte(mine)); err != nil {
			return err
		}
		own := strings.Replace(tomme.Text, `"tomme"`, `"own-tomme"`, 1)
		if _, err := register.Varieties.Put(tx.Writer, "own.toml", []byte(own)); err != nil {
			return err
		}
		if err := tx.PutCustomer(customer(t, "Shop Ünlü", "ring <Ayşe> & \"co\"", "1 Main Street\nHollow Ash")); err != nil {
			return err
		}
		var rs []cave.Reading
		for h := range 48 {
			rs = append(rs, cave.Reading{At: at(t, "2026-11-20 00:00").Add(time.Duration(h) * time.Hour),
				Temp: quantity.Celsius(12 + float64(h%7)/10), RH: quantity.Fraction(0.8 + float64(h%5)/1000)})
		}
		_, err := tx.PutAir("cellar", rs)
		return err
	})
	m, ws := lotOf(t, "261110B", "2026-11-10", 2, "loft")
	m.Variety, m.Note, m.Curd, m.SetAside, m.SetAsideFor, m.SaltRate, m.Milk = "own-tomme",
		"slow <set> & \"soft\"\ncurd", 4200.5, 200, "whey", 0.018, wheel.Milk{Species: "cow", Litres: 40,
			Treatment: wheel.Raw, Fat: 0.039}
	for i := range ws {
		ws[i].Plan = "mine"
	}
	f.update(func(tx *WriteTx) error {
		if err := tx.PutMake(m); err != nil {
			return err
		}
		return tx.AddWheels(ws)
	})
	ma, a := f.lot("261110A", "2026-11-10", 4, "cellar")
	w := append(a, ws...)
	f.put(f.corrected(ma.ID, "2026-11-10 12:00", func(m *wheel.Make) { m.Date--; m.SoldAs = "Fell" }))
	f.put(f.weighed(a[0].ID, "2026-11-09 18:00", 2031)) // before the day that the make's record has
	for i, x := range w {
		for d := range 5 {
			f.put(f.weighed(x.ID, fmt.Sprintf("2026-11-%d 08:0%d", 11+2*d, i), 2000.125-float64(12*d+i)))
		}
		f.put(f.did(x.ID, wheel.Turn, "2026-11-21 08:00"))
	}
	with := func(e wheel.Entry, change func(*wheel.Entry)) wheel.Entry { change(&e); return e }
	mistake := f.weighed(w[0].ID, "2026-11-22 08:00", 1200)
	f.put(
		mistake,
		with(f.entry(w[0].ID, wheel.Checked, "2026-11-23 09:00"), func(e *wheel.Entry) {
			e.Found = wheel.HandCheck{DryToTouch: wheel.Yes, Cracks: wheel.No, Mites: wheel.Yes}
		}),
		with(f.entry(w[1].ID, wheel.CoatedOn, "2026-11-23 09:00"),
			func(e *wheel.Entry) { e.Coat, e.Before, e.Weight, e.Sure = "wax", 1950, 2010, true }),
		with(f.entry(w[2].ID, wheel.Cored, "2026-11-23 09:00"),
			func(e *wheel.Entry) { e.Before, e.Weight, e.Removed = 1950, 1938, 12 }),
		with(f.entry(w[3].ID, wheel.Moved, "2026-11-23 09:00"), func(e *wheel.Entry) { e.Place, e.By = "fridge/B/2", "" }),
		with(f.entry(w[3].ID, wheel.Tagged, "2026-11-23 10:00"), func(e *wheel.Entry) { e.Tag = "big-one" }),
		with(f.entry(w[4].ID, wheel.Planned, "2026-11-23 10:00"), func(e *wheel.Entry) { e.Plan = "waxed-hard" }),
		with(f.entry(w[4].ID, wheel.Held, "2026-11-23 11:00"), func(e *wheel.Entry) { e.Note = "tests" }),
		with(f.entry(w[5].ID, wheel.Sent, "2026-11-24 10:00"), func(e *wheel.Entry) { e.To, e.Weight = "Shop Ünlü", 1900 }),
		with(f.entry(w[2].ID, wheel.Tasted, "2026-11-24 11:00"), func(e *wheel.Entry) {
			e.Detail = wheel.Tasting{Flavour: 4, Faults: []string{"<bitter>"}}.Detail()
		}),
		with(f.entry(w[2].ID, wheel.Asked, "2026-11-24 12:00"),
			func(e *wheel.Entry) { e.Job, e.Note = wheel.Check, "its sister tasted bitter" }),
		with(f.entry(w[2].ID, wheel.SentPart, "2026-11-24 13:00"),
			func(e *wheel.Entry) { e.To, e.Weight = "Shop Ünlü", 400 }),
		with(f.entry(w[3].ID, wheel.Voided, "2026-11-24 13:00"), func(e *wheel.Entry) { e.Note = "never was" }),
		with(f.entry(m.ID, wheel.Logged, "2026-11-10 09:00"), func(e *wheel.Entry) {
			e.Detail = wheel.MakeLog{What: wheel.LogAcidity, Stage: "cutting", PH: 6.45}.Detail()
		}),
		with(f.entry(m.ID, wheel.Noted, "2026-11-12 10:00"), func(e *wheel.Entry) { e.Note = "a long make" }),
	)
	f.put(with(f.entry(w[0].ID, wheel.Struck, "2026-11-24 08:00"),
		func(e *wheel.Entry) { e.Target, e.Note = mistake.ID, "mis-keyed" }))
	return f
}

func exported(t testing.TB, b *Book) string {
	t.Helper()
	var out bytes.Buffer
	if err := Above.Export(context.Background(), b, &out); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// wantEqual wants the two books to be one and the same, but for what is derived
// of tasks that are over.
func wantEqual(t testing.TB, a, b *Book) {
	t.Helper()
	wantClean(t, b)
	for _, x := range []*Book{a, b} {
		if err := x.Rebuild(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	if d := cmp.Diff(strings.Split(dumpBook(t, a), "\n"), strings.Split(dumpBook(t, b), "\n")); d != "" {
		t.Errorf("the books differ:\n%s", d)
	}
}

func TestAnExportMakesAnEqualBook(t *testing.T) {
	f := whole(t)
	text := exported(t, f.book)
	b := imported(t, filepath.Join(t.TempDir(), "new", "again.book"), text, f.clock.now)
	defer b.Close()
	if d := cmp.Diff(strings.Split(text, "\n"), strings.Split(exported(t, b), "\n")); d != "" {
		t.Errorf("its export is another:\n%s", d)
	}
	wantEqual(t, f.book, b)
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(b.Path()), ".*")); len(left) > 1 { // the queue's lock may stay
		t.Errorf("something is left beside the book: %v", left)
	}
}

func TestAnExportReadsAsItIsDocumented(t *testing.T) {
	f := whole(t)
	lines := strings.Split(strings.TrimSuffix(exported(t, f.book), "\n"), "\n")
	var order []string
	for i, l := range lines {
		var x struct{ Record, Schema string }
		if err := json.Unmarshal([]byte(l), &x); err != nil {
			t.Fatalf("line %d is no JSON: %v\n%s", i+1, err, l)
		}
		if x.Record == "" {
			x.Record = x.Schema
		}
		if n := len(order); n == 0 || order[n-1] != x.Record {
			order = append(order, x.Record)
		}
	}
	want := []string{"rindkeep/export/1", "book", "room", "plan", "variety", "customer", "make", "wheel", "entry", "air",
		"link", "end"}
	if d := cmp.Diff(want, order); d != "" {
		t.Errorf("the order of records (-want +got):\n%s", d)
	}
	for _, part := range []string{
		`{"schema":"rindkeep/export/1"}`,
		`{"record":"air","room":"cellar","at":"2026-11-20T01:00:00Z","temp_c":12.1,"rh_fraction":0.801}`,
		fmt.Sprintf(`{"record":"end","lines":%d}`, len(lines)-1),
	} {
		if !slices.Contains(lines, part) {
			t.Errorf("no line %s", part)
		}
	}
	for _, part := range []string{
		`"kind":"checked"`, `"found":{"cracks":"no","dry_to_touch":"yes","mites":"yes"}`, `"weight_g":2000.125`,
		`"removed_g":12`, `"sensor_tests":[{"at":"2026-11-02T09:30:00Z"`, `"written":"2026-11-23T09:00:00Z"`,
	} {
		if !strings.Contains(strings.Join(lines, "\n"), part) {
			t.Errorf("nowhere %s", part)
		}
	}
}

func TestEveryBucketOfFactsIsExported(t *testing.T) {
	var got []string
	for _, s := range sorts.All {
		got = append(got, s.Bucket)
	}
	got = append(got, layout.Book) // its settings are the second line
	want := slices.Concat(layout.Facts, layout.LaterFacts, layout.Shared)
	slices.Sort(got)
	slices.Sort(want)
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("buckets of facts and buckets exported (-facts +exported): see package sorts\n%s", d)
	}
}

func TestAnInterruptedImportOrExportLeavesNothing(t *testing.T) {
	f := whole(t)
	text := exported(t, f.book)
	gone, cancel := context.WithCancel(context.Background())
	cancel()
	dir := t.TempDir()
	err := Above.Import(gone, filepath.Join(dir, "new.book"), strings.NewReader(text), Options{Now: f.clock.now})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("an import: %v", err)
	}
	f.update(func(tx *WriteTx) error { // an export looks up every thousand lines
		var rs []cave.Reading
		for i := range 2000 {
			rs = append(rs, cave.Reading{At: at(t, "2026-11-10 00:00").Add(time.Duration(i) * time.Second), Temp: 12, RH: 0.8})
		}
		_, err := tx.PutAir("fridge", rs)
		return err
	})
	if _, _, err := Above.ExportFile(gone, f.book, filepath.Join(dir, "new.jsonl"), false); !errors.Is(err,
		context.Canceled) {
		t.Errorf("an export: %v", err)
	}
	if left, _ := os.ReadDir(dir); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

func TestAnExportTouchesNoFileThatIsThereUnlessTold(t *testing.T) {
	f := whole(t)
	path := filepath.Join(t.TempDir(), "a.jsonl")
	if err := os.WriteFile(path, []byte("precious"), 0o644); err != nil {
		t.Fatal(err)
	}
	_, _, err := Above.ExportFile(context.Background(), f.book, path, false)
	wantIs(t, err, bookfile.ErrExists, "file-exists "+strconv.Quote(path)+" file: file already exists")
	if b, _ := os.ReadFile(path); string(b) != "precious" {
		t.Errorf("the file holds %q", b)
	}
	for range 2 { // the book, and a copy of it, which is read in its place
		if _, _, err := Above.ExportFile(context.Background(), f.book, f.path, true); !errors.Is(err, bookfile.ErrSameFile) {
			t.Errorf("an export over the book itself: %v", err)
		}
		if f.book, err = f.book.Snapshot(); err != nil {
			t.Fatal(err)
		}
	}
	far := filepath.Join(filepath.Dir(path), "nowhere", "a.jsonl")
	if _, _, err := Above.ExportFile(context.Background(), f.book, far, false); !errors.Is(err, bookfile.ErrNoFolder) ||
		err.Error() != "no-folder "+strconv.Quote(filepath.Dir(far)) {
		t.Errorf("an export to a folder that is not there: %v", err)
	}
	tally, n, err := Above.ExportFile(context.Background(), f.book, path, true)
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil || string(b) != exported(t, f.book) || n != int64(len(b)) {
		t.Errorf("the file is no export: %v", err)
	}
	want := map[string]int{"room": 3, "plan": 1, "variety": 1, "law": 0, "limit": 0, "follow": 0, "releasers": 0,
		"site": 0, "lift": 0, "mapping": 0, "customer": 1, "make": 2, "wheel": 6, "photo": 0,
		"entry": 54, "airsource": 0, "air": 48}
	if d := cmp.Diff(want, tally); d != "" {
		t.Errorf("what was exported (-want +got):\n%s", d)
	}
}

// anyBook fills a book with whatever it takes of random facts.
func anyBook(t *rapid.T, f *farm) {
	words := rapid.StringOf(rapid.RuneFrom([]rune("abcé <>&\"\\'\u2603\U0001F9C0,;=\n\t"))).Filter(
		func(s string) bool { return len(s) < 60 })
	name := rapid.StringMatching(`[A-Za-zéß][A-Za-z0-9 .&<'-]{0,20}[a-z]`)
	var all []wheel.Wheel
	for i := range rapid.IntRange(0, 3).Draw(t, "lots") {
		m, ws := lotOf(f.t, fmt.Sprintf("26110%dA", i+1), fmt.Sprintf("2026-11-0%d",
			i+1), rapid.IntRange(0, 3).Draw(t, "wheels"), rapid.SampledFrom([]string{"", "cellar", "fridge"}).Draw(t, "room"))
		m.Note = words.Draw(t, "note")
		m.Curd = quantity.Grams(rapid.Float64Range(0, 1e5).Draw(t, "curd"))
		m.By = name.Draw(t, "by")
		f.update(func(tx *WriteTx) error {
			if err := tx.PutMake(m); err != nil {
				return err
			}
			return tx.AddWheels(ws)
		})
		all = append(all, ws...)
	}
	f.update(func(tx *WriteTx) error {
		var rs []cave.Reading
		for range rapid.IntRange(0, 4).Draw(t, "readings") {
			rs = append(rs,
				cave.Reading{At: time.UnixMilli(rapid.Int64Range(1.76e12, 1.763e12).Draw(t, "at")), Temp: quantity.Celsius(
					rapid.Float64Range(-5, 30).Draw(t, "temp")), RH: quantity.Fraction(rapid.Float64Range(0, 1).Draw(t, "rh"))})
		}
		_, err := tx.PutAir("cellar", rs)
		return err
	})
	if len(all) == 0 {
		return
	}
	var kinds []wheel.Kind
	for k := range 256 {
		if wheel.Kind(k).Known() {
			kinds = append(kinds, wheel.Kind(k))
		}
	}
	var put []wheel.Entry
	for range rapid.IntRange(0, 15).Draw(t, "entries") {
		w := rapid.SampledFrom(all).Draw(t, "wheel")
		k := rapid.SampledFrom(kinds).Draw(t, "kind")
		e := wheel.Entry{ID: newID(f.t), Subject: w.ID, Kind: k, By: name.Draw(t, "by"), Note: words.Draw(t, "note")}
		e.At = w.Since.Add(time.Duration(rapid.Int64Range(0, 20*86400_000).Draw(t, "after")) * time.Millisecond)
		e.Written = e.At.Add(time.Duration(rapid.Int64Range(0, 86400_000).Draw(t, "later")) * time.Millisecond)
		e.Sure = rapid.Bool().Draw(t, "sure")
		g := func(what string) quantity.Grams { return quantity.Grams(rapid.Float64Range(1, 5000).Draw(t, what)) }
		switch k {
		case wheel.Weighed:
			e.Weight = g("weight")
		case wheel.Did, wheel.Skipped, wheel.Asked:
			e.Job = rapid.SampledFrom(wheel.Jobs).Draw(t, "job")
		case wheel.CoatedOn:
			e.Coat, e.Before, e.Weight = "wax", g("before"), g("after")
		case wheel.Cored, wheel.Cut:
			e.Before, e.Weight, e.Removed = g("before"), g("after"), g("removed")
		case wheel.Moved:
			e.Place = rapid.SampledFrom([]cave.Place{"cellar", "fridge/B/1"}).Draw(t, "place")
		case wheel.Checked:
			e.Found = wheel.HandCheck{DryToTouch: wheel.Seen(rapid.IntRange(0, 2).Draw(t, "dry")), Mould: wheel.Yes}
		case wheel.Tagged:
			e.Tag = rapid.StringMatching(`[A-Z][0-9]{1,3}`).Draw(t, "tag")
		case wheel.Planned:
			e.Plan = "waxed-hard"
		case wheel.Tasted:
			e.Detail = wheel.Tasting{Flavour: wheel.Score(rapid.IntRange(1, 5).Draw(t, "score")),
				Faults: []string{name.Draw(t, "fault")}}.Detail()
		case wheel.Logged:
			e.Subject, e.Detail = w.Make, wheel.MakeLog{What: wheel.LogStep, Stage: name.Draw(t, "step")}.Detail()
		case wheel.SentPart:
			e.To, e.Weight = name.Draw(t, "to"), g("piece")
		case wheel.Sent:
			e.To = name.Draw(t, "to")
		case wheel.Struck:
			if len(put) == 0 {
				continue
			}
			o := rapid.SampledFrom(put).Draw(t, "target")
			e.Target, e.Subject = o.ID, o.Subject
		}
		if err := f.book.Update(func(tx *WriteTx) error { _, err := tx.Put(e); return err }); err == nil {
			put = append(put, e)
		}
	}
}

func TestAnyBookComesBackAsItWas(t *testing.T) {
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		f := newFarm(t)
		defer f.book.Close()
		anyBook(rt, f)
		text := exported(t, f.book)
		b := imported(t, filepath.Join(t.TempDir(), "again.book"), text, f.clock.now)
		defer b.Close()
		if d := cmp.Diff(strings.Split(text, "\n"), strings.Split(exported(t, b), "\n")); d != "" {
			rt.Fatalf("its export is another:\n%s", d)
		}
		wantEqual(t, f.book, b)
	})
	if n < 10 {
		t.Errorf("only %d books were tried", n)
	}
}
