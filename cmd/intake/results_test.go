package intake

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

func TestATableOfResultsIsUnderstoodByItsHeadings(t *testing.T) {
	for _, c := range []struct {
		name, table string
		want        []LabRow
	}{
		{"the least", "sample,result\nL-1,<10 cfu/g\n", []LabRow{{Sample: "L-1", Found: "<10 cfu/g"}}},
		{"unit and grams apart", "Sample No;Analysis;Value;Unit;Examined\nL-1;E. coli;40;cfu/g;\nL-1;Listeria;ND;;25 g\n",
			[]LabRow{{Sample: "L-1", Test: "E. coli", Found: "40 cfu/g"},
				{Sample: "L-1", Test: "Listeria", Found: "ND in 25 g"}}},
		{"grams said twice", "sample,result,portion\nL-1,not detected in 25 g,25 g\n",
			[]LabRow{{Sample: "L-1", Found: "not detected in 25 g"}}},
		{"all of it",
			"Specimen,Batch,Parameter,Finding,Reported,Certificate,Remarks\nL-1,261110A,pH,5.2,25.11.2026,R9,late\n",
			[]LabRow{{Sample: "L-1", Lot: "261110A", Test: "pH", Found: "5.2", When: "25.11.2026", Report: "R9", Note: "late"}}},
	} {
		rows, bad, err := Results(strings.NewReader(c.table), How{})
		if err != nil || len(bad) > 0 {
			t.Errorf("%s: %v, %v", c.name, bad, err)
			continue
		}
		if d := cmp.Diff(c.want, rows, cmpopts.IgnoreTypes(Spot{})); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
	}
}

func TestATableOfResultsSaysWhatIsWrongAndWhere(t *testing.T) {
	for _, c := range []struct{ name, table, want string }{
		{"no sample's column", "lot,result\nA,1\n", "no-column"},
		{"no result's column", "sample,test\nA,b\n", "no-column"},
		{"headings alone", "sample,result\n", "no-rows"},
		{"nothing", "", "no-rows"},
		{"a row without a sample", "sample,result\n,1\n", "line 2, column A (sample): missing"},
		{"a row without a result", "sample,result\nL-1,\n", "line 2, column B (result): missing"},
	} {
		_, bad, err := Results(strings.NewReader(c.table), How{})
		got := ""
		if err != nil {
			got = err.Error()
		} else if len(bad) > 0 {
			got = bad[0].Error()
		}
		if !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

func FuzzResults(f *testing.F) {
	tables(f)
	f.Add([]byte("sample;result;unit\nL-1;40;cfu/g\n"))
	f.Fuzz(func(_ *testing.T, b []byte) { _, _, _ = Results(strings.NewReader(string(b)), How{}) })
}
