package intake

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"testing/iotest"
	"time"
	"unicode"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	unicodeenc "golang.org/x/text/encoding/unicode"
	"pgregory.net/rapid"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
)

var near = cmp.Options{
	cmpopts.IgnoreUnexported(Spot{}), cmpopts.EquateEmpty(),
	cmp.Comparer(func(a, b quantity.Grams) bool {
		return math.Abs(float64(a-b)) < 1e-9*math.Max(1,
			math.Abs(float64(a)))
	}),
}

func w(line int, tag string, g float64, when string) Weight {
	return Weight{Spot: Spot{Line: line}, Tag: tag, Weight: quantity.Grams(g), When: when}
}

const ounce = 28.349523125 // g, NIST Handbook 44

func TestTablesOfWeightsAsPeopleWriteThem(t *testing.T) {
	for _, c := range []struct {
		name, in string
		want     []Weight
	}{
		{"tag, weight, date", "tag,weight,date\na-01,1942,2026-11-25\na-02,1.9kg,2026-11-25T08:30\n",
			[]Weight{w(2, "a-01", 1942, "2026-11-25"), w(3, "a-02", 1900, "2026-11-25T08:30")}},
		{"other words, another order, columns that say nothing",
			"Shelf,Weighed on,Weight (kg),Wheel,Colour\n2,2026-11-25,1.942,a-01,pale\n",
			[]Weight{w(2, "a-01", 1942, "2026-11-25")}},
		{"the unit in brackets", "Cheese;Weight [g]\na-01;1942\n", []Weight{w(2, "a-01", 1942, "")}},
		{"pounds by the heading", "tag,weight_lb\na-01,4\na-02,4lb5oz\n",
			[]Weight{w(2, "a-01", 64*ounce, ""), w(3, "a-02", 69*ounce, "")}},
		{"ounces by the heading", "tag,weight oz\na-01,68.5\n", []Weight{w(2, "a-01", 68.5*ounce, "")}},
		{"a cell's own unit goes before the heading's", "tag,weight_kg\na-01,1942g\n", []Weight{w(2, "a-01", 1942, "")}},
		{"grams spelt out", "tag,weight grams\na-01,1942\n", []Weight{w(2, "a-01", 1942, "")}},
		{"semicolons and decimal commas", "tag;weight_kg;date\na-01;1,942;25.11.2026\n",
			[]Weight{w(2, "a-01", 1942, "25.11.2026")}},
		{"tabs and decimal commas", "tag\tweight_kg\tdate\na-01\t1,942\t2026/11/25\n",
			[]Weight{w(2, "a-01", 1942, "2026/11/25")}},
		{"tabs with an empty cell between", "tag\tdate\tweight\tnote\na-01\t\t1942\tdamp\n",
			[]Weight{{Spot: Spot{Line: 2}, Tag: "a-01", Weight: 1942, Note: "damp"}}},
		{"a decimal comma within quotes", "tag,weight_kg\na-01,\"1,94\"\n", []Weight{w(2, "a-01", 1940, "")}},
		{"a byte order mark, CRLF and spaces", "\xef\xbb\xbftag , weight\r\n a-01 , 1942 \r\n\r\n",
			[]Weight{w(2, "a-01", 1942, "")}},
		{"a byte order mark before a table without headings", "\xef\xbb\xbfa-01,1942\r\n", []Weight{w(1, "a-01", 1942, "")}},
		{"date and time apart", "tag,date,time,weight\na-01,2026-11-25,08:30,1942\na-02,2026-11-25,,1900\n",
			[]Weight{w(2, "a-01", 1942, "2026-11-25 08:30"), w(3, "a-02", 1900, "2026-11-25")}},
		{"a time column alone holds the date", "tag,time,weight\na-01,2026-11-25 08:30,1942\n",
			[]Weight{w(2, "a-01", 1942, "2026-11-25 08:30")}},
		{"no headings: tag, weight", "a-01,1942\na-02,1900\n", []Weight{w(1, "a-01", 1942, ""), w(2, "a-02", 1900, "")}},
		{"no headings: tag, weight, date", "a-01;1,942kg;25.11.2026 08:30\n",
			[]Weight{w(1, "a-01", 1942, "25.11.2026 08:30")}},
		{"notes and identities", "id,tag,weight,note\n018f0000-0000-7000-8000-0000000000aa,a-01,1942,\"damp, soft\"\n",
			[]Weight{{Spot: Spot{Line: 2}, Tag: "a-01", Weight: 1942, Note: "damp, soft",
				ID: "018f0000-0000-7000-8000-0000000000aa"}}},
		{"empty rows and rows of empty cells", "tag,weight\n\n,,\na-01,1942\n", []Weight{w(4, "a-01", 1942, "")}},
		{"a note of two lines", "tag,weight,note\na-01,1942,\"damp\nsoft\"\na-02,1900,\n",
			[]Weight{{Spot: Spot{Line: 2}, Tag: "a-01", Weight: 1942, Note: "damp\nsoft"}, w(4, "a-02", 1900, "")}},
		{"empty cells past the last heading, as spreadsheets leave", "tag,weight\na-01,1942,,\n",
			[]Weight{w(2, "a-01", 1942, "")}},
		{"letters of other scripts", "tag,weight\nチーズ-01,1942\n", []Weight{w(2, "チーズ-01", 1942, "")}},
		{"no line break at the end", "tag,weight\na-01,1942", []Weight{w(2, "a-01", 1942, "")}},
	} {
		t.Run(c.name, func(t *testing.T) {
			for how, r := range map[string]io.Reader{"at once": strings.NewReader(c.in),
				"byte by byte": iotest.OneByteReader(strings.NewReader(c.in))} {
				rows, bad, err := Weights(r)
				if err != nil || len(bad) > 0 {
					t.Fatalf("%s: %v, %v", how, bad, err)
				}
				if diff := cmp.Diff(c.want, rows, near); diff != "" {
					t.Errorf("%s:\n%s", how, diff)
				}
			}
		})
	}
}

