package intake

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rindkeep/cave/quantity"
)

// slowWeights reads a table with nothing but encoding/csv and the cells' own
// parsers.
func slowWeights(text string) (rows []Weight, bad []Problem, err error) {
	t, err := OpenWeights(strings.NewReader(text))
	if err != nil {
		return nil, nil, err
	}
	o, err := open(strings.NewReader(text))
	if err != nil {
		return nil, nil, err
	}
	for first := true; ; first = false {
		row, err := o.next()
		if errors.Is(err, io.EOF) {
			return rows, bad, nil
		}
		if err != nil {
			return nil, nil, fault(err)
		}
		if first && t.held == nil {
			continue
		}
		w, p := o.weight(row, t.col, t.unit)
		if s, ok := o.surplus(row, t.columns); ok {
			p = append(p, s)
		}
		if len(p) > 0 {
			bad = append(bad, p...)
		} else {
			rows = append(rows, w)
		}
	}
}

func TestPlainRowsReadAsAllOthersDo(t *testing.T) {
	heads := []string{"tag,weight,date\n", "wheel,weight_kg,date,time\n", "tag,weight_g,when,note,id\n", "a,1942\n", "tag;kg;at\n", "tag,weight_lb,date\n", "id,note,date,weight,tag\n"}
	cells := []string{"261120A-03", "a b", " x ", "1942", "1942.0", "1.942", "0", "000", "1,5", "1.9.4", ".5", "5.", "500001", "1e3", "-3", "+3", "1942g", "1.942kg", "4lb5oz", "99999999999999", "0.0000001",
		"2026-11-25", "2026-11-25 08:30", "25.11.2026", "2026/11/25", "08:30", "yesterday", "2026-1-1", "", "", "é", "\xff", `"quoted"`, `"two, cells"`, "0193a5c0-7b1e-7c3a-9f10-2b7d4e9f3c1a", strings.Repeat("long", 40)}
	rapid.Check(t, func(t *rapid.T) {
		head := rapid.SampledFrom(heads).Draw(t, "heading")
		sep := ","
		if strings.Contains(head, ";") {
			sep = ";"
		}
		text := head
		for _, row := range rapid.SliceOfN(rapid.SliceOfN(rapid.SampledFrom(cells), 1, 6), 0, 8).Draw(t, "rows") {
			text += strings.Join(row, sep) + "\n"
		}
		got, gbad, gerr := Weights(strings.NewReader(text))
		want, wbad, werr := slowWeights(text)
		if fmt.Sprint(gerr) != fmt.Sprint(werr) || !reflect.DeepEqual(got, want) || !reflect.DeepEqual(gbad, wbad) {
			t.Fatalf("%q\ngot  %v %v %v\nwant %v %v %v", text, got, gbad, gerr, want, wbad, werr)
		}
	})
}

func TestAPlainWeightIsWhatParseWeightMakesOfIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(`[0-9]{1,7}(\.[0-9]{1,6})?`).Draw(t, "weight")
		unit := rapid.SampledFrom([]string{"", "g", "kg"}).Draw(t, "unit")
		got, ok := plainWeight(s, unit)
		want, err := quantity.ParseWeight(s + unit)
		if ok && (err != nil || got != want) {
			t.Fatalf("%s%s: %v, want %v %v", s, unit, got, want, err)
		}
	})
}

func TestARowWithoutAnEndIsNotReadToTheEndOfALongFile(t *testing.T) {
	long := strings.Repeat("c,3\n", 3_000_000)
	for what, x := range map[string]struct{ text, want string }{
		"a quote mark that nothing closes": {"tag,weight\na,1\n\"b,2\n" + long, "line 3: the row goes on for over 4 MB; does a quote mark open a cell that nothing closes?"},
		"a line without an end":            {"tag,weight\na,1\n" + strings.ReplaceAll(long, "\n", ";"), "line 3: the row goes on for over 4 MB; does a quote mark open a cell that nothing closes?"},
	} {
		if _, _, err := Weights(strings.NewReader(x.text)); err == nil || err.Error() != x.want {
			t.Errorf("%s: got %v, want %s", what, err, x.want)
		}
	}
}

// BenchmarkWeightRows reads a long table beside encoding/csv alone.
func BenchmarkWeightRows(b *testing.B) {
	var s strings.Builder
	s.WriteString("tag,weight,date\n")
	for i := range 100_000 {
		fmt.Fprintf(&s, "L%05d-%02d,%d,2026-%02d-%02d 08:00\n", i/50%20, i%50+1, 2100-i%97, i%12+1, i%28+1)
	}
	b.Run("weights", func(b *testing.B) {
		for b.Loop() {
			t, err := OpenWeights(strings.NewReader(s.String()))
			if err != nil {
				b.Fatal(err)
			}
			for err == nil {
				_, _, err = t.Next()
			}
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/1e5, "ns/row")
	})
	b.Run("encoding/csv alone", func(b *testing.B) {
		for b.Loop() {
			r := csv.NewReader(strings.NewReader(s.String()))
			r.ReuseRecord = true
			var err error
			for err == nil {
				_, err = r.Read()
			}
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/1e5, "ns/row")
	})
}
