package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/lines"
	"rindkeep/wheel"
)

// imported makes a new book from an export and gives it open.
func imported(t testing.TB, path, text string, now func() time.Time) *Book {
	t.Helper()
	o := Options{Now: now, Altered: true}
	if err := Above.Import(context.Background(), path, strings.NewReader(text), o); err != nil {
		t.Fatal(err)
	}
	b, err := Open(path, Write, Options{Now: now})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// changed is text with the first line that holds mark put through fn.
func changed(t *testing.T, text, mark string, fn func(string) string) string {
	t.Helper()
	all := strings.SplitAfter(text, "\n")
	for i, l := range all {
		if strings.Contains(l, mark) {
			all[i] = fn(l)
			return strings.Join(all, "")
		}
	}
	t.Fatalf("no line with %s", mark)
	return ""
}

func TestAnImportRefusesWhatIsNoWholeExport(t *testing.T) {
	f := whole(t)
	text := exported(t, f.book)
	all := strings.SplitAfter(text, "\n")
	swap := func(mark, from, to string) string {
		return changed(t, text, mark, func(l string) string {
			if !strings.Contains(l, from) {
				t.Fatalf("no %s in %s", from, l)
			}
			return strings.Replace(l, from, to, 1)
		})
	}
	twiceOver := func(mark string) string {
		return changed(t, text, mark, func(l string) string { return l + l })
	}
	number := func(mark string) int {
		for i, l := range all {
			if strings.Contains(l, mark) {
				return i + 1
			}
		}
		t.Fatalf("no line with %s", mark)
		return 0
	}
	const (
		aRoom, aMake, aWheel, anEntry, aStrike, aReading = `"record":"room"`, `"record":"make"`, `"record":"wheel"`,
			`"kind":"weighed"`, `"kind":"struck"`, `"record":"air"`
	)
	for _, c := range []struct {
		name, text, want string
	}{
		{"an empty file", "", "line-no-lines"},
		{"a shopping list", "milk\nrennet\n", "line 1: line-no-schema {Is:no-schema Word: Other:rindkeep/export/1 "},
		{"a table", "tag,weight\nA,2000\n", "line 1: line-no-schema {Is:no-schema Word: Other:rindkeep/export/1 "},
		{"another schema", strings.Replace(text, "rindkeep/export/1", "rindkeep/export/2", 1),
			"line 1: line-other-schema {Is:other-schema Word:rindkeep/export/2 Other:rindkeep/export/1 "},
		{"nothing after the schema", all[0], "line-cut-off {Is:cut-off Word: Other: Has:1 "},
		{"no book", all[0] + all[2], "line 2: line-no-book {Is:no-book Word:room "},
		{"a book without a zone", swap(`"record":"book"`, "Europe/Dublin", "Europe/Nowhere"),
			"line 2: unreadable {What:zone Word:Europe/Nowhere}"},
		{"no end", strings.Join(all[:len(all)-2], ""), fmt.Sprintf("line-cut-off {Is:cut-off Word: Other: Has:%d ",
			len(all)-2)},
		{"a line too few", changed(t, text, aReading, func(string) string { return "" }),
			fmt.Sprintf("line %d: line-lines-differ {Is:lines-differ Word: Other: Has:%d Wants:%d}",
				len(all)-2, len(all)-3, len(all)-2)},
		{"a line after the end", text + all[2], fmt.Sprintf("line %d: line-after-end", len(all))},
		{"a line of another kind", changed(t, text, aMake, func(l string) string {
			return `{"record":"spaceship"}` + "\n" +
				l
		}), fmt.Sprintf("line %d: line-record-unknown {Is:record-unknown Word:spaceship ", number(aMake))},
		{"a line without its record", changed(t, text, aMake, func(l string) string { return "{}\n" + l }),
			fmt.Sprintf("line %d: line-no-record", number(aMake))},
		{"a room after the makes", changed(t, text, aWheel, func(l string) string { return all[2] + l }),
			fmt.Sprintf("line %d: line-out-of-order {Is:out-of-order Word:room Other:make ", number(aWheel))},
		{"a line cut in its middle", changed(t, text, aMake, func(l string) string { return l[:len(l)/2] + "\n" }),
			fmt.Sprintf("line %d: line-not-json", number(aMake))},
		{"two objects on a line", changed(t, text, aMake, func(l string) string { return strings.TrimSpace(l) + "{}\n" }),
			fmt.Sprintf("line %d: line-two-objects", number(aMake))},
		{"broken text", changed(t, text, aMake, func(l string) string { return "\xff" + l }),
			fmt.Sprintf("line %d: line-not-utf-8", number(aMake))},
		{"a line too long", changed(t, text, aMake, func(l string) string { return strings.Repeat(" ", 4<<20) + l }),
			fmt.Sprintf("line %d: line-too-long", number(aMake))},
		{"a field nobody knows", swap(aMake, `"lot"`, `"lots"`),
			fmt.Sprintf("line %d: line-field-unknown {Is:field-unknown Word:lots ", number(aMake))},
		{"a word for a figure", swap(anEntry, `"weight_g":`, `"weight_g":"heavy","x":`),
			fmt.Sprintf("line %d: line-field-type {Is:field-type Word:weight_g Other:string ", number(anEntry))},
		{"a room out of range", swap(aRoom, `"temp_c":12`, `"temp_c":99`), fmt.Sprintf("line %d: outside", number(aRoom))},
		{"a variety nobody knows", swap(aMake, `"variety":"own-tomme"`, `"variety":"tume"`),
			fmt.Sprintf(`line %d: not-found variety "tume"`, number(aMake))},
		{"a wheel of no make", swap(aWheel, `"make":"`, `"make":"0`), fmt.Sprintf("line %d: ", number(aWheel))},
		{"a plan nobody knows", swap(aWheel, `"plan":"mine"`, `"plan":"yours"`),
			fmt.Sprintf(`line %d: not-found plan "yours"`, number(aWheel))},
		{"an entry of a kind nobody knows", swap(anEntry, `"weighed"`, `"juggled"`),
			fmt.Sprintf("line %d: line-kind-unknown {Is:kind-unknown Word:juggled ", number(anEntry))},
		{"an entry about nothing", swap(anEntry, `"subject":"0`, `"subject":"1`),
			fmt.Sprintf(`line %d: not-found wheel "1`, number(anEntry))},
		{"an entry from before the make", swap(anEntry, `"at":"2026-11-11`, `"at":"2026-11-09`),
			fmt.Sprintf("line %d: before-make {On:2026-11-09 Made:2026-11-10}", number(anEntry))},
		{"an answer that is none", swap(`"kind":"checked"`, `"cracks":"no"`, `"cracks":"maybe"`),
			fmt.Sprintf("line %d: line-no-answer {Is:no-answer Word:maybe ", number(`"kind":"checked"`))},
		{"a question nobody asks", swap(`"kind":"checked"`, `"cracks":"no"`, `"smell":"no"`),
			fmt.Sprintf("line %d: line-question-unknown", number(`"kind":"checked"`))},
		{"a strike at nothing", swap(aStrike, `"target":"0`, `"target":"1`), "line-strike-of-another"},
		{"a round shared with nothing", swap(`"kind":"did"`, `"job":"`, `"target":"`+idC.String()+`","job":"`),
			"line-round-of-another"},
		{"a room twice", twiceOver(aRoom), fmt.Sprintf("line %d: line-twice", number(aRoom)+1)},
		{"a make twice", twiceOver(aMake), fmt.Sprintf("line %d: line-twice", number(aMake)+1)},
		{"a wheel twice", twiceOver(aWheel), fmt.Sprintf("line %d: line-twice", number(aWheel)+1)},
		{"an entry twice", twiceOver(anEntry), fmt.Sprintf("line %d: line-twice", number(anEntry)+1)},
		{"a reading twice", twiceOver(aReading), fmt.Sprintf("line %d: line-twice", number(aReading)+1)},
		{"a plan named otherwise", swap(`"record":"plan"`, `"name":"mine"`, `"name":"other"`), "line "},
		{"two wheels of one tag", swap(aWheel, `"tag":"261110B-01"`, `"tag":"261110A-02"`),
			"taken {What:tag Name:261110A-02}"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, "new.book")
			err := Above.Import(context.Background(), path, strings.NewReader(c.text),
				Options{Now: f.clock.now, Altered: true})
			var ie *lines.Error
			if !errors.As(err, &ie) || !strings.HasPrefix(err.Error(), c.want) {
				t.Fatalf("got  %v\nwant %s", err, c.want)
			}
			if left, _ := os.ReadDir(dir); len(left) > 0 {
				t.Errorf("left behind: %v", left)
			}
		})
	}
}

