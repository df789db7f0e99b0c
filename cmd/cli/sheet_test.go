package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	uc "rindkeep/cmd/app"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/app/trade"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/cli/sheets"
	"rindkeep/cmd/sheet"
	"rindkeep/cmd/words"
)

func pdfAt(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(string(b), "%PDF-") || !strings.HasSuffix(strings.TrimSpace(string(b)), "%%EOF") {
		t.Fatalf("%s is no whole PDF", path)
	}
	return b
}

// here runs the test in the world's folder, where sheets without --out go.
func (w *world) here(t *testing.T) *world { t.Helper(); t.Chdir(w.dir); return w }

func TestASheetIsNamedAfterWhatItShows(t *testing.T) {
	w := newWorld(t).kept().here(t)
	w.must("wheel tag 261110A-04 a\\b<c>|?.é --quiet")
	for _, c := range []struct{ line, name, says string }{
		{"sheet today", "today-2026-11-25.pdf", "today-2026-11-25.pdf: 1 page, A4\n"},
		{"sheet today --on 2026-11-28 --paper LETTER", "today-2026-11-28.pdf", "today-2026-11-28.pdf: 1 page, Letter\n"},
		{"sheet labels 261110A --quiet", "labels-2026-11-25.pdf",
			"labels-2026-11-25.pdf: 1 page, 4 labels, A4, 24 labels of 70 by 37 mm\n"},
		{"sheet labels 261110A-02 --stock roll-62 --quiet", "labels-261110A-02.pdf",
			"labels-261110A-02.pdf: 1 page, 1 label, a roll 62 mm wide, cut every 38 mm\n"},
		{"sheet wheel 261110a-01", "wheel-261110A-01.pdf", "wheel-261110A-01.pdf: 2 pages, A4\n"},
		{"sheet wheel a\\b<c>|?.é", "wheel-a_b_c___.é.pdf", "wheel-a_b_c___.é.pdf: 2 pages, A4\n"},
		{"sheet make 261110A --large", "make-261110A.pdf", "make-261110A.pdf: 1 page, A4\n"},
		{"sheet trace 261110a", "trace-261110A.pdf", "trace-261110A.pdf: 1 page, A4\n"},
		{"sheet trace 261110A-01,261110A-02,a\\b<c>|?.é", "trace-261110A-01-and-2-more.pdf",
			"trace-261110A-01-and-2-more.pdf: 1 page, A4\n"},
		{"sheet recall 261110A-02 --large --paper letter", "recall-261110A-02.pdf",
			"recall-261110A-02.pdf: 1 page, Letter\n"},
		{"sheet recall --room drying --from 2026-11-11 --to 2026-11-12", "recall-drying-2026-11-11.pdf",
			"recall-drying-2026-11-11.pdf: 1 page, A4\n"},
	} {
		same(t, "rindkeep "+c.line, w.must(c.line), c.says)
		pdfAt(t, filepath.Join(w.dir, c.name))
	}
	w.sound()
}

func TestASheetNeverOverwritesUnasked(t *testing.T) {
	w := newWorld(t).kept().here(t)
	w.must("sheet today --out a.pdf")
	first := pdfAt(t, "a.pdf")
	w.want(exitRefused, `^rindkeep: a.pdf is there already; nothing was written\nhint: repeat with --replace .*\n$`,
		"sheet", "today", "--out", "a.pdf")
	same(t, "the sheet that was refused", pdfAt(t, "a.pdf"), first)
	w.must("sheet today --out a.pdf --replace --large")
	if string(pdfAt(t, "a.pdf")) == string(first) {
		t.Error("--replace replaced nothing")
	}
	w.must("sheet today --out b.pdf --replace") // nothing there to replace

	text := w.file("notes.txt", "years of notes")
	for _, p := range []string{w.book, text, os.DevNull} {
		before, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		w.want(exitRefused, `is there already and is something else`, "sheet", "today", "--out", p, "--replace")
		w.want(exitRefused, `is there already`, "sheet", "today", "--out", p)
		after, err := os.ReadFile(p)
		if err != nil || string(after) != string(before) {
			t.Errorf("%s was changed: %v", p, err)
		}
	}
	if err := os.Symlink("nowhere", "link.pdf"); err != nil {
		t.Fatal(err)
	}
	w.want(exitRefused, `link.pdf is there already`, "sheet", "today", "--out", "link.pdf")
	w.want(exitRefused, `^rindkeep: there is no folder no/such\n$`, "sheet", "today", "--out", "no/such/a.pdf")
	left, err := filepath.Glob(filepath.Join(w.dir, "*"))
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range left {
		left[i] = filepath.Base(p)
	}
	same(t, "files left", left, []string{".cave.book.queue", "a.pdf", "b.pdf", "cave.book", "link.pdf", "notes.txt"})
	w.sound()
}

