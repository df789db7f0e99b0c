package text

import (
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestWidthOfWideLetters(t *testing.T) {
	// East Asian wide letters take two columns, combining marks none
	// (Unicode Standard Annex 11).
	for _, c := range []struct {
		name, in string
		want     int
	}{
		{"plain letters", "cellar", 6},
		{"nothing", "", 0},
		{"letters with marks of their own", "Käse", 4},
		{"a mark combined with a letter", "Ka\u0308se", 4},
		{"wide letters", "チーズ", 6},
		{"wide and plain", "チーズ-01", 9},
		{"a dash as wide in every locale", "–", 1},
		{"an ellipsis as wide in every locale", "…", 1},
	} {
		if got := Width(c.in); got != c.want {
			t.Errorf("%s: %d columns, want %d", c.name, got, c.want)
		}
		if got := Width(Pad(c.in, 12)); got != 12 {
			t.Errorf("%s: padded to %d", c.name, got)
		}
		if got := Width(PadLeft(c.in, 12)); got != 12 {
			t.Errorf("%s: padded on the left to %d", c.name, got)
		}
	}
	if got := Pad("longer", 3) + PadLeft("longer", 3); got != "longerlonger" {
		t.Errorf("what is too long became %q", got)
	}
}

func TestCut(t *testing.T) {
	for _, c := range []struct {
		in   string
		w    int
		want string
	}{{"cellar", 6, "cellar"}, {"cellar", 5, "cell…"}, {"チーズ", 5, "チー…"}, {"チーズ", 4, "チ…"},
		{"Ka\u0308se", 4, "Ka\u0308se"}} {
		if got := Cut(c.in, c.w); got != c.want || Width(got) > c.w {
			t.Errorf("%q cut to %d is %q", c.in, c.w, got)
		}
	}
}

func TestWrap(t *testing.T) {
	for _, c := range []struct {
		name, in string
		w        int
		want     []string
	}{
		{"at spaces", "feel it all over first", 10, []string{"feel it", "all over", "first"}},
		{"a word that is too long", "abcdefghij kl", 4, []string{"abcd", "efgh", "ij", "kl"}},
		{"wide letters", "チーズチーズ a", 6, []string{"チーズ", "チーズ", "a"}},
		{"line breaks stay", "a b\nc", 10, []string{"a b", "c"}},
		{"nothing", "", 10, []string{""}},
		{"spaces", "a   b", 10, []string{"a b"}},
		{"a figure and its unit", "at least 2.5 %; or 12.5 °C", 12, []string{"at least", "2.5 %; or", "12.5 °C"}},
		{"a figure and its unit, too wide together", "2.5 % 100 g", 4, []string{"2.5", "%", "100", "g"}},
	} {
		if diff := cmp.Diff(c.want, Wrap(c.in, c.w)); diff != "" {
			t.Errorf("%s:\n%s", c.name, diff)
		}
	}
}

func TestATableStaysStraight(t *testing.T) {
	tb := Table{Columns: []Column{{Title: "tag"}, {Title: "weight", Right: true}, {Title: "", Right: false},
		{Title: "why", Wrap: true}}, Indent: 1}
	tb.Add("261120A-01", "1942 g", "", "twice a day")
	tb.Add("チーズ", "12.25 kg", "", "figures met: feel it before it is coated")
	tb.Add("Ka\u0308se", "9 g")
	want := []string{
		" tag           weight  why",
		" 261120A-01    1942 g  twice a day",
		" チーズ      12.25 kg  figures met:",
		"                       feel it before",
		"                       it is coated",
		" Ka\u0308se             9 g",
	}
	if diff := cmp.Diff(want, tb.Lines(38)); diff != "" {
		t.Error(diff)
	}
	tb.Style = func(row, col int, cell string) string {
		if row >= 0 && col == 0 {
			return "\x1b[1m" + cell + "\x1b[0m"
		}
		return cell
	}
	if got := tb.Lines(38)[1]; got != " \x1b[1m261120A-01\x1b[0m    1942 g  twice a day" {
		t.Errorf("dressed: %q", got)
	}
}

func TestATableWithoutTitlesHasNoHeading(t *testing.T) {
	tb := Table{Columns: []Column{{}, {}}}
	tb.Add("loss", "3.2 %")
	if diff := cmp.Diff([]string{"loss  3.2 %"}, tb.Lines(80)); diff != "" {
		t.Error(diff)
	}
	if got := (&Table{}).Lines(80); len(got) != 0 {
		t.Errorf("no columns: %q", got)
	}
}

func TestNoTextOfACSVIsTakenForAFormula(t *testing.T) {
	for _, c := range []struct{ cell, want string }{
		{"", ""}, {"Shop", "Shop"}, {"+00 99 555 0100", "+00 99 555 0100"}, {"+1 (0)99-555", "+1 (0)99-555"},
		{"=1+1", "'=1+1"}, {"@SUM(A1)", "'@SUM(A1)"}, {"+cmd|' /C calc'!A0", "'+cmd|' /C calc'!A0"}, {"-1+1", "'-1+1"},
		{"\t=1", "'\t=1"},
	} {
		if got := inert(c.cell); got != c.want {
			t.Errorf("%q is written %q, want %q", c.cell, got, c.want)
		}
	}
}

func TestACSVHasFiguresAndInstants(t *testing.T) {
	var b strings.Builder
	w := NewCSV(&b, time.FixedZone("", 3600))
	for _, row := range [][]any{
		{"tag", "at", "weight"}, {"=1", time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC), 0.1 + 0.2}, {nil, time.Time{}, -1},
	} {
		if err := w.Row(row...); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	want := "tag,at,weight\n'=1,2026-11-25T09:00:00+01:00,0.3\n,,-1\n"
	if d := cmp.Diff(want, b.String()); d != "" {
		t.Error(d)
	}
}

func TestACellWithLineBreaksKeepsTheTableInLines(t *testing.T) {
	tb := Table{Columns: []Column{{Title: "what"}, {Title: "note", Wrap: true}, {Title: "by"}}}
	tb.Add("noted", "first\nsecond", "Orla")
	want := []string{"what   note    by", "noted  first   Orla", "       second"}
	if diff := cmp.Diff(want, tb.Lines(80)); diff != "" {
		t.Error(diff)
	}
}

// cell draws text of plain, wide, combining and joined letters.
func cell(max int) *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		return rapid.StringOfN(rapid.SampledFrom([]rune("ab 1-チ。é\u0308👩🇮🇪…░")), 0, max, -1).Draw(t, "cell")
	})
}