func TestACutOffExportMakesNoBookWhereverItIsCut(t *testing.T) {
	f := whole(t)
	text := exported(t, f.book)
	dir := t.TempDir()
	r := rand.New(rand.NewPCG(1, 2))
	for range 60 {
		n := r.IntN(len(text) - 1)
		err := Above.Import(context.Background(), filepath.Join(dir, "new.book"), strings.NewReader(text[:n]),
			Options{Now: f.clock.now})
		var ie *lines.Error
		if !errors.As(err, &ie) {
			t.Errorf("cut at byte %d of %d: %v", n, len(text), err)
		}
	}
	if left, _ := os.ReadDir(dir); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	// Without its last line break it is whole, as some editors leave it.
	imported(t, filepath.Join(dir, "whole.book"), strings.TrimSuffix(text, "\n"), f.clock.now).Close()
}

func TestAnImportGoesOnlyWhereNothingIsLost(t *testing.T) {
	f := whole(t)
	text := exported(t, f.book)
	full := newFarm(t) // holds rooms
	full.book.Close()
	before, err := os.ReadFile(full.path)
	if err != nil {
		t.Fatal(err)
	}
	err = Above.Import(context.Background(), full.path, strings.NewReader(text), Options{Now: f.clock.now})
	wantIs(t, err, bookfile.ErrExists, "file-exists "+strconv.Quote(full.path)+" records: file already exists")
	if after, _ := os.ReadFile(full.path); !bytes.Equal(before, after) {
		t.Error("the book that was there changed")
	}
	note := filepath.Join(t.TempDir(), "notes.txt")
	if err := os.WriteFile(note, bytes.Repeat([]byte("no book\n"), 2000), 0o644); err != nil {
		t.Fatal(err)
	}
	err = Above.Import(context.Background(), note, strings.NewReader(text), Options{Now: f.clock.now})
	wantIs(t, err, bookfile.ErrNotABook, "not-a-book "+strconv.Quote(note))

	empty := filepath.Join(t.TempDir(), "empty.book")
	b, err := Create(empty, testSettings(), Options{Now: f.clock.now})
	if err != nil {
		t.Fatal(err)
	}
	b.Close()
	b = imported(t, empty, text, f.clock.now)
	defer b.Close()
	if exported(t, b) != text {
		t.Error("an empty book took another export than it was given")
	}
}