func TestTablesThatCannotBeRead(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"nothing", "", " (): no-rows"},
		{"empty lines", "\n\r\n,,\n", " (): no-rows"},
		{"UTF-16 without its mark", "t\x00a\x00g\x00", " (): not-a-table {Kind:binary}"},
		{"a spreadsheet", "PK\x03\x04zip", " (): not-a-table {Kind:spreadsheet}"},
		{"no column for the wheel", "weight,date\n1942,2026-11-25\n",
			"line 1 (): no-column {Field:tag Heading: Has:[weight date]}"},
		{"no column for the weight", "tag,date\na-01,2026-11-25\n",
			"line 1 (): no-column {Field:weight Heading: Has:[tag date]}"},
		{"two weight columns", "tag,weight_g,weight_kg\na-01,1942,1.942\n",
			"line 1, column C (): two-columns {Field:weight Heading:weight_kg Mapped:true First:weight_g}"},
		{"two wheels", "tag,wheel,weight\n",
			"line 1, column B (): two-columns {Field:tag Heading:wheel Mapped:true First:tag}"},
		{"headings nobody knows", "foo,bar\na-01,1942\n", "line 1 (): no-column {Field:tag Heading: Has:[foo bar]}"},
		{"one column", "a-01\n", "line 1 (): no-column {Field:tag Heading: Has:[a-01]}"},
		{"a quote that does not close", "tag,weight\na-01,\"1942\n", "line 2, character 12 (): bad-quote"},
		{"a quote inside a cell", "tag,weight\na-01,19\"42\n", "line 2, character 8 (): bad-quote"},
		{"an escape sequence for a heading", "\x1b[31mfoo,\x1b[2Jbar\n",
			"line 1 (): no-column {Field:tag Heading: Has:[·[31mfoo ·[2Jbar]}"},
	} {
		t.Run(c.name, func(t *testing.T) {
			rows, bad, err := Weights(strings.NewReader(c.in))
			if err == nil || rows != nil || bad != nil {
				t.Fatalf("%v, %v, %v", rows, bad, err)
			}
			if err.Error() != c.want {
				t.Errorf("%q, want %q", err, c.want)
			}
		})
	}
	broken := errors.New("broken pipe")
	if _, _, err := Weights(io.MultiReader(strings.NewReader("tag,weight\n"), iotest.ErrReader(broken))); !errors.Is(err,
		broken) {
		t.Errorf("a broken pipe: %v", err)
	}
}