func TestASheetGoesIntoAFolderOrToStdout(t *testing.T) {
	w := newWorld(t).kept().here(t)
	w.must("sheet make 261110A --out " + w.dir)
	pdfAt(t, "make-261110A.pdf")
	w.ran = 40
	out := w.run("sheet", "labels", "261110A", "--out", "-")
	same(t, "what else is said", ran{out.Code, "", out.Err}, ran{})
	w.ran = 40 // the same second of the clock
	w.must("sheet labels 261110A --out l.pdf --quiet")
	same(t, "the sheet on stdout and in a file", out.Out, string(pdfAt(t, "l.pdf")))
	w.env.OutTTY = true
	w.want(exitUsage, `a PDF can't be shown on a terminal`, "sheet", "labels", "261110A", "--out", "-")
}

func TestTheSameBookAtTheSameTimeGivesTheSameSheet(t *testing.T) {
	w := newWorld(t).kept()
	for _, line := range []string{"sheet today --out -", "sheet labels all --out -", "sheet wheel 261110A-02 --out -",
		"sheet make 261110A --out -", "sheet trace 261110A --out -", "sheet recall 261110A --out -"} {
		w.ran = 50
		a := w.must(line)
		w.ran = 50
		if b := w.must(line); a != b {
			t.Errorf("rindkeep %s differs from itself", line)
		}
	}
}

func TestSheetsRefusedSayWhy(t *testing.T) {
	w := newWorld(t).kept().here(t)
	w.must("wheel send 261110A-01 261110A-02 261110A-03 261110A-04 --to Shop --quiet --override tests")
	for _, c := range []struct {
		code int
		says string
		line string
	}{
		{exitUsage, `no paper "a5"; papers are a4 and letter`, "sheet today --paper a5"},
		{exitUsage, `no label stock "b"; there are a4-3x8, `, "sheet labels all --stock b"},
		{exitUsage, `--start 25 is out of range; a sheet of a4-3x8 has labels 1 to 24`, "sheet labels all --start 25"},
		{exitUsage, `--start 0 is out of range`, "sheet labels all --start 0"},
		{exitUsage, `needs WHAT`, "sheet labels"},
		{exitUsage, `needs TAG`, "sheet wheel"},
		{exitUsage, `needs LOT`, "sheet make"},
		{exitUsage, `both want stdout`, "sheet today --out - --json"},
		{exitUsage, `as it is now and takes no --on or --at`, "sheet labels all --on yesterday"},
		{exitUsage, `as it is now and takes no --on or --at`, "sheet wheel 261110A-01 --at 07:00"},
		{exitUsage, `as it is now and takes no --on or --at`, "sheet make 261110A --on yesterday"},
		{exitUsage, `shows the book as it is now`, "sheet recall 261110A --at 07:00"},
		{exitUsage, `trace what\? Give a tag, a lot`, "sheet trace"},
		{exitUsage, `trace one thing at a time`, "sheet recall 261110A --customer Shop"},
		{exitUsage, `--room needs --from DATE and --to DATE`, "sheet trace --room drying"},
		{exitNotFound, `no customer "Shopp"`, "sheet recall --customer Shopp"},
		{exitNotFound, `no ingredient or milk lot "C1"`, "sheet trace --ingredient C1"},
		{exitNotFound, `no wheel or lot "261110B"`, "sheet recall 261110B"},
		{exitUsage, `name one by its tag`, "sheet wheel all"},
		{exitUsage, `no job "x"`, "sheet today --only x"},
		{exitUsage, `no command "tody" in rindkeep sheet\nhint: did you mean rindkeep sheet today\?`, "sheet tody"},
		{exitNotFound, `no wheel`, "sheet wheel 261110A-09"},
		{exitNotFound, `no room`, "sheet today --room nowhere"},
		{exitNotFound, `no lot`, "sheet make 990101A"},
		{exitRefused, `no wheel of those is here any more`, "sheet labels 261110A"},
		{exitNoBook, `no book`, "sheet today --book none.book"},
	} {
		w.want(c.code, c.says, strings.Fields(c.line)...).plain(t, c.line)
	}
	// One that is gone has its card all the same, and its label by its own tag.
	w.must("sheet wheel 261110A-01")
	w.must("sheet labels 261110A-01")
	made, err := filepath.Glob("*.pdf")
	if err != nil {
		t.Fatal(err)
	}
	same(t, "sheets written", made, []string{"labels-261110A-01.pdf", "wheel-261110A-01.pdf"})
}

