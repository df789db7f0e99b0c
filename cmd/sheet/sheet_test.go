package sheet

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/sheets"
	"rindkeep/cmd/plot"
)

var head = Head{Book: "Hollow Ash Dairy", Printed: time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC), Paper: A4}

// need skips a test where an outside program is missing, and fails it where
// everything is asked for.
func need(t *testing.T, programs ...string) {
	t.Helper()
	for _, p := range programs {
		if _, err := exec.LookPath(p); err == nil {
			continue
		}
		if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
			t.Fatalf("%s is not installed (poppler-utils, zbar-tools)", p)
		}
		t.Skipf("%s is not installed", p)
	}
}

func run(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).Output()
	if err != nil {
		t.Fatalf("%s %q: %v", name, args, err)
	}
	return string(out)
}

func saved(t *testing.T, d Doc) string {
	t.Helper()
	p := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(p, d.PDF, 0o600); err != nil {
		t.Fatal(err)
	}
	return p
}

// wordsOf are the words of each page, in the order a reader finds them.
func wordsOf(t *testing.T, d Doc) []string {
	t.Helper()
	need(t, "pdftotext")
	pages := strings.Split(run(t, "pdftotext", "-layout", saved(t, d), "-"), "\f")
	pages = pages[:len(pages)-1]
	for i, p := range pages {
		pages[i] = strings.Join(strings.Fields(p), " ")
	}
	if len(pages) != d.Pages {
		t.Errorf("%d pages, and %d are said", len(pages), d.Pages)
	}
	return pages
}

// inside wants every word of a document within its pages.
func inside(t *testing.T, what string, d Doc) {
	t.Helper()
	need(t, "pdftotext")
	out := run(t, "pdftotext", "-bbox", saved(t, d), "-")
	page := regexp.MustCompile(`<page width="([0-9.]+)" height="([0-9.]+)"|<word xMin="([-0-9.]+)" yMin="([-0-9.]+)" ` +
		`xMax="([-0-9.]+)" yMax="([-0-9.]+)">(.*)</word>`)
	num := func(s string) float64 { x, _ := strconv.ParseFloat(s, 64); return x }
	var w, h float64
	seen := 0
	for _, m := range page.FindAllStringSubmatch(out, -1) {
		if m[1] != "" {
			w, h = num(m[1]), num(m[2])
			continue
		}
		seen++
		if num(m[3]) < 0 || num(m[4]) < 0 || num(m[5]) > w || num(m[6]) > h {
			t.Errorf("%s: %q stands at %s,%s to %s,%s of a page of %.0f by %.0f", what, m[7], m[3], m[4], m[5], m[6], w, h)
		}
	}
	if seen == 0 {
		t.Errorf("%s: no words at all", what)
	}
}

// drawing gives what the pages are drawn with.
func drawing(t *testing.T, d Doc) string {
	t.Helper()
	var all strings.Builder
	for rest := d.PDF; ; {
		_, after, ok := bytes.Cut(rest, []byte("stream\n"))
		if !ok {
			return all.String()
		}
		body, next, ok := bytes.Cut(after, []byte("endstream"))
		if !ok {
			t.Fatal("a stream without an end")
		}
		if z, err := zlib.NewReader(bytes.NewReader(body)); err == nil {
			_, _ = io.Copy(&all, z)
		}
		rest = next
	}
}

