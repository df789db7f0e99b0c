package page

import (
	"fmt"
	"strings"
	"time"
)

// API is what may be sent to a page and read from it, as text: printed from
// the same tables that answer, so that it cannot fall behind them.
func API() string {
	var b strings.Builder
	b.WriteString("read: GET; the answer is the document of the command's --json\n\n")
	for _, d := range documents {
		q := append([]string(nil), d.query...)
		if d.what {
			q = append([]string{"what"}, q...)
		}
		fmt.Fprintf(&b, "  /api/%-18s %s\n", d.path, d.about)
		if len(q) > 0 {
			fmt.Fprintf(&b, "  %23s ?%s\n", "", strings.Join(q, " "))
		}
	}
	b.WriteString("\nwrite: POST one JSON object as application/json; *: required; d: a device may\n\n")
	b.WriteString("  every act takes\n")
	for _, f := range common {
		f.print(&b)
	}
	for _, a := range acts {
		d := ""
		if a.device {
			d = "  (d)"
		}
		fmt.Fprintf(&b, "\n  /api/%s  %s%s\n", a.name, a.about, d)
		for _, f := range a.fields {
			f.print(&b)
		}
	}
	fmt.Fprintf(&b, `
A device records only as itself, can't send sure, and can't go back further than %d
hours.
`, deviceReach/time.Hour)
	b.WriteString(`
answers: 200 the document; otherwise {"error", "where", "hint", "exit", "sure",
"code", "figures"} with 400 not understood, 401 log in or send Authorization:
Bearer TOKEN, 403 not allowed, 404 not found, 413 too large, 415 not JSON, 422
refused by the book (sure: send it again with "sure": true to record it), 429 too
many tries, 503 busy. 429 and 503 give the seconds to wait in Retry-After. If an
id was recorded before, the answer is rindkeep/known/1.

/photo/ENTRY  the photo of a note, by its entry's code or UUID
/live    server-sent events: "change" with {"rev": N} whenever the book changed
/health  {"status":"ok"} while the book can be opened
`)
	return b.String()
}

func (f field) print(b *strings.Builder) {
	star := " "
	if f.must {
		star = "*"
	}
	fmt.Fprintf(b, "   %s %-14s %-18s %s\n", star, f.name, f.kind, f.about)
}
