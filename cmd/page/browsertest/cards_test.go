package browsertest

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// card is a line of the list on the page, as it stands.
type card struct {
	Key    string   `json:"key"`
	Kind   string   `json:"kind"`
	Job    string   `json:"job"`
	Place  string   `json:"place"`
	Wheels []string `json:"wheels"`
	Done   bool     `json:"done"`
	Words  string   `json:"words"`
}

// cards are the lines of the list on the page, in its order.
func (b *tab) cards() []card {
	b.t.Helper()
	return js[[]card](b, `[...document.querySelectorAll("#list .card:not(.is-covered)")].map((li) => ({
		key: li.dataset.key, kind: li.dataset.kind, job: li.dataset.job, place: li.closest(".shelf").dataset.place,
		wheels: JSON.parse(li.dataset.wheels), done: li.classList.contains("is-done"), words: li.querySelector(".what").textContent.trim() }))`)
}

// card is the line for a job at a place, for these wheels among others.
func (b *tab) card(job, place string, of ...string) card {
	b.t.Helper()
	for _, c := range b.cards() {
		if c.Job == job && c.Place == place && !c.Done &&
			!slices.ContainsFunc(of, func(tag string) bool { return !slices.Contains(c.Wheels, tag) }) {
			return c
		}
	}
	b.t.Fatalf("no %s at %s to be done\n%s", job, place, b.text())
	return card{}
}

// onCard is a button of a line that is still to be done.
func onCard(c card, act string) string {
	return fmt.Sprintf(`document.querySelector("#c%s:not(.is-done) [data-do=%s]")`, c.Key, act)
}

// isOpen says that a form lies open over the list.
func isOpen(id string) string { return `document.getElementById("` + id + `").open` }

// begin taps a button of a line that opens a form.
func (b *tab) begin(c card, act, form string) { b.t.Helper(); b.tapUntil(onCard(c, act), isOpen(form)) }

// foot is what the bar at the foot says: how many are done, and how the sending
// stands.
func (b *tab) foot() (count, post string) {
	b.t.Helper()
	return js[string](b, `document.getElementById("count").textContent`), js[string](b,
		`document.getElementById("post").textContent`)
}

// allSent waits until the book has everything.
func (b *tab) allSent() {
	b.t.Helper()
	b.until(`document.getElementById("post").textContent === "all sent"`)
}

// weighLine opens the pad for a line and weighs all of its wheels, with the
// keyboard: a phone's pad is tried elsewhere.
func (b *tab) weighLine(bk *book, c card) {
	b.t.Helper()
	b.begin(c, "all", "pad")
	for range c.Wheels {
		tag := js[string](b, `document.getElementById("pad-tag").value`)
		b.keys(fmt.Sprint(bk.likely(tag)))
		b.keys("\r")
		b.until(answered + `.startsWith(` + q(tag) + `)`)
	}
	b.until(`document.getElementById("pad-where").textContent === "that was the last one"`)
	b.press(`document.getElementById("pad")`, "close")
}

// folded says that a line is done.
func folded(c card) string {
	return fmt.Sprintf(`(document.getElementById("c%s")?.matches(".is-done, .is-covered") ?? true)`, c.Key)
}

// do does one line, whatever it is.
func (b *tab) do(bk *book, c card) {
	b.t.Helper()
	switch c.Kind {
	case "weigh":
		b.weighLine(bk, c)
	case "coat":
		b.begin(c, "all", "coat")
		b.tap(`document.getElementById("coat-all")`)
		b.until(folded(c))
	default:
		b.tapUntil(onCard(c, "all"), folded(c))
	}
}

// round does every line of the day, and what comes of doing it.
func (b *tab) round(bk *book) {
	b.t.Helper()
	for range 60 {
		cs := b.cards()
		i := slices.IndexFunc(cs, func(c card) bool { return !c.Done })
		if i < 0 {
			return
		}
		b.do(bk, cs[i])
	}
	b.t.Fatalf("the round has no end\n%s", b.text())
}

// did is an entry as a job on a wheel.
func (e entry) did() string {
	switch e.Kind {
	case "weighed", "checked", "coated":
		return e.Kind + " " + e.Of
	}
	return e.What + " " + e.Of
}

// past says what a job is once done, as the log says it.
var past = map[string]string{"turn": "turned", "weigh": "weighed", "check": "checked", "coat": "coated",
	"wash": "washed", "rub": "rubbed", "brush": "brushed"}

// due is what the day's list has for each wheel, as the log will say it.
func (b *book) due() []string {
	b.t.Helper()
	var doc struct {
		Tasks []struct {
			Job    string
			Wheels []string
		}
	}
	b.read(&doc, "today")
	var out []string
	for _, k := range doc.Tasks {
		for _, w := range k.Wheels {
			if past[k.Job] == "" {
				b.t.Fatalf("no word for %s", k.Job)
			}
			out = append(out, past[k.Job]+" "+w)
		}
	}
	return out
}

// onceEach fails unless the entries are all that was due, each once, and
// besides only what became due by doing it: the coat.
func onceEach(t *testing.T, due []string, es []entry) {
	t.Helper()
	n := map[string]int{}
	for _, e := range es {
		if !e.Struck && e.Kind != "struck" {
			n[e.did()]++
		}
	}
	for _, d := range due {
		if n[d] != 1 {
			t.Errorf("%s is in the book %d times, want once", d, n[d])
		}
		delete(n, d)
	}
	for d, k := range n {
		if k != 1 || !strings.HasPrefix(d, "coated ") {
			t.Errorf("%s is in the book %d times, and was not due", d, k)
		}
	}
}
