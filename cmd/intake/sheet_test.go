package intake

import (
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cave"
	"rindkeep/cmd/workbook"
)

// sheet is a table of a workbook: rows by their numbers.
type sheet struct {
	io.Reader
	rows []string // cells parted by |; an empty one is left out
	at   int
}

func (s *sheet) Row() (int, []string, error) {
	for s.at < len(s.rows) {
		s.at++
		if l := s.rows[s.at-1]; l != "" {
			return s.at, strings.Split(strings.ReplaceAll(l, "FORMULA", workbook.NoResult), "|"), nil
		}
	}
	return 0, nil, io.EOF
}

func sheetOf(text string) *sheet { return &sheet{rows: strings.Split(text, "\n")} }

func problemsOf(bad []Problem) []string {
	var out []string
	for _, p := range bad {
		out = append(out, p.Error())
	}
	return out
}

func TestASheetIsReadAsTextIsAndNamesItsCells(t *testing.T) {
	rows, bad, err := Weights(sheetOf("\ntag|weight " +
		"(kg)|date|time|note\nA-1|1.942|2026-11-25|07:40|\n\nA-2|heavy|2026-11-25\n" +
		"|1.9\nA-3|FORMULA\nA-4|1.9|||FORMULA\nA-5|1.9|||| |x\nA-6|2\n"))
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, r := range rows {
		got = append(got, r.Tag+" "+r.When+" "+r.Problem("weight", Said{"so"}).Error())
	}
	if d := cmp.Diff([]string{"A-1 2026-11-25 07:40 cell B3 (weight): said {Words:so}",
		"A-6  cell B10 (weight): said {Words:so}"}, got); d != "" {
		t.Errorf("rows (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]string{
		`cell B5 (weight): said {Words:"heavy" is not a weight; write 1942, 1942g, 1.942kg, 4lb5oz or 68.5oz}`,
		`cell A6 (tag): missing {What:wheel}`,
		"cell B7 (weight): formula-without-result",
		"cell E8 (note): formula-without-result",
		`cell G9 (): surplus-cells {Cells:7 Belong:5 Word:x Mark:}`,
	}, problemsOf(bad)); d != "" {
		t.Errorf("problems (-want +got):\n%s", d)
	}

	tb, bad, err := Wheels(sheetOf("tag|made|weight|colour\nA-1|2026-11-20 00:00|2000|red\nA-2|2026-11-20|2000"), How{})
	if err != nil || len(bad) > 0 || !tb.Sheet || tb.Rows[0].Made != "2026-11-20" ||
		tb.Rows[1].Problem("made", Said{"so"}).Error() != "cell B3 (made): said {Words:so}" {
		t.Errorf("%+v %v %v", tb, bad, err)
	}
	if w, ok := tb.Rows[1].Weighing(); !ok ||
		w.Problem("weight", Said{"so"}).Error() != "cell C3 (weight): said {Words:so}" {
		t.Errorf("%+v", w)
	}
	for _, c := range []struct{ name, text, want string }{
		{"no rows", "", " (): no-rows"},
		{"no tags", "\n\nlot|weight\nA|2000", "row 3 (): no-column {Field:tag Heading: Has:[lot weight]}"},
		{"two weights", "\ntag|weight|gross",
			`cell C2 (): two-columns {Field:weight Heading:gross Mapped:true First:weight}`},
	} {
		if _, _, err := Wheels(sheetOf(c.text), How{}); err == nil || err.Error() != c.want {
			t.Errorf("%s: %v, want %s", c.name, err, c.want)
		}
	}

	n := 0
	rep, bad, err := Air(sheetOf("Logger 7\n\nTime|Temp °C|Humidity\n2026-11-25 07:40|12.1|84.5%\n2026-11-25 "+
		"07:45|?|84%\n2026-11-25|12|84%"), AirOptions{Loc: time.UTC}, func(_ int, r cave.Reading) error {
		n++
		if r.RH.Percent() != 84.5 {
			t.Errorf("humidity %v", r.RH)
		}
		return nil
	})
	if err != nil || n != 1 || rep.Rows != 1 {
		t.Errorf("%d readings: %+v %v", n, rep, err)
	}
	if d := cmp.Diff([]string{`cell B5 (temperature): unreadable {What:temp Word:?}`,
		`cell A6 (time): date-without-time`}, problemsOf(bad)); d != "" {
		t.Errorf("problems (-want +got):\n%s", d)
	}

	days, _, bad, err := Curve(sheetOf("day|weight_g\n0|2000\nx|1990"))
	if err != nil || len(days) != 1 {
		t.Errorf("%v %v", days, err)
	}
	if d := cmp.Diff([]string{`cell A3 (day): unreadable {What:day Word:x}`}, problemsOf(bad)); d != "" {
		t.Errorf("problems (-want +got):\n%s", d)
	}
}

// cutSheet ends with an error after its first row.
type cutSheet struct {
	io.Reader
	read bool
}

var errCut = errors.New("it is damaged")

func (c *cutSheet) Row() (int, []string, error) {
	if c.read {
		return 0, nil, errCut
	}
	c.read = true
	return 1, []string{"tag", "weight"}, nil
}

func TestASheetThatBreaksOffIsNotTakenForItsBeginning(t *testing.T) {
	if _, _, err := Weights(&cutSheet{}); !errors.Is(err, errCut) {
		t.Errorf("weights: %v", err)
	}
	if _, _, err := Wheels(&cutSheet{}, How{}); !errors.Is(err, errCut) {
		t.Errorf("wheels: %v", err)
	}
	if _, _, err := Air(&cutSheet{}, AirOptions{}, nil); !errors.Is(err, errCut) {
		t.Errorf("air: %v", err)
	}
}
