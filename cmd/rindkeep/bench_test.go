package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"testing"
	"time"
)

// BenchmarkToday is today's list as a whole process, start to exit, on books of
// growing size; the cost is to follow what is due.
func BenchmarkToday(b *testing.B) {
	for _, wheels := range []int{100, 10_000, 100_000} {
		b.Run(fmt.Sprint(wheels), func(b *testing.B) {
			c := newCave(b)
			c.run("demo", "--wheels", fmt.Sprint(wheels), "--book", c.book)
			var doc struct{ Totals struct{ Wheels, Tasks int } }
			if err := json.Unmarshal([]byte(c.run("today", "--json")), &doc); err != nil {
				b.Fatal(err)
			}
			var took []time.Duration
			peak := 0.0
			for b.Loop() {
				cmd := c.command("today")
				var out bytes.Buffer
				cmd.Stdout = &out
				from := time.Now()
				if err := cmd.Run(); err != nil {
					b.Fatal(err)
				}
				took = append(took, time.Since(from))
				peak = max(peak, peakMiB(cmd.ProcessState))
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "ms/median")
			b.ReportMetric(float64(took[len(took)-1].Microseconds())/1000, "ms/worst")
			b.ReportMetric(peak, "MiB/peak")
			b.ReportMetric(float64(doc.Totals.Wheels), "wheels-due")
			b.ReportMetric(float64(doc.Totals.Tasks), "tasks-due")
		})
	}
}