func TestAnInterruptedSheetLeavesNoFile(t *testing.T) {
	w := newWorld(t).kept().here(t)
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	w.ctx = gone
	for _, line := range []string{"sheet today", "sheet labels all", "sheet wheel 261110A-01", "sheet make 261110A",
		"sheet trace 261110A", "sheet recall 261110A"} {
		w.want(exitInterrupted, `^rindkeep: interrupted; nothing was half-saved\n$`, strings.Fields(line)...)
	}
	if made, _ := filepath.Glob("*.pdf"); len(made) > 0 {
		t.Errorf("interrupted, and left %v", made)
	}
}

func TestASheetBeingDrawnIsInterruptedAtOnceAndHoldsNoBook(t *testing.T) {
	w := newWorld(t).kept()
	ctx, cancel := context.WithCancel(t.Context())
	c := w.console(ctx)
	c.Env.Out, c.Env.Err = io.Discard, io.Discard
	ever := make(chan struct{})
	defer close(ever)
	path := filepath.Join(w.dir, "never.pdf")
	err := sheets.Write(c, &sheets.Flags{Out: path}, func(*uc.Session, sheet.Head) (sheets.Printed, error) {
		return sheets.Printed{Draw: func() (sheet.Doc, error) {
			w.must("did turn all") // another writes meanwhile
			cancel()
			<-ever
			return sheet.Doc{}, nil
		}}, nil
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("an interrupted drawing gave %v", err)
	}
	if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("an interrupted drawing left a file: %v", err)
	}
	c.Ctx = t.Context()
	err = sheets.Write(c, &sheets.Flags{Out: path}, func(*uc.Session, sheet.Head) (sheets.Printed, error) {
		return sheets.Printed{Draw: func() (sheet.Doc, error) { panic("torn paper") }}, nil
	})
	if exitCode(err) != exitFault {
		t.Errorf("a fault while drawing gave %v", err)
	}
}

func TestTheDocumentOfASheetKeepsItsFields(t *testing.T) {
	w := newWorld(t).kept()
	path := filepath.Join(w.dir, "labels.pdf")
	var v map[string]any
	w.doc(&v, "sheet labels 261110A --out "+path)
	golden(t, filepath.Join("json", "sheet.txt"), strings.Join(shapeOf(v), "\n")+"\n")
	want := map[string]any{"schema": "rindkeep/sheet/1", "path": path, "pages": 1.0, "bytes": float64(len(pdfAt(t, path))),
		"paper": "a4-3x8"}
	if d := cmp.Diff(want, v); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
}

func TestATagBeyondPlainLettersIsWarnedOf(t *testing.T) {
	w := newWorld(t).kept().here(t)
	w.must("wheel tag 261110A-04 Comté-12 --quiet")
	w.want(exitDone, `^the tag Comté-12 holds letters beyond a to z: .*some scanners read such letters wrong`, "sheet",
		"labels", "Comté-12")
	w.want(exitDone, `^$`, "sheet", "labels", "261110A-01")
}