func TestAnImportKeepsAChainThatFitsAndSaysWhereANewOneBegan(t *testing.T) {
	f, _ := chainedFarm(t)
	text, head := exported(t, f.book), f.head()
	links := func(keep func(line string) bool) string {
		var out []string
		for _, l := range strings.SplitAfter(text, "\n") {
			if l != "" && (!strings.HasPrefix(l, `{"record":"link"`) || keep(l)) && !strings.HasPrefix(l, `{"record":"end"`) {
				out = append(out, l)
			}
		}
		return strings.Join(append(out, fmt.Sprintf("{\"record\":\"end\",\"lines\":%d}\n", len(out))), "")
	}
	all := func(string) bool { return true }
	for _, c := range []struct {
		name, text string
		same       bool
		begun      chain.Beginning
		number     int
	}{
		{"as it was written", text, true, chain.BegunNew, 9},
		{"without its chain", links(func(string) bool { return false }), false, chain.BegunImport, 1},
		{"with a weight changed", strings.Replace(links(all), `"weight_g":1990`, `"weight_g":1890`, 1), false,
			chain.BegunUnfitted, 1},
		{"with who did it changed", strings.Replace(links(all), `"written":"2026-11-22T09:00:00Z","by":"Ann"`,
			`"written":"2026-11-22T09:00:00Z","by":"Zoe"`, 1), false, chain.BegunUnfitted, 1},
		{"with its last link cut off", links(func(l string) bool { return !strings.Contains(l, `"number":9,`) }), false,
			chain.BegunUnfitted, 1},
		{"with a link cut out", links(func(l string) bool { return !strings.Contains(l, `"number":5,`) }), false,
			chain.BegunUnfitted, 1},
	} {
		if c.begun == chain.BegunUnfitted && c.text == text {
			t.Fatalf("%s: nothing was changed", c.name)
		}
		b := imported(t, filepath.Join(t.TempDir(), "new.book"), c.text, f.clock.now)
		wantClean(t, b)
		if err := b.View(func(tx *ReadTx) error {
			h, begun, since, err := tx.Head()
			if (h == head) != c.same || begun != c.begun || h.Number != c.number || !c.same && !since.Equal(f.clock.t) {
				t.Errorf("%s: the head is %+v, begun by %s on %v", c.name, h, begun, since)
			}
			return err
		}); err != nil {
			t.Fatal(err)
		}
		if err := b.Update(func(tx *WriteTx) error { return tx.PutRoom(room(t, "loft", 3, 0.85)) }); err != nil {
			t.Fatal(err)
		}
		wantClean(t, b) // and it goes on from there
		b.Close()
	}
	for _, c := range []struct{ name, from, to, want string }{
		{"a link twice", `"link","number":2,`, `"link","number":1,`, "line 14: line-twice"},
		{"a link of no number", `"link","number":1,`, `"link","number":0,`, "line 13: link-without-number"},
		{"a hash cut short", `"hash":"`, `"hash":"0`, "line 13: line-no-hash"},
		{"a link that is none", `"link":"A`, `"link":"B`, "line 13: link-does-not-decode"},
	} {
		err := Above.Import(context.Background(), filepath.Join(t.TempDir(), "new.book"),
			strings.NewReader(strings.Replace(text, c.from, c.to, 1)), Options{Now: f.clock.now})
		if err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s: got %v", c.name, err)
		}
	}
}