func TestEveryBadRowIsListedWithItsPlaceAndRemedy(t *testing.T) {
	in := strings.Join([]string{
		"tag,weight_g,date,time",
		"a-01,1942,2026-11-25,",
		",1942,2026-11-25,",
		"a-02,,2026-11-25,",
		"a-03,heavy,2026-11-25,",
		"a-04,\"1,942\",2026-11-25,",
		"a-05,-5,,",
		"a-06",
		"a-07,1942,,08:30",
		"é-08,1942,\xff,",
		"a-09," + strings.Repeat("9", 5000) + ",,",
		",,2026-11-25,",
		"a-10,NaN,,",
	}, "\n")
	rows, bad, err := Weights(strings.NewReader(in))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]Weight{w(2, "a-01", 1942, "2026-11-25")}, rows, near); diff != "" {
		t.Error(diff)
	}
	var got []string
	for _, p := range bad {
		got = append(got, p.Error())
	}
	want := []string{
		"line 3, column A (tag): missing {What:wheel}",
		"line 4, column B (weight): missing {What:weight}",
		`line 5, column B (weight): said {Words:"heavy" is not a weight; write 1942, 1942g, 1.942kg, 4lb5oz or 68.5oz}`,
		"line 6, column B (weight): weight-without-unit {Word:1,942 Figure:1.942}",
		`line 7, column B (weight): said {Words:weight "-5g" must be over 0}`,
		"line 8, column B (weight): missing {What:weight}",
		"line 9, column C (date): time-without-date",
		"line 10, column C (date): not-utf8",
		"line 11, column B (weight): too-long {What:cell Has:5000 Most:4096}",
		"line 12, column A (tag): missing {What:wheel}",
		"line 12, column B (weight): missing {What:weight}",
		`line 13, column B (weight): said {Words:"NaN" is not a weight; write 1942, 1942g, 1.942kg, 4lb5oz or 68.5oz}`,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestADecimalCommaThatSplitsACellIsNotReadAsAnotherFigure(t *testing.T) {
	if days, grams, bad, err := Curve(strings.NewReader("0,1,942\n")); err != nil || len(days) != 0 || len(bad) != 1 ||
		bad[0].Why != (Surplus{3, 2, "942", "comma"}) {
		t.Errorf("for a fit: %v, %v, %v, %v", days, grams, bad, err)
	}
	rows, bad, err := Weights(strings.NewReader("tag,weight_kg\na-01,1,942\na-02,1.9,,\n"))
	if err != nil || len(rows) != 1 || rows[0].Tag != "a-02" || len(bad) != 1 {
		t.Fatalf("%+v, %v, %v", rows, bad, err)
	}
	if got, want := bad[0].Error(),
		"line 2, column C (): surplus-cells {Cells:3 Belong:2 Word:942 Mark:comma}"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestTheColumnsOfARowAreRemembered(t *testing.T) {
	rows, _, err := Weights(strings.NewReader("date,tag,weight,id\n2026-11-25,a-01,1942,x\n"))
	if err != nil {
		t.Fatal(err)
	}
	for field, want := range map[string]int{"date": 1, "tag": 2, "weight": 3, "id": 4, "note": 0} {
		if got := rows[0].Column(field); got != want {
			t.Errorf("%s stands in column %d, want %d", field, got, want)
		}
	}
	rows, _, err = Weights(strings.NewReader("a-01,1942\n"))
	if err != nil || rows[0].Column("date") != 0 || rows[0].Column("tag") != 1 {
		t.Errorf("%+v, %v", rows, err)
	}
}

func TestAHundredThousandRows(t *testing.T) {
	var b bytes.Buffer
	b.WriteString("tag;weight_kg;date\r\n")
	for i := range 100_000 {
		fmt.Fprintf(&b, "a-%05d;%d,%03d;25.11.2026\r\n", i, 1+i%9, i%1000)
	}
	rows, bad, err := Weights(&b)
	if err != nil || len(bad) != 0 || len(rows) != 100_000 {
		t.Fatalf("%d rows, %d bad, %v", len(rows), len(bad), err)
	}
	for _, i := range []int{0, 1, 54_321, 99_999} {
		want := w(i+2, fmt.Sprintf("a-%05d", i), float64(1+i%9)*1000+float64(i%1000), "25.11.2026")
		if diff := cmp.Diff(want, rows[i], near); diff != "" {
			t.Errorf("row %d:\n%s", i, diff)
		}
	}
}

func TestATableWrittenIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sep := rapid.SampledFrom([]string{",", ";", "\t"}).Draw(t, "separator")
		end := rapid.SampledFrom([]string{"\n", "\r\n"}).Draw(t, "line end")
		comma := sep != "," && rapid.Bool().Draw(t, "decimal comma")
		var want []Weight
		in := rapid.SampledFrom([]string{"", "\xef\xbb\xbf"}).Draw(t, "mark") +
			strings.Join([]string{"tag", "weight_kg", "date"}, sep) + end
		for i := range rapid.IntRange(1, 20).Draw(t, "rows") {
			g := rapid.IntRange(1, 499_999).Draw(t, "grams")
			tag := fmt.Sprintf("a-%02d", i)
			when := rapid.SampledFrom([]string{"", "2026-11-25", "yesterday"}).Draw(t, "when")
			num := fmt.Sprintf("%d.%03d", g/1000, g%1000)
			if comma {
				num = strings.Replace(num, ".", ",", 1)
			}
			in += strings.Join([]string{tag, num, when}, sep) + end
			want = append(want, w(i+2, tag, float64(g), when))
		}
		rows, bad, err := Weights(strings.NewReader(in))
		if err != nil || len(bad) > 0 {
			t.Fatalf("%q: %v, %v", in, bad, err)
		}
		if diff := cmp.Diff(want, rows, near); diff != "" {
			t.Fatal(diff)
		}
	})
}