func TestTheSheetOfADayHasTheLinesOfTheDay(t *testing.T) {
	// What the list on the terminal has, the sheet has, line by line.
	w := newWorld(t).kept()
	if err := w.view(func(s *uc.Session) error {
		day, err := round.Day(s, round.Asked{Together: true})
		if err != nil {
			return err
		}
		l, d := day.List, sheet.DayOf(words.Printer{Zone: s.Zone}, day, false)
		var lines, blanks, late int
		for _, r := range d.Rooms {
			for _, sh := range r.Shelves {
				for _, x := range sh.Lines {
					n := l.Lines[lines]
					got := fmt.Sprint(r.Name, " ", sh.Name, " ", x.Boxes, " ", x.Late != "")
					want := fmt.Sprint(words.RoomHeading(n.Place.Room()), " ", words.ShelfName(n.Place), " ", n.Left, " ",
						n.LateDays > 0)
					if got != want {
						t.Errorf("line %d is %q, want %q", lines, got, want)
					}
					lines++
					blanks += len(x.Weigh)
					if x.Late != "" {
						late++
					}
				}
			}
		}
		same(t, "lines", lines, len(l.Lines))
		if blanks == 0 || late == 0 {
			t.Errorf("%d blanks for weights and %d late lines: does this test still look at the right day?", blanks, late)
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
}

// view opens the world's book and looks at it as a command does.
func (w *world) view(fn func(*uc.Session) error) error {
	_, err := console.Ask(w.console(w.ctx), func(s *uc.Session) (int, error) { return 0, fn(s) })
	return err
}

func TestARecallSaysWhatEachCustomerHadADeliveryALine(t *testing.T) {
	w := newWorld(t).kept()
	w.must("wheel send 261110A-01,261110A-02 --to Shop --document DN-1 --override test --at 2026-11-19T10:00 --quiet")
	w.must("wheel send 261110A-03 --part --weight 300g --to Shop --document DN-2 --override test --at 2026-11-20T10:00 " +
		"--quiet")
	w.must("wheel send 261110A-03 --part --weight 250g --to shop --document DN-2 --override test --at 2026-11-20T11:00 " +
		"--quiet")
	w.must("wheel send 261110A-04 --weight 2kg --to SHOP --override test --at 2026-11-21T10:00 --quiet")
	w.must("wheel send 261110A-03 --to Lab --weight 1.2kg --override test --at 2026-11-22T10:00 --quiet")
	if err := w.view(func(s *uc.Session) error {
		tr, err := trade.Gather(s, trade.Question{What: []string{"261110A"}})
		if err != nil {
			return err
		}
		same(t, "what the shop had", recalled(tr, "Shop"), [][]string{
			{"19 Nov 2026", "2 whole: 261110A-01, -02\nCheddar, waxed, lot 261110A", "-", "DN-1"},
			{"20 Nov 2026", "2 pieces: 261110A-03\nCheddar, waxed, lot 261110A", "550 g", "DN-2"},
			{"21 Nov 2026", "whole: 261110A-04\nCheddar, waxed, lot 261110A", "2000 g", ""},
		})
		same(t, "what the laboratory had", recalled(tr, "Lab"),
			[][]string{{"22 Nov 2026", "whole: 261110A-03\nCheddar, waxed, lot 261110A", "1200 g", ""}})
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	// One wheel weighed of two: the sum says how many were not.
	w.must("strike last --why x --quiet")
	w.must("wheel send 261110A-03 --to Shop --weight 1.2kg --document DN-1 --override test --at 2026-11-19T10:00 --quiet")
	if err := w.view(func(s *uc.Session) error {
		tr, err := trade.Gather(s, trade.Question{What: []string{"261110A"}})
		if err != nil {
			return err
		}
		same(t, "a delivery weighed in part", recalled(tr, "Shop")[0][2], "1200 g and 2 not weighed")
		return nil
	}); err != nil {
		t.Fatal(err)
	}
}

// recalled is what the sheet of a recall says a customer had.
func recalled(t trade.Trace, customer string) [][]string {
	for _, c := range sheet.RecallOf(words.Printer{}, t).Reach {
		if c.Name == customer {
			return c.Had
		}
	}
	return nil
}

// What the trace on the terminal finds, the sheet has, and the recall names every
// customer of it.
func TestTheSheetsOfATraceHoldWhatTheTraceFound(t *testing.T) {
	w := tracedWorld(t).here(t)
	for _, line := range []string{"261110A", "261110A-02", "--ingredient M1", "--customer Shop",
		"--room drying --from 2026-11-12 --to 2026-11-22"} {
		found := w.found(strings.Fields(line)...)
		for _, kind := range []string{"trace", "recall"} {
			var d struct{ Pages int }
			w.doc(&d, "sheet "+kind+" "+line+" --replace --out "+kind+".pdf")
			if d.Pages < 1 {
				t.Errorf("sheet %s %s: no page", kind, line)
			}
			pdfAt(t, kind+".pdf")
		}
		if err := w.view(func(s *uc.Session) error {
			var q trade.Question
			args := strings.Fields(line)
			for i := 0; i+1 < len(args); i += 2 {
				if to, ok := map[string]*string{"--ingredient": &q.Ingredient, "--customer": &q.Customer, "--room": &q.Room,
					"--from": &q.From, "--to": &q.To}[args[i]]; ok {
					*to = args[i+1]
				}
			}
			if !strings.HasPrefix(line, "--") {
				q.What = args
			}
			tr, err := trade.Gather(s, q)
			if err != nil {
				return err
			}
			had := 0
			for _, c := range tr.Customers {
				had += len(tr.Had(c.Name))
			}
			same(t, line+": customers and deliveries", []int{len(tr.Customers), had},
				[]int{found.Totals.Customers, found.Totals.Deliveries})
			return nil
		}); err != nil {
			t.Fatal(err)
		}
	}
}
