package workbook

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

// tableOf is a made-up table of weighings.
func tableOf(tb testing.TB, rows int) []byte {
	var b bytes.Buffer
	w := NewWriter(&b)
	if err := w.Sheet("weights", "tag", "weight_g", "at", "note"); err != nil {
		tb.Fatal(err)
	}
	at := time.Date(2026, 11, 25, 7, 40, 0, 0, time.UTC)
	for i := range rows {
		if err := w.Row(fmt.Sprintf("261120A-%05d",
			i), 2000+float64(i%100)/10, at.Add(time.Duration(i)*time.Minute), nil); err != nil {
			tb.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

func BenchmarkWrite(b *testing.B) {
	for _, n := range []int{1_000, 100_000} {
		b.Run(fmt.Sprint(n, "rows"), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				tableOf(b, n)
			}
		})
	}
}

// BenchmarkWriteByTheLibrary is the peer that the tests read with.
func BenchmarkWriteByTheLibrary(b *testing.B) {
	at := time.Date(2026, 11, 25, 7, 40, 0, 0, time.UTC)
	for _, n := range []int{1_000, 100_000} {
		b.Run(fmt.Sprint(n, "rows"), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				f := excelize.NewFile()
				w, err := f.NewStreamWriter("Sheet1")
				if err != nil {
					b.Fatal(err)
				}
				for i := range n {
					if err := w.SetRow(fmt.Sprintf("A%d", i+1), []any{fmt.Sprintf("261120A-%05d",
						i), 2000 + float64(i%100)/10, at.Add(time.Duration(i) * time.Minute), nil}); err != nil {
						b.Fatal(err)
					}
				}
				if err := errors.Join(w.Flush(), f.Write(io.Discard), f.Close()); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkReadByTheLibrary reads the texts alone: the library tells no date by
// its style without the whole sheet in memory.
func BenchmarkReadByTheLibrary(b *testing.B) {
	for _, n := range []int{1_000, 100_000} {
		file := tableOf(b, n)
		b.Run(fmt.Sprint(n, "rows"), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				f, err := excelize.OpenReader(bytes.NewReader(file))
				if err != nil {
					b.Fatal(err)
				}
				rows, err := f.Rows("weights")
				if err != nil {
					b.Fatal(err)
				}
				got := 0
				for rows.Next() {
					if _, err := rows.Columns(excelize.Options{RawCellValue: true}); err != nil {
						b.Fatal(err)
					}
					got++
				}
				if got != n+1 {
					b.Fatal(got)
				}
				if err := errors.Join(rows.Error(), rows.Close(), f.Close()); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkRead(b *testing.B) {
	for _, n := range []int{1_000, 100_000} {
		file := tableOf(b, n)
		b.Run(fmt.Sprint(n, "rows"), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				book, err := Open(b.Context(), bytes.NewReader(file), int64(len(file)))
				if err != nil {
					b.Fatal(err)
				}
				s, err := book.Sheet("")
				if err != nil {
					b.Fatal(err)
				}
				got := 0
				for ; ; got++ {
					if _, _, err := s.Row(); errors.Is(err, io.EOF) {
						break
					} else if err != nil {
						b.Fatal(err)
					}
				}
				if got != n+1 {
					b.Fatal(got)
				}
			}
		})
	}
}
