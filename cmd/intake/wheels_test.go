package intake

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

var noPlaces = cmpopts.IgnoreUnexported(Spot{})

func TestATableOfWheelsIsUnderstoodByItsHeadings(t *testing.T) {
	full := WheelRow{Spot: Spot{Line: 2}, Tag: "A-1", Lot: "A", Made: "2026-11-20", Variety: "tomme",
		Place: "cellar/A/1", Green: 2100, Weight: 2050, Weighed: "2026-11-25", Note: "fine"}
	dotted := full
	dotted.Made, dotted.Weighed = "20.11.2026", "25.11.2026"
	for _, c := range []struct {
		name, text, spec string
		want             []WheelRow
		unused           []string
	}{
		{"our own words", "tag,lot,made,variety,place,green weight,weight,date " +
			"weighed,note\nA-1,A,2026-11-20,tomme,cellar/A/1,2100,2050,2026-11-25,fine\n", "", []WheelRow{full}, nil},
		{"others', semicolons, decimal commas, kilograms in the heading",
			"Cheese no;Batch;Date made;Type;Location;Start weight (kg);Weight (kg);Weighed " +
				"on;Remarks;Colour\nA-1;A;20.11.2026;tomme;cellar/A/1;2,1;2,05;25.11.2026;fine;red\n", "", []WheelRow{dotted},
			[]string{"Colour"}},
		{"columns named by the maker", "Nr,Poids,Jour\nA-1,2050,2026-11-25\n", "tag=nr, weight=Poids, date-weighed=Jour",
			[]WheelRow{{Spot: Spot{Line: 2}, Tag: "A-1", Weight: 2050, Weighed: "2026-11-25"}}, nil},
		{"a column named in the place of the usual one", "tag,weight,gross\nA-1,1,2050\n", "weight=gross",
			[]WheelRow{{Spot: Spot{Line: 2}, Tag: "A-1", Weight: 2050}}, []string{"weight"}},
		{"what is not said", "tag,weight\nA-1,\n\nA-2,4lb\n", "", []WheelRow{{Spot: Spot{Line: 2}, Tag: "A-1"},
			{Spot: Spot{Line: 4}, Tag: "A-2", Weight: 1814.36948}}, nil},
	} {
		named, err := Mapping(c.spec, WheelFields)
		if err != nil {
			t.Fatal(err)
		}
		tb, bad, err := Wheels(strings.NewReader(c.text), How{Columns: named})
		if err != nil || len(bad) > 0 {
			t.Errorf("%s: %v %v", c.name, err, bad)
		}
		if d := cmp.Diff(c.want, tb.Rows, noPlaces, cmpopts.EquateApprox(0, 1e-3)); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
		if d := cmp.Diff(c.unused, tb.Unused); d != "" {
			t.Errorf("%s, headings not used (-want +got):\n%s", c.name, d)
		}
	}
}

func TestATableOfWheelsSaysWhatIsWrongAndWhere(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"a weight that is none", "tag,weight\nA-1,heavy\n", `line 2, column B (weight): said `},
		{"a green weight out of range", "tag,green weight\nA-1,-5\n", `line 2, column B (green weight): said `},
		{"no tag", "tag,weight\n,2000\n", `line 2, column A (tag): missing {What:wheel}`},
		{"a cell too many", "tag,weight\nA-1,2,05\n", `line 2, column C (): surplus-cells {Cells:3 Belong:2`},
	} {
		_, bad, err := Wheels(strings.NewReader(c.text), How{})
		if err != nil || len(bad) != 1 || !strings.HasPrefix(bad[0].Error(), c.want) {
			t.Errorf("%s: %v %v, want %s", c.name, bad, err, c.want)
		}
	}
	for _, c := range []struct{ name, text, spec, want string }{
		{"an empty file", "", "", " (): no-rows"},
		{"no tags", "lot,weight\nA,2000\n", "", "line 1 (): no-column {Field:tag Heading: Has:[lot weight]}"},
		{"two weights", "tag,weight,gross\nA,2000,2000\n", "",
			`line 1, column C (): two-columns {Field:weight Heading:gross Mapped:true First:weight}`},
		{"a column that is not there", "tag,weight\nA,2000\n", "weight=Gewicht",
			`line 1 (): no-column {Field:weight Heading:Gewicht Has:[tag weight]}`},
		{"a field that is none", "", "colour=Red", `unknown {What:field Word:colour Known:tag, lot, made, variety, place, ` +
			strings.Join(WheelFields[5:], ", ") + "}"},
		{"one column for two", "", "weight=kg,tag=KG", `two-fields {Heading:KG Field:tag Other:weight}`},
		{"no column", "", "tag", `unreadable {What:mapping Word:tag}`},
	} {
		named, err := Mapping(c.spec, WheelFields)
		if err == nil {
			_, _, err = Wheels(strings.NewReader(c.text), How{Columns: named})
		}
		if err == nil || err.Error() != c.want {
			t.Errorf("%s:\ngot  %v\nwant %s", c.name, err, c.want)
		}
	}
}

func FuzzWheels(f *testing.F) {
	f.Add("tag,lot,weight (kg),date\nA-1,A,2.05,25.11.2026\n", "tag=tag")
	f.Add("Nr;kg\n\"a\nb\";2,05\n", "tag=Nr,weight=kg")
	f.Fuzz(func(t *testing.T, text, spec string) {
		named, err := Mapping(spec, WheelFields)
		if err != nil {
			return
		}
		tb, bad, err := Wheels(strings.NewReader(text), How{Columns: named})
		for _, r := range tb.Rows {
			if r.Tag == "" || r.Line < 2 || r.Weight < 0 || r.Green < 0 {
				t.Errorf("a row that cannot be: %+v", r)
			}
		}
		if err != nil && len(bad) > 0 {
			t.Errorf("both refused and listed: %v %v", err, bad)
		}
	})
}
