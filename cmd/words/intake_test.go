package words

import (
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/cmd/intake"
)

func TestWhatIsWrongWithATableIsOneSentenceWithItsPlace(t *testing.T) {
	first := func(bad []intake.Problem, err error) error {
		if err == nil && len(bad) > 0 {
			return bad[0]
		}
		return err
	}
	weights := func(text string) error {
		tb, err := intake.OpenWeights(strings.NewReader(text), intake.How{})
		for err == nil {
			var bad []intake.Problem
			if _, bad, err = tb.Next(); len(bad) > 0 {
				return bad[0]
			}
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		return err
	}
	wheels := func(text, spec string) error {
		named, err := intake.Mapping(spec, intake.WheelFields)
		if err != nil {
			return err
		}
		_, bad, err := intake.Wheels(strings.NewReader(text), intake.How{Columns: named})
		return first(bad, err)
	}
	air := func(row string) error {
		in := strings.NewReader("time,temp_c,rh\n" + row)
		_, bad, err := intake.Air(in, intake.AirOptions{Loc: time.UTC}, func(int, cave.Reading) error { return nil })
		return first(bad, err)
	}
	curve := func(text string) error {
		_, _, bad, err := intake.Curve(strings.NewReader(text))
		return first(bad, err)
	}
	for _, c := range []struct {
		err  error
		want string
	}{
		{weights(""), "it holds no rows"},
		{weights("PK\x03\x04"), "it is a spreadsheet, not text; save it as CSV UTF-8"},
		{weights("a\x00"), "it isn't text; save it as CSV UTF-8"},
		{weights("date,weight\n"), "line 1: no column for the wheel's tag; head it tag, " +
			`or name it with --map="tag=HEADING" (the headings are date, weight)`},
		{weights("tag,date\n"), "line 1: no column for the weight; head it weight, weight_g or weight_kg, " +
			`or name it with --map="weight=HEADING" (the headings are tag, date)`},
		{weights("tag,wheel\n"), `line 1, column B: two columns give the tag ("wheel" is the second); ` +
			`say which with --map="tag=HEADING" (the headings are tag, wheel)`},
		{weights("foo,bar\n"), "line 1: no column for the wheel's tag; head it tag, " +
			`or name it with --map="tag=HEADING" (the headings are foo, bar)`},
		{weights("tag,weight\na,19\"42\n"),
			"line 2, character 5: a quote mark is where none belongs; put the whole cell in quotes or leave them out"},
		{weights("tag,weight\n,1942\n"), "line 2, column A (tag): a wheel's tag is missing; give it like 261120A-03"},
		{weights("tag,weight\na,\n"),
			"line 2, column B (weight): a weight is missing; give it like 1942, 1942g, 1.942kg or 4lb5oz"},
		{weights("tag,weight\na,heavy\n"),
			`line 2, column B (weight): "heavy" is not a weight; write 1942, 1942g, 1.942kg, 4lb5oz or 68.5oz`},
		{weights("tag,weight,date\né,1,\xff\n"),
			"line 2, column C (date): this is not UTF-8 text; save the file as CSV UTF-8"},
		{weights("tag,weight,date,time\na,1,,08:30\n"),
			"line 2, column C (date): a time without its date; give the date as 2026-11-25"},
		{weights("tag,weight\na,1,942\n"),
			"line 2, column C: the row has 3 cells where 2 belong; put a cell that holds a comma in quotes"},
		{weights("tag,weight\na," + strings.Repeat("9", 5000)),
			"line 2, column B (weight): the cell is too long: 5000, and at most 4096"},
		{wheels("tag\n", "weight=Gewicht"), `line 1: no column is headed "Gewicht"; the headings are tag`},
		{wheels("tag,weight,gross\n", ""),
			`line 1, column C: two columns give the weight ("gross" is the second); ` +
				`say which with --map="weight=HEADING" (the headings are weight, gross)`},
		{wheels("", "tag"), `can't read "tag" as a column; give it like tag=Cheese no`},
		{wheels("", "tag=a,weight=A"), `column "A" is given to both tag and weight`},
		{air("11/12/2026 08:30,12,80\n"),
			`line 2, column A (time): "11/12/2026 08:30" may be day/month or month/day; ` +
				`say which with --time-format dmy or mdy`},
		{air("2026-11-25,12,80\n"),
			"line 2, column A (time): a date without its time of day; write it like 2026-11-25 08:30"},
		{air("2026-11-25 08:30,120,80\n"),
			"line 2, column B (temperature): 120 °C is out of range; is it in Fahrenheit? say so with --unit F"},
		{air("2026-11-25 08:30,12,200\n"),
			`line 2, column C (humidity): can't read "200" as a humidity; give it like 84%, from 0 to 100`},
		{curve("day,weight_g\nx,2000\n"), `line 2, column A (day): "x" isn't a day; give 0 or more`},
		{curve("foo,bar\n"), "line 1: head the columns day and weight_g"},
		{intake.In("a\x1b.csv", curve("")), "a·.csv: it holds no rows"},
	} {
		if c.err == nil {
			t.Errorf("accepted, want %s", c.want)
		} else if got := (Printer{}).Sentence(reason.Of(c.err)); got != c.want {
			t.Errorf("\n got %s\nwant %s", got, c.want)
		}
	}
}