func TestTablesForAFit(t *testing.T) {
	for _, c := range []struct {
		name, in    string
		days, grams []float64
		bad         []string
		why         string
	}{
		{"day and grams", "day,weight_g\n0,2000\n1.5,1980\n", []float64{0, 1.5}, []float64{2000, 1980}, nil, ""},
		{"kilograms, the other way round, decimal commas", "Weight (kg);Days\n2,0;0\n1,98;1,5\n", []float64{0, 1.5},
			[]float64{2000, 1980}, nil, ""},
		{"kg alone", "t,kg\n0,2\n", []float64{0}, []float64{2000}, nil, ""},
		{"gross weight says no unit", "day,gross_weight\n0,2000\n", []float64{0}, []float64{2000}, nil, ""},
		{"no headings", "0,2000\n7,1900\n", []float64{0, 7}, []float64{2000, 1900}, nil, ""},
		{"bad rows", "day,weight_g\nx,2000\n-1,2000\n1\n2,heavy\n3,1950\nNaN,1\n", []float64{3}, []float64{1950}, []string{
			`line 2, column A (day): unreadable {What:day Word:x}`, `line 3, column A (day): unreadable {What:day Word:-1}`,
			"line 4, column B (weight): missing {What:weight}",
			`line 5, column B (weight): said {Words:"heavy" is not a weight; write 1942, 1942g, 1.942kg, 4lb5oz or 68.5oz}`,
			`line 7, column A (day): unreadable {What:day Word:NaN}`}, ""},
		{"nothing", "", nil, nil, nil, " (): no-rows"},
		{"headings alone", "day,weight_g\n", nil, nil, nil, " (): no-rows"},
		{"headings nobody knows", "foo,bar\n", nil, nil, nil, "line 1 (): no-column {Field:day Heading: Has:[]}"},
	} {
		t.Run(c.name, func(t *testing.T) {
			days, grams, bad, err := Curve(strings.NewReader(c.in))
			if c.why != "" {
				if err == nil || err.Error() != c.why {
					t.Errorf("%v, want %q", err, c.why)
				}
				return
			}
			var got []string
			for _, p := range bad {
				got = append(got, p.Error())
			}
			if diff := cmp.Diff([]any{c.days, c.grams, c.bad}, []any{days, grams, got}, cmpopts.EquateEmpty(),
				cmpopts.EquateApprox(1e-12, 0)); diff != "" || err != nil {
				t.Errorf("%v\n%s", err, diff)
			}
		})
	}
}

// calm fails where a sentence would bring a raw control character to a screen.
func calm(t *testing.T, what string) {
	t.Helper()
	for _, r := range what {
		if unicode.IsControl(r) {
			t.Errorf("a raw %U in %q", r, what)
		}
	}
}

func tables(f *testing.F) {
	for _, s := range []string{
		"tag,weight,date\na-01,1942,2026-11-25\n", "tag;weight_kg\na-01;1,942\n", "a\t1\n",
		"\xef\xbb\xbftag,weight\r\na,1\r\n", "\xff\xfea\x00", "PK\x03\x04", "\"", "tag,tag\n", ",,,\n",
		"day,weight_g\n0,2000\n1,1990\n", "0;2,5\n", "tag,weight\na,\x1b[31m\n", "tag,weight,time\na,1,08:30\n",
		"time,temp_c,rh\n2026-11-25 08:30,12.1,85\n", "date;temp;hum\n25.11.2026 8:30;12,1;85\n", "1/2/3,4,5\n",
	} {
		f.Add([]byte(s))
	}
}