func must(t *testing.T) func(Doc, error) Doc {
	return func(d Doc, err error) Doc {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
}

var day = Day{
	Date: "Wednesday 25 November 2026", Summary: "3 wheels to handle", Alarms: []string{"AIR of cellar: too dry"},
	Unit: "g",
	Rooms: []Room{
		{"drying", []Shelf{{"rack A, shelf 1", []Line{
			{Boxes: 2, Job: "turn", Who: "all 3: 261121A-01 to -03", Why: "twice a day"},
			{Boxes: 1, Job: "weigh", Who: "261121A-01, -02", Late: "LATE 2 days", Why: "daily",
				Weigh: []string{"261121A-01", "261121A-02"}},
		}}}},
		{"cellar", []Shelf{{"", []Line{{Boxes: 1, Job: "brush", Who: "261022A-01", Why: "weekly"}}}}},
	},
	Cautions: []string{"CAUTION: hot wax burns."},
}

func TestWhatTheDaysListSays(t *testing.T) {
	got := wordsOf(t, must(t)(Today(head, day)))
	want := []string{"Wednesday 25 November 2026 Hollow Ash Dairy 3 wheels to handle AIR of cellar: too dry " +
		"drying rack A, shelf 1 turn all 3: 261121A-01 to -03 twice a day weigh 261121A-01, -02 LATE 2 days daily " +
		"261121A-01 g 261121A-02 g " +
		"cellar brush 261022A-01 weekly done by at CAUTION: hot wax burns. page 1 of 1 printed Wed 25 Nov 2026 08:00"}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
}

func TestABoxStandsForEveryRoundLeft(t *testing.T) {
	// Boxes are the only outlined rectangles but for the frame of the caution.
	rects := func(d Day) int {
		return strings.Count(drawing(t, must(t)(Today(head, d))), " re S")
	}
	if got := rects(day); got != 2+1+1+1 {
		t.Errorf("%d outlined rectangles, want 4 boxes and a frame", got)
	}
	six := Day{Rooms: []Room{{"drying", []Shelf{{"", []Line{{Boxes: 6, Job: "turn", Who: "a"}}}}}}}
	if got := rects(six); got != 6 {
		t.Errorf("%d boxes for six rounds", got)
	}
}

func TestAnEmptyDayIsOnePageThatSaysSo(t *testing.T) {
	got := wordsOf(t, must(t)(Today(head, Day{Date: "Sunday 29 November 2026", Summary: "nothing to do", Unit: "g"})))
	want := []string{"Sunday 29 November 2026 Hollow Ash Dairy nothing to do page 1 of 1 printed Wed 25 Nov 2026 08:00"}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
}

// crowd is a day on which n wheels on one shelf are weighed.
func crowd(n int) (Day, []string) {
	var tags []string
	for i := range n {
		tags = append(tags, fmt.Sprintf("261121A-%03d", i+1))
	}
	d := day
	d.Rooms = []Room{{"drying", []Shelf{{"rack A, shelf 1", []Line{
		{Boxes: 1, Job: "weigh", Who: "all of them", Weigh: tags}}}}}}
	return d, tags
}

func TestFiveHundredWheelsEachHaveABlankOnNumberedPages(t *testing.T) {
	for _, h := range []Head{head, {Book: head.Book, Printed: head.Printed, Paper: Letter, Large: true}} {
		d, tags := crowd(500)
		doc := must(t)(Today(h, d))
		pages := wordsOf(t, doc)
		all := strings.Join(pages, " ")
		var found []string
		for _, m := range regexp.MustCompile(`(261121A-\d{3}) g`).FindAllStringSubmatch(all, -1) {
			found = append(found, m[1])
		}
		if d := cmp.Diff(tags, found); d != "" {
			t.Errorf("the blanks on paper (-want +got):\n%s", d)
		}
		for i, p := range pages {
			for _, w := range []string{"Wednesday 25 November 2026", "Hollow Ash Dairy",
				fmt.Sprintf("page %d of %d", i+1, len(pages))} {
				if !strings.Contains(p, w) {
					t.Errorf("page %d does not say %q: %.200s", i+1, w, p)
				}
			}
			if got, want := strings.Contains(p, "CAUTION"), i == len(pages)-1; got != want {
				t.Errorf("page %d of %d: the caution is there: %v, want %v", i+1, len(pages), got, want)
			}
			if got, want := strings.Contains(p, "drying, rack A, shelf 1, continued"), i > 0 &&
				strings.Contains(p, "261121A-"); got != want {
				t.Errorf("page %d: says that the shelf goes on: %v, want %v", i+1, got, want)
			}
		}
		inside(t, "500 wheels", doc)
	}
}

// hostile are names that a book takes, or nearly, and that are hard to print.
var hostile = []string{
	"{nb}", total, `\`, `\)(`, "(((", "a%b", "<x>&", strings.Repeat("W", 60), strings.Repeat("-", 60),
	strings.Repeat("é", 30),
	"žlutý-ő-07", "奶酪-01", "🧀-1", "a\u0301-1", "\u202eabc", "x\x1b[31m", "\xff\xfe", "0007",
}

func TestHostileAndVeryLongTextsStayOnThePaper(t *testing.T) {
	long := strings.Repeat("a very long note ", 40) + strings.Repeat("x", 400)
	many := strings.Repeat("line\n", 70)
	for _, large := range []bool{false, true} {
		h := head
		h.Large = large
		h.Book = strings.Join(hostile, "") + long
		d := Day{Date: long, Summary: long, Alarms: hostile, Cautions: []string{long}, Unit: "lb oz"}
		m := Make{Lot: hostile[7], What: hostile, Caution: []string{long}}
		for _, x := range hostile {
			d.Rooms = append(d.Rooms, Room{x, []Shelf{{x, []Line{{Boxes: 6, Job: x, Who: long, Late: x, Why: many,
				Weigh: hostile}}}}})
			m.Facts = append(m.Facts, [2]string{x, long})
			m.Wheels = append(m.Wheels, []string{x, x, x, x})
			m.Events = append(m.Events, []string{x, x, x, many, x})
		}
		inside(t, "today", must(t)(Today(h, d)))
		inside(t, "make", must(t)(MakeSheet(h, m)))
		for _, x := range hostile[1:9] {
			c := Card{Tag: x, What: hostile, Alert: []string{long}, Facts: m.Facts, Verdict: long, Advice: long,
				Rules: []drying.Rule{{Met: true, Rule: x, Have: long, Need: x}}, Due: [][]string{{x, x, long}},
				Events: m.Events[:3], Caution: []string{x}}
			at := []plot.Span{plot.At(0, 1), plot.At(2, 3)}
			c.Chart = &plot.Chart{Title: x, XLabel: long, Panels: []plot.Panel{{Label: long, Series: []plot.Series{
				{Look: plot.Upright, Name: long, At: at}, {Look: plot.Target, Name: long, At: at},
				{Look: plot.Own, Name: long, At: at, Words: hostile},
			}}}}
			inside(t, "card of "+strconv.Quote(x), must(t)(Wheel(h, c)))
		}
		for _, k := range Stocks {
			var ls []sheets.Label
			for _, x := range hostile {
				ls = append(ls, sheets.Label{Tag: x, Title: long, Lot: x})
			}
			inside(t, "labels "+k.Name, must(t)(Labels(h, k, 1, true, ls)))
		}
	}
}

func TestALetterThePaperLacksBecomesAQuestionMark(t *testing.T) {
	for _, c := range []struct {
		name, in string
		want     string
	}{
		{"plain text is itself", "261121A-01 (x)", "261121A-01 (x)"},
		{"letters of Western Europe are printed", "Comté œ € ž", "Comt\xe9 \x9c \x80 \x9e"},
		{"a letter beyond them is a question mark", "ő 奶 🧀 α", "? ? ? ?"},
		{"the letters that code page 1252 leaves out are none of its own", "\u0081\u009d", "\xb7\xb7"},
		{"hyphens and the minus are dashes", "a\u2011b \u22122", "a-b -2"},
		{"spaces of other widths and tabs are spaces", "1\u00a0kg\u2009x\ty", "1 kg x y"},
		{"what does not print is a dot", "a\x1b[0m\u202e\u00ad\x7f", "a\xb7[0m\xb7\xb7\xb7"},
		{"line breaks stay", "a\nb", "a\nb"},
		{"bytes that are no text are question marks", "\xff", "?"},
		{"nothing is nothing", "", ""},
	} {
		if got := latinOf(c.in); got != c.want {
			t.Errorf("%s: %q is %q, want %q", c.name, c.in, got, c.want)
		}
	}
}

func TestWesternLettersComeBackFromThePaper(t *testing.T) {
	got := wordsOf(t, must(t)(Today(head, Day{Date: "Comté – fumé “œ” 5 €, ő", Summary: "ž"})))
	want := []string{"Comté – fumé “œ” 5 €, ? Hollow Ash Dairy ž page 1 of 1 printed Wed 25 Nov 2026 08:00"}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
}

func TestTheSameDataGiveTheSameBytes(t *testing.T) {
	sheets := func(h Head) [][]byte {
		var out [][]byte
		for _, d := range []Doc{
			must(t)(Today(h, day)), must(t)(Labels(h, Stocks[0], 3, true,
				[]sheets.Label{{Tag: "261121A-01", Title: "Edam", Lot: "261121A"}})),
			must(t)(Wheel(h, card)), must(t)(MakeSheet(h, Make{Lot: "261121A", Wheels: [][]string{{"a", "b", "c", "d"}}})),
			must(t)(TraceSheet(h, traced)), must(t)(RecallSheet(h, recalled)),
		} {
			out = append(out, d.PDF)
		}
		return out
	}
	a := sheets(head)
	for range 3 {
		for i, b := range sheets(head) {
			if !bytes.Equal(a[i], b) {
				t.Errorf("sheet %d laid out twice differs", i)
			}
		}
	}
	later := head
	later.Printed = later.Printed.Add(time.Minute)
	for i, b := range sheets(later) {
		if bytes.Equal(a[i], b) {
			t.Errorf("sheet %d does not say when it was printed", i)
		}
	}
}

var card = Card{
	Tag: "261121A-01", What: []string{"Edam, lot 261121A"}, Alert: []string{"HELD since 2026-11-24: tests"},
	Facts:   [][2]string{{"weight", "2033 g"}},
	Verdict: "not yet", Advice: "weigh it again", Rules: []drying.Rule{
		{Met: true, Rule: "days drying", Have: "4", Need: "at least 3"},
		{Rule: "loss", Have: "1.9 %", Need: "at least 2.5 %"}},
	Due: [][]string{{"turn", "today", "twice a day"}}, Events: [][]string{
		{"cb571f", "22 Nov 2026 08:09", "weighed", "2086 g", "Orla"}}, Left: "the last 1 of 9",
	Chart: &plot.Chart{Title: "261121A-01", XLabel: "days", Panels: []plot.Panel{{Label: "loss, %", Series: []plot.Series{
		{Look: plot.OwnBand, Name: "90 %", At: []plot.Span{{X: 0}, {X: 5, Low: 1.5, High: 2.5}, {X: 10, Low: 3, High: 5}}},
		{Look: plot.Expected, Name: "expected", At: []plot.Span{{X: 0}, {X: 5, Low: 1, High: 3},
			{X: 10, Low: 2, High: math.Inf(1)}}},
		{Look: plot.Target, Name: "loss to coat at", At: []plot.Span{plot.At(0, 2.5)}},
		{Look: plot.Upright, Name: "dry by then", At: []plot.Span{plot.At(5, 0)}},
		{Look: plot.Upright, Name: "never", At: []plot.Span{plot.At(math.NaN(), 0)}},
		{Look: plot.Own, Name: "own curve", At: []plot.Span{plot.At(0, 0), plot.At(10, 4)}},
		{Look: plot.Weighed, Name: "weighed", At: []plot.Span{plot.At(0, 0), plot.At(3, 1.5), plot.At(math.NaN(), 1)}},
	}}}},
	Caution: []string{"CAUTION: hot wax."},
}

func TestWhatAWheelsCardSays(t *testing.T) {
	d := must(t)(Wheel(head, card))
	got := wordsOf(t, d)
	want := []string{"261121A-01 Hollow Ash Dairy Edam, lot 261121A HELD since 2026-11-24: tests weight 2033 g " +
		"loss, % 5 4 3 loss to coat at 2.5 % 2 1 dry by then 0 0 1 2 3 4 5 6 7 8 9 10 days own curve, 90 % expected " +
		"weighed " +
		"Dry enough to coat? not yet weigh it again days drying 4 needs at least 3 loss 1.9 % NOT MET, needs at least " +
		"2.5 % " +
		"Due turn today twice a day History the last 1 of 9 cb571f 22 Nov 2026 08:09 weighed 2086 g Orla CAUTION: hot " +
		"wax. page 1 of 1 printed Wed 25 Nov 2026 08:00"}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
	inside(t, "card", d)
	for _, bad := range []string{"NaN", "Inf"} {
		if strings.Contains(drawing(t, d), bad) {
			t.Errorf("the drawing holds a %s", bad)
		}
	}
}

func TestWhatAMakesSheetSays(t *testing.T) {
	m := Make{
		Lot: "261121A", What: []string{"Edam"}, Facts: [][2]string{{"milk", "82 l raw cow"}},
		Wheels:  [][]string{{"261121A-01", "drying/A/1", "2104 g", "2061 g"}},
		Events:  [][]string{{"cb571f", "21 Nov 2026 08:09", "acidity", "pH 6.50, ripening", "Orla"}},
		Caution: []string{"CAUTION: raw milk."},
		Acidity: &plot.Chart{Start: time.Date(2026, 11, 21, 7, 10, 0, 0, time.UTC), Panels: []plot.Panel{{
			Label: "pH", Tight: true, Series: []plot.Series{{Look: plot.Own, At: []plot.Span{plot.At(0, 6.5), plot.At(4, 5.4)}}},
		}}},
	}
	d := must(t)(MakeSheet(head, m))
	want := []string{"lot 261121A Hollow Ash Dairy Edam milk 82 l raw cow Wheels tag place green last weight note " +
		"261121A-01 drying/A/1 2104 g 2061 g " +
		"Log cb571f 21 Nov 2026 08:09 acidity pH 6.50, ripening Orla pH 6.5 6 5.5 5 08:00 09:00 10:00 11:00 " +
		"Notes CAUTION: raw milk. page 1 of 1 printed Wed 25 Nov 2026 08:00"}
	if d := cmp.Diff(want, wordsOf(t, d)); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
	inside(t, "make", d)
}