func TestTheIndexOfEntriesIsMadeInRuns(t *testing.T) {
	defer func(n int) { idsTogether = n }(idsTogether)
	idsTogether = 64
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 20, "cellar")
	var es []wheel.Entry
	for i := range 40 {
		for k, w := range ws {
			e := f.did(w.ID, wheel.Turn, fmt.Sprintf("2026-11-%02d %02d:%02d", 21+i/20, i%20, k))
			if (i+k)%3 == 0 {
				layout.BeginID(&e.ID, w.ID)
			} else if (i+k)%3 == 1 {
				e.ID = uuid.New()
			}
			es = append(es, e)
		}
	}
	f.put(es...)
	was := f.dump()
	f.update(func(tx *WriteTx) error {
		if bounds := tx.ids.Bounds(idsTogether); len(bounds) < 10 {
			t.Errorf("only %d runs", len(bounds)-1)
		}
		return nil
	})
	if err := f.book.Rebuild(t.Context()); err != nil {
		t.Fatal(err)
	}
	if now := f.dump(); now != was {
		t.Errorf("rebuilt, it is another:\n%s", cmp.Diff(was, now))
	}
	text := exported(t, f.book)
	path := filepath.Join(t.TempDir(), "new.book")
	o := Options{Now: f.clock.now}
	if err := Above.Import(context.Background(), path, strings.NewReader(text), o); err != nil {
		t.Fatal(err)
	}
	b, err := Open(path, Write, Options{Now: f.clock.now})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	wantEqual(t, f.book, b)
	// The same identity at another time, or under another wheel.
	for _, c := range []struct {
		kind string
		id   uuid.UUID
	}{{"shared", es[0].ID}, {"own", es[1].ID}} {
		var twin string
		for _, l := range strings.SplitAfter(text, "\n") {
			if strings.Contains(l, c.id.String()) {
				twin = strings.Replace(l, `"at":"2026-11-21T`, `"at":"2026-11-23T`, 1)
			}
		}
		more := changed(t, text, c.id.String(), func(l string) string { return l + twin })
		more = changed(t, more, `"record":"end"`, func(string) string {
			return fmt.Sprintf("{\"record\":\"end\",\"lines\":%d}\n", strings.Count(more, "\n")-1)
		})
		err := Above.Import(context.Background(), filepath.Join(t.TempDir(), "x.book"), strings.NewReader(more),
			Options{Now: f.clock.now})
		if err == nil || !strings.HasPrefix(err.Error(), "line-id-twice {Is:id-twice Word:"+c.id.String()) {
			t.Errorf("%s: %v", c.kind, err)
		}
	}
}

func FuzzImport(f *testing.F) {
	f.Add("{\"schema\":\"rindkeep/export/1\"}\n{\"record\":\"book\",\"id\":\"01a20cf0-d700-78d0-a156-eafd9f53c2f4\"" +
		",\"created\":\"2026-11-01T08:00:00Z\",\"zone\":\"Europe/Dublin\"}\n{\"record\":\"end\",\"lines\":2}\n")
	f.Add("{\"record\":\"book\"}\n")
	var link any
	newFarm(f).view(func(t *ReadTx) (err error) {
		link, err = lines.LinkOf(layout.LinkKey(1), t.tab.Get(layout.Chain, layout.LinkKey(1)))
		return err
	})
	text, _ := json.Marshal(link)
	f.Add("{\"schema\":\"rindkeep/export/1\"}\n{\"record\":\"book\",\"id\":\"01a20cf0-d700-78d0-a156-eafd9f53c2f4\"" +
		",\"created\":\"2026-11-01T08:00:00Z\",\"zone\":\"Europe/Dublin\"}\n{\"record\":\"link\"," + string(text[1:]) +
		"\n{\"record\":\"end\",\"lines\":3}\n")
	f.Fuzz(func(t *testing.T, text string) {
		dir := t.TempDir()
		path := filepath.Join(dir, "new.book")
		err := Above.Import(context.Background(), path, strings.NewReader(text), Options{Altered: true})
		var ie *lines.Error
		if err != nil {
			if left, _ := os.ReadDir(dir); len(left) > 0 || !errors.As(err, &ie) {
				t.Errorf("refused with %v, and left behind %v", err, left)
			}
			return
		}
		b, err := Open(path, Read, Options{})
		if err != nil {
			t.Fatal(err)
		}
		defer b.Close()
		wantClean(t, b)
	})
}