func FuzzWeights(f *testing.F) {
	tables(f)
	f.Fuzz(func(t *testing.T, in []byte) {
		rows, bad, err := Weights(bytes.NewReader(in))
		if err != nil {
			calm(t, err.Error())
			if rows != nil || bad != nil {
				t.Errorf("refused, but %v, %v", rows, bad)
			}
		}
		for _, r := range rows {
			if r.Tag == "" || !(r.Weight > 0 && r.Weight <= quantity.MaxWeight) || r.Line < 1 || r.Column("tag") < 1 ||
				r.Column("weight") < 1 {
				t.Errorf("%+v is taken", r)
			}
		}
		for _, p := range bad {
			if p.Line < 1 || p.Column < 0 || p.Code() == "" {
				t.Errorf("%+v", p)
			}
			calm(t, p.Error())
		}
	})
}

func FuzzCurve(f *testing.F) {
	tables(f)
	f.Fuzz(func(t *testing.T, in []byte) {
		days, grams, bad, err := Curve(bytes.NewReader(in))
		if err != nil {
			calm(t, err.Error())
		}
		if len(days) != len(grams) {
			t.Errorf("%d days and %d weights", len(days), len(grams))
		}
		for i := range days {
			if !(days[i] >= 0 && days[i] < 36525 && grams[i] > 0 && grams[i] <= float64(quantity.MaxWeight)) {
				t.Errorf("day %v, %v g", days[i], grams[i])
			}
		}
		for _, p := range bad {
			calm(t, p.Error())
		}
	})
}

func FuzzAir(f *testing.F) {
	tables(f)
	f.Fuzz(func(t *testing.T, in []byte) {
		for _, o := range []AirOptions{{}, {Form: "dmy"}, {Form: "unix", Unit: "F", Loc: time.UTC}} {
			_, bad, err := Air(bytes.NewReader(in), o, func(_ int, r cave.Reading) error {
				if !(r.Temp > -40 && r.Temp < 80 && r.RH >= 0 && r.RH <= 1) || r.At.Unix() < 0 || r.At.Year() > 9999 {
					t.Errorf("%+v is taken", r)
				}
				return nil
			})
			if err != nil {
				calm(t, err.Error())
			}
			for _, p := range bad {
				calm(t, p.Error())
			}
		}
	})
}

// Weights reads a table of weighings whole, as OpenWeights gives its rows. Columns are found by their heading (tag
// or wheel; weight, with its unit in the heading or the cell; date, time or
// both; note; id); a table without headings is read as tag, weight, date.
// Every bad cell is listed; rows is empty where the table itself cannot be
// read, and err says why in one sentence.
func Weights(r io.Reader) (rows []Weight, bad []Problem, err error) {
	t, err := OpenWeights(r, How{})
	if err != nil {
		return nil, nil, err
	}
	for {
		w, p, err := t.Next()
		switch {
		case errors.Is(err, io.EOF):
			return rows, bad, nil
		case err != nil:
			return nil, nil, err
		case len(p) > 0:
			bad = append(bad, p...)
		default:
			rows = append(rows, w)
		}
	}
}

// A table is read in whatever way its text is written: by its byte order mark, or by what can't be UTF-8.
func TestTextsAreReadInTheirCharset(t *testing.T) {
	const text = "Käse-Nr.;Gewicht (kg);Bemerkung\nä-1;1,9;Risse größer – 2 €\n"
	for name, coder := range map[string]encoding.Encoding{
		"UTF-8": encoding.Nop, "UTF-8 with its mark": unicodeenc.UTF8BOM, "Windows-1252": charmap.Windows1252,
		"UTF-16, low byte first":  unicodeenc.UTF16(unicodeenc.LittleEndian, unicodeenc.UseBOM),
		"UTF-16, high byte first": unicodeenc.UTF16(unicodeenc.BigEndian, unicodeenc.UseBOM),
	} {
		for _, before := range []string{"", strings.Repeat("x-1;1,9;plain\n", 20_000)} { // seen late, too
			head, row, _ := strings.Cut(text, "\n")
			if before != "" {
				head = "Laib;Gewicht (kg);Bemerkung"
			}
			in, err := coder.NewEncoder().String(head + "\n" + before + row)
			if err != nil {
				t.Fatal(err)
			}
			rows, bad, err := Weights(iotest.HalfReader(strings.NewReader(in)))
			if err != nil || len(bad) > 0 || len(rows) == 0 {
				t.Fatalf("%s: %v, %v", name, bad, err)
			}
			if last := rows[len(rows)-1]; last.Tag != "ä-1" || last.Note != "Risse größer – 2 €" {
				t.Errorf("%s: %q, %q", name, last.Tag, last.Note)
			}
		}
	}
}
