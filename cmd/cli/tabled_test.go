package cli

import (
	"strings"
	"testing"
)

// What neither the headings of a table nor the flags say is asked at a terminal, and kept under a name.
func TestATableThatLeavesThingsOpenIsAskedAbout(t *testing.T) {
	const open = "Our ref;What;Hergestellt am;Gewicht;Gewogen am\n" +
		"L-01;Waxed cheddr;21.11.2026;1,942;22.11.2026\nL-02;Bergkaese;21.11.2026;1,955;22.11.2026\n"
	for _, c := range []struct{ name, table, command, answers, asked, says string }{
		{"columns, a unit and kinds", open, "book import FILE --map --sure", "1\nkilos\nkg\nWhat\n\nfell\ntomme\nbank\n",
			`"kilos" isn't one of them;Bergkaese as a kind;no kind of cheese is called "fell"`,
			`bank; wheels; tag is "Our ref"; variety is "What"; "bergkaese" is tomme; "waxed cheddr" is cheddar-waxed; unit kg`},
		{"one kind for all", "tag,made\nK-01,2026-11-20\n", "book import FILE --map --sure", "tomme\none\n",
			"Which kind are they all?", "one; wheels; the kind is tomme"},
		{"two weights", "tag,gross,net,date\n261110A-01,2050,2030,2026-11-24\n", "weigh --from FILE", "2\nscale\n",
			"which column has the weight?", `scale; weights; weight is "net"`},
		{"no headings, and which comes first", "05/11/2026 10:00,12.1,86\n06/11/2026 10:00,12.2,85\n",
			"air import drying FILE", "yes\nday\nlogger\n", "Are its columns these: time=A",
			`logger; air; time is "A"; temperature is "B"; humidity is "C"; dates dmy`},
		{"several sensors", "time,sensor,temp_c,rh\n2026-11-05 10:00,a,12,86\n2026-11-05 10:00,b,13,87\n",
			"air import drying FILE", "b\nlogger\n", "several sensors", "logger; air; sensor b"},
		{"answers that nobody keeps", "time,sensor,temp_c,rh\n2026-11-05 10:00,a,12,86\n2026-11-05 10:00,b,13,87\n",
			"air import drying FILE", "a\n\n", "several sensors", "no mappings"},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t).kept()
			line := strings.Replace(c.command, "FILE", w.file("t.csv", c.table), 1)
			if r := w.line(line); r.Code == 0 || strings.Contains(r.Err, "type a number") {
				t.Fatalf("without a terminal: %+v", r)
			}
			w.env.In, w.env.InTTY = strings.NewReader(c.answers), true
			r := w.line(line)
			if r.Code != 0 {
				t.Fatalf("%+v", r)
			}
			for part := range strings.SplitSeq(c.asked, ";") {
				if !strings.Contains(r.Err, part) {
					t.Errorf("%q isn't in %s", part, r.Err)
				}
			}
			w.env.In, w.env.InTTY = strings.NewReader(""), false
			list := strings.Join(strings.Fields(w.must("book mappings")), " ")
			if said := strings.ReplaceAll(c.says, "; ", " "); !strings.Contains(strings.ReplaceAll(list, ";", ""), said) {
				t.Errorf("kept: %s, want %s", list, said)
			}
		})
	}
}

// Who doesn't answer records nothing, and is told what to give.
func TestATableThatNobodyAnswersForIsRefused(t *testing.T) {
	w := newWorld(t).kept()
	before := w.must("book export -")
	file := w.file("t.csv", "Our ref,made,variety\nA-1,2026-11-20,tomme\n")
	for _, answers := range []string{"", "\n"} {
		w.env.In, w.env.InTTY = strings.NewReader(answers), true
		r := w.line("book import " + file + " --map --sure")
		if r.Code != exitRefused || !strings.Contains(r.Err, `--map="tag=HEADING"`) {
			t.Errorf("%+v", r)
		}
	}
	w.env.InTTY = false
	same(t, "the book", w.must("book export -"), before)
}
