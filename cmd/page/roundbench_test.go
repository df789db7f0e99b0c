//go:build unix

package page_test

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"html"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"rindkeep/cmd/cli"
	"rindkeep/cmd/cli/pages"
	"rindkeep/cmd/page"
)

// BenchmarkOneRoomsRound asks for the round of one room: when the book changed since
// ("changed"), when it didn't, what changed of it for a page that has it, and the same
// bytes of a plain handler that packs them as the page does. The book of 100,000 wheels
// is made once, at RINDKEEP_BENCH_BOOK if that's set; else it takes some minutes.
func BenchmarkOneRoomsRound(b *testing.B) {
	for _, wheels := range []int{1_000, 100_000} {
		book := benchBook(b, wheels)
		o := pages.Options(book, benchEnv())
		var rev atomic.Uint64
		o.Rev = func() (uint64, error) { return rev.Load(), nil }
		s, err := page.New(o)
		if err != nil {
			b.Fatal(err)
		}
		h, have := s.Handler(), ""
		ask := func(h http.Handler) *httptest.ResponseRecorder {
			r := httptest.NewRequest(http.MethodGet, "http://localhost/?room=bay-1", nil)
			r.Header.Set("Accept-Encoding", "gzip")
			if have != "" {
				r.Header.Set("X-Round", have)
			}
			w := httptest.NewRecorder()
			h.ServeHTTP(w, r)
			if w.Code != http.StatusOK {
				b.Fatal(w.Body)
			}
			return w
		}
		z, err := gzip.NewReader(ask(h).Body)
		if err != nil {
			b.Fatal(err)
		}
		body, err := io.ReadAll(z)
		if err != nil {
			b.Fatal(err)
		}
		plain := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
			var packed bytes.Buffer
			z := gzip.NewWriter(&packed)
			_, _ = z.Write(body)
			_ = z.Close()
			w.Header().Set("Content-Type", "text/html; charset=utf-8")
			w.Header().Set("Content-Encoding", "gzip")
			w.Header().Set("Content-Length", strconv.Itoa(packed.Len()))
			_, _ = w.Write(packed.Bytes())
		})
		_, after, _ := strings.Cut(string(body), `data-have="`)
		state, _, _ := strings.Cut(after, `"`)
		for _, c := range []struct {
			name    string
			h       http.Handler
			changes bool
			have    string
		}{{"changed", h, true, ""}, {"unchanged", h, false, ""}, {"changes", h, true, state}, {"plain", plain, false, ""}} {
			b.Run(fmt.Sprintf("%d/%s", wheels, c.name), func(b *testing.B) {
				have = c.have
				size, from := 0, cpu(b)
				for b.Loop() {
					if c.changes {
						rev.Add(1)
					}
					size = ask(c.h).Body.Len()
				}
				b.ReportMetric((cpu(b)-from).Seconds()*1000/float64(b.N), "cpu-ms/op")
				b.ReportMetric(float64(size), "bytes")
				b.ReportMetric(float64(bytes.Count(body, []byte(`class="card`))), "cards")
			})
		}
		s.Close()
	}
}

// BenchmarkAnEntryWithPhonesOpen enters a job while phones have the room open. It tells
// how long the entry takes, and how long it is until all of the phones show it.
func BenchmarkAnEntryWithPhonesOpen(b *testing.B) {
	for _, phones := range []int{1, 30} {
		b.Run(strconv.Itoa(phones), func(b *testing.B) {
			book := benchBook(b, 1_000)
			s, err := page.New(pages.Options(book, benchEnv()))
			if err != nil {
				b.Fatal(err)
			}
			srv := httptest.NewServer(s.Handler())
			defer srv.Close()
			defer s.Close()
			shown := make(chan time.Time, phones)
			for range phones {
				p := &benchPhone{at: srv.URL}
				p.fetch(b)
				go p.listen(b, shown)
			}
			time.Sleep(time.Second) // until all listen
			var entry, all []float64
			tags := benchPhone{at: srv.URL}.tags(b)
			for i := range tags {
				if i == b.N {
					break
				}
				from := time.Now()
				r, err := http.Post(srv.URL+"/api/did", "application/json",
					strings.NewReader(fmt.Sprintf(`{"job":"turn","wheels":[%q],"twice":true}`, tags[i])))
				if err != nil || r.StatusCode != http.StatusOK {
					b.Fatal(err, r.Status)
				}
				r.Body.Close()
				entry = append(entry, time.Since(from).Seconds()*1000)
				last := from
				for range phones {
					last = <-shown
				}
				all = append(all, last.Sub(from).Seconds()*1000)
			}
			for name, ms := range map[string][]float64{"entry": entry, "shown": all} {
				slices.Sort(ms)
				b.ReportMetric(ms[len(ms)/2], name+"-ms-p50")
				b.ReportMetric(ms[len(ms)*99/100], name+"-ms-p99")
			}
		})
	}
}

// benchPhone is a phone that shows a room.
type benchPhone struct{ at, have, rev string }

func (p *benchPhone) fetch(b *testing.B) string {
	r, err := http.NewRequest("GET", p.at+"/?room=bay-1", nil)
	if err != nil {
		b.Fatal(err)
	}
	if p.have != "" {
		r.Header.Set("X-Round", p.have)
	}
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		return ""
	}
	defer res.Body.Close()
	body, _ := io.ReadAll(res.Body)
	p.have, p.rev = attribute(string(body), "data-have"), attribute(string(body), "data-rev")
	return string(body)
}

func attribute(of, name string) string {
	_, after, _ := strings.Cut(of, name+`="`)
	v, _, _ := strings.Cut(after, `"`)
	return v
}

// tags are wheels that are due to be turned in the room.
func (p benchPhone) tags(b *testing.B) (all []string) {
	for card := range strings.SplitSeq(p.fetch(b), "<li ") {
		var tags []string
		if attribute(card, "data-job") == "turn" &&
			json.Unmarshal([]byte(html.UnescapeString(attribute(card, "data-wheels"))), &tags) == nil {
			all = append(all, tags...)
		}
	}
	return all
}

func (p *benchPhone) listen(b *testing.B, shown chan<- time.Time) {
	res, err := http.Get(p.at + "/live?list=room%3Dbay-1&rev=" + p.rev)
	if err != nil {
		return
	}
	defer res.Body.Close()
	for lines := bufio.NewScanner(res.Body); lines.Scan(); {
		if strings.HasPrefix(lines.Text(), "data:") {
			p.fetch(b)
			shown <- time.Now()
		}
	}
}

func benchEnv() cli.Env {
	return cli.Env{In: strings.NewReader(""), Out: io.Discard, Err: io.Discard, Now: time.Now,
		Getenv: func(k string) string { return map[string]string{"TZ": "UTC", "RINDKEEP_BY": "Nora"}[k] }}
}

// cpu is what this process has used of the processor: other processes don't count.
func cpu(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// benchBook is a demo's book of so many wheels.
func benchBook(b *testing.B, wheels int) string {
	at := filepath.Join(b.TempDir(), "cave.book")
	if kept := os.Getenv("RINDKEEP_BENCH_BOOK"); kept != "" && wheels >= 100_000 {
		at = kept
		if _, err := os.Stat(at); err == nil {
			return at
		}
	}
	args := []string{"demo", "--book=" + at, "--quiet", "--wheels", strconv.Itoa(wheels)}
	if code := cli.Run(b.Context(), args, benchEnv()); code != 0 {
		b.Fatalf("demo: exit %d", code)
	}
	return at
}