func TestEveryColumnOfATableBeginsAtOneColumn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tb := Table{Columns: []Column{{Title: "a"}, {Title: "b", Right: rapid.Bool().Draw(t, "right")}, {Title: "|"}}}
		for range rapid.IntRange(1, 6).Draw(t, "rows") {
			tb.Add(strings.TrimSpace(cell(12).Draw(t, "a")), strings.TrimSpace(cell(12).Draw(t, "b")), "|")
		}
		at := -1
		for _, l := range tb.Lines(200) {
			before, ok := strings.CutSuffix(l, "|")
			if !ok {
				t.Fatalf("line %q lost its last column", l)
			}
			if w := Width(before); at >= 0 && w != at {
				t.Fatalf("the last column begins at %d and at %d:\n%s", at, w, strings.Join(tb.Lines(200), "\n"))
			} else {
				at = w
			}
		}
	})
}

func TestWrapLosesNoLetterAndKeepsItsWidth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := cell(60).Draw(t, "text")
		w := rapid.IntRange(0, 30).Draw(t, "width")
		lines := Wrap(s, w)
		squeeze := func(s string) string { return strings.Join(strings.Fields(s), "") }
		if squeeze(strings.Join(lines, "")) != squeeze(s) {
			t.Fatalf("%q became %q", s, lines)
		}
		for _, l := range lines {
			if Width(l) > max(w, 4) {
				t.Fatalf("line %q is wider than %d", l, w)
			}
		}
	})
}

// spread undoes Tags, as a reader does.
func spread(t *rapid.T, s string) []string {
	var out []string
	lot := ""
	full := func(w string) string {
		if strings.HasPrefix(w, "-") {
			return lot + w
		}
		if i := strings.LastIndexByte(w, '-'); i > 0 {
			lot = w[:i]
		} else {
			lot = "\x00"
		}
		return w
	}
	for _, part := range strings.Split(s, ", ") {
		from, to, run := strings.Cut(part, " to ")
		a := full(from)
		if !run {
			out = append(out, a)
			continue
		}
		b := full(to)
		i := strings.LastIndexByte(a, '-')
		var n, m int
		if _, err := fmt.Sscanf(a[i+1:]+" "+b[strings.LastIndexByte(b, '-')+1:], "%d %d", &n, &m); err != nil {
			t.Fatalf("%q: %v", part, err)
		}
		for k := n; k <= m; k++ {
			out = append(out, fmt.Sprintf("%s-%0*d", a[:i], len(a)-i-1, k))
		}
	}
	return out
}

func TestTagsWrittenShortAreReadBack(t *testing.T) {
	tag := rapid.OneOf(
		rapid.Custom(func(t *rapid.T) string {
			return fmt.Sprintf("%s-%0*d", rapid.SampledFrom([]string{"261120A", "261120B", "a-b", "x"}).Draw(t, "lot"),
				rapid.IntRange(1, 3).Draw(t, "width"), rapid.IntRange(0, 12).Draw(t, "n"))
		}),
		rapid.SampledFrom([]string{"loose", "a-", "a-b", "9", "261120A", "261120A-123456789"}),
	)
	rapid.Check(t, func(t *rapid.T) {
		tags := rapid.SliceOfN(tag, 1, 20).Draw(t, "tags")
		s := Tags(tags)
		if diff := cmp.Diff(tags, spread(t, s)); diff != "" {
			t.Fatalf("%q:\n%s", s, diff)
		}
	})
}

