package intake

import (
	"encoding/csv"
	"fmt"
	"strings"
	"testing"
)

func TestARowWithoutAnEndIsNotReadToTheEndOfALongFile(t *testing.T) {
	long := strings.Repeat("c,3\n", 3_000_000)
	for what, x := range map[string]struct{ text, want string }{
		"a quote mark that nothing closes": {"tag,weight\na,1\n\"b,2\n" + long, "line 3 (): endless-row"},
		"a line without an end": {"tag,weight\na,1\n" + strings.ReplaceAll(long, "\n", ";"),
			"line 3 (): endless-row"},
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
			t, err := OpenWeights(strings.NewReader(s.String()), How{})
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