func TestTagsWrittenShort(t *testing.T) {
	run := func(lot string, from, to int) (out []string) {
		for n := from; n <= to; n++ {
			out = append(out, fmt.Sprintf("%s-%02d", lot, n))
		}
		return out
	}
	for _, c := range []struct {
		name string
		in   []string
		want string
	}{
		{"none", nil, ""},
		{"one", []string{"261120A-01"}, "261120A-01"},
		{"two are no run", run("261120A", 1, 2), "261120A-01, -02"},
		{"a run", run("261120A", 1, 4), "261120A-01 to -04"},
		{"a run and a single one", append(run("261120A", 1, 4), "261120A-07"), "261120A-01 to -04, -07"},
		{"two lots", append(run("261120A", 1, 3), run("261121A", 1, 3)...), "261120A-01 to -03, 261121A-01 to -03"},
		{"tags without a number", []string{"blue", "green"}, "blue, green"},
		{"a lot again after another tag", []string{"261120A-01", "blue", "261120A-02"}, "261120A-01, blue, 261120A-02"},
		{"numbers of other widths", []string{"a-8", "a-9", "a-10", "a-11"}, "a-8, -9, -10, -11"},
	} {
		if got := Tags(c.in); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

func TestCountsAndDurations(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{Count(0, "wheel"), "0 wheels"}, {Count(1, "wheel"), "1 wheel"}, {Count(12, "wheel"), "12 wheels"},
		{Count(2, "day off", "days off"), "2 days off"}, {Count(1, "entry", "entries"), "1 entry"},
		{Duration(0), "0 min"}, {Duration(12.4), "12 min"}, {Duration(59.6), "1 h 00 min"}, {Duration(65), "1 h 05 min"},
		{Duration(1500), "25 h 00 min"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

func TestSafe(t *testing.T) {
	for in, want := range map[string]string{
		"plain\ttext\nagain": "plain\ttext\nagain", "\x1b[31mred": "·[31mred", "a\rb": "a·b", "a\x00b": "a·b",
		"a\u202eb": "a·b", "a\u061cb": "a·b",
		"a\u2028b": "a·b", "a\u200bb": "a·b", "\u009b31m": "·31m", "Käse チーズ": "Käse チーズ", "a\xffb": "a\ufffdb",
		"tag\U000e0041": "tag·", "\ufeffx": "·x",
	} {
		if got := Safe(in); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
}

func FuzzSafe(f *testing.F) {
	for _, s := range []string{"", "plain", "\x1b]0;title\x07", "\u202eabc", "\x9b1m", "\xff\xfe", "\u2067x\u2069",
		"\U000e0001"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got := Safe(s)
		for _, r := range got {
			if r != '\n' && r != '\t' && (unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp,
				unicode.Cs)) {
				t.Errorf("%q becomes %q, with %U", s, got, r)
			}
		}
		if again := Safe(got); again != got {
			t.Errorf("%q is not safe: %q", got, again)
		}
	})
}

func FuzzTable(f *testing.F) {
	f.Add("tag", "a\nb", "チーズ チーズ チーズ", 20)
	f.Add("👨‍👩‍👧‍👦👨‍👩‍👧‍👦", "\u0308", "\x1b[31m", 0)
	f.Add("ａｂｃ", strings.Repeat("x", 300), "\xff", -5)
	f.Fuzz(func(t *testing.T, a, b, c string, width int) {
		tb := Table{Columns: []Column{{Title: a, Wrap: true}, {Title: b, Right: true}, {Title: "c", Wrap: true}}}
		tb.Add(c, a)
		tb.Add(b, c, a, b)
		tb.Lines(min(width, 1000))
	})
}

func TestFold(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"fits in\n", "fits in\n"},
		{"it goes on below\n", "it goes on\n  below\n"},
		{"  a wheel  of 2 kg each\n", "  a wheel\n    of\n    2 kg\n    each\n"},
		{"averyveryverylongword\n", "averyveryverylongword\n"},
		{"a verylongword here", "a\n  verylongword\n  here"},
		{"\x1b[1mtwo bold\x1b[0m words\n", "\x1b[1mtwo bold\x1b[0m\n  words\n"},
		{"one\ntwo words more\n\n", "one\ntwo words\n  more\n\n"},
		{"trailing     \n", "trailing     \n"},
	} {
		if got := Fold(c.in, 10); got != c.want {
			t.Errorf("Fold(%q)\n got %q\nwant %q", c.in, got, c.want)
		}
	}
}

// A table that is too wide even with its cells wrapped says each row in a sentence.
func TestATooWideTableBecomesSentences(t *testing.T) {
	table := Table{Indent: 2, Heads: map[int]string{1: "waxed"},
		Columns: []Column{{Title: "wheel"}, {Title: "place", Wrap: true}, {Title: "weight", Right: true}, {Title: "held"}}}
	table.Add("261120A-01", "cellar/C/2", "8020 g", "-")
	table.Add("261120A-02", "cellar/C/3", "801 g", "by law")
	got := strings.Join(table.Lines(32), "\n")
	want := `  261120A-01; place cellar/C/2;
    weight 8020 g
waxed
  261120A-02; place cellar/C/3;
    weight 801 g; held by law`
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if n := len(table.Lines(60)); n != 4 {
		t.Errorf("%d lines in 60 columns, want a heading, two rows and a line between them", n)
	}
}
