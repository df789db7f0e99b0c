package sheet

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cmd/app/trade"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

var traced = Trace{
	Of: "lot 260801A", What: []string{"as of Wed 25 Nov 2026 08:00", "2 wheels of 1 lot"},
	Lots: []Lot{{"260801A", "Cheddar, made 1 August", [][2]string{{"milk", "80 l raw cow, lot M-1"},
		{"hands", "Nora: turned 4"}}}, {"260731B", "Tomme", [][2]string{{"here as", "its curd went into a lot above"}}}},
	Sent:  sent([]string{"2026-10-20", "The Corner Shop", "260801A-01", "whole", "1980 g", "DN-117"}),
	Reach: [][2]string{{"The Corner Shop", "+00 99 555 0100"}},
	Here:  [][2]string{{"cellar/A/1", "260801A-02; HELD: tests"}},
	Lost:  lost([]string{"260801A-03", "2026-10-01", "fell"}),
}

func sent(rows ...[]string) text.Table {
	t := words.Printer{}.Sent(trade.Trace{})
	t.Rows = rows
	return t
}

func lost(rows ...[]string) text.Table {
	t := words.Printer{}.Lost(trade.Trace{})
	t.Rows = rows
	return t
}

var recalled = Recall{
	Of: "lot 260801A", What: []string{"2 wheels of 1 lot"}, Caution: []string{"CAUTION: tell them."},
	Here: [][2]string{{"cellar/A/1", "260801A-02"}},
	Reach: []Reach{
		{"The Corner Shop", "+00 99 555 0100", "1 Main Street", [][]string{
			{"20 Oct 2026", "whole: 260801A-01\nCheddar, lot 260801A", "1980 g", "DN-117"}}},
		{"Market stall", "", "", [][]string{{"25 Aug 2026", "2 pieces: 260801A-02, -04", "-", ""}}},
	},
}

func TestWhatATraceSays(t *testing.T) {
	d := must(t)(TraceSheet(head, traced))
	want := []string{"trace of lot 260801A Hollow Ash Dairy as of Wed 25 Nov 2026 08:00 2 wheels of 1 lot " +
		"BACK: what went in lot 260801A Cheddar, made 1 August milk 80 l raw cow, lot M-1 hands Nora: turned 4 lot " +
		"260731B Tomme here as its curd went into a lot above " +
		"FORWARD: who had what date customer wheel part weight document 2026-10-20 The Corner Shop 260801A-01 whole " +
		"1980 g DN-117 How to reach them The Corner Shop +00 99 555 0100 " +
		"Still here cellar/A/1 260801A-02; HELD: tests Lost wheel date why 260801A-03 2026-10-01 fell page 1 of 1 " +
		"printed Wed 25 Nov 2026 08:00"}
	if d := cmp.Diff(want, wordsOf(t, d)); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
	inside(t, "trace", d)
	none := must(t)(TraceSheet(head, Trace{Of: "room cellar"}))
	want = []string{"trace of room cellar Hollow Ash Dairy BACK: what went in FORWARD: who had what nothing was sent " +
		"page 1 of 1 printed Wed 25 Nov 2026 08:00"}
	if d := cmp.Diff(want, wordsOf(t, none)); d != "" {
		t.Errorf("a trace that found nothing (-want +got):\n%s", d)
	}
}

func TestWhatARecallSays(t *testing.T) {
	d := must(t)(RecallSheet(head, recalled))
	want := []string{"RECALL of lot 260801A Hollow Ash Dairy 2 wheels of 1 lot CAUTION: tell them. why started by at " +
		"authority informed by at everyone reached, signed at Reach these customers " +
		"The Corner Shop +00 99 555 0100 1 Main Street date what weight document 20 Oct 2026 whole: 260801A-01 1980 g " +
		"DN-117 Cheddar, lot 260801A reached by at spoke to they still have " +
		"Market stall NO CONTACT DETAILS date what weight document 25 Aug 2026 2 pieces: 260801A-02, " +
		"-04 - reached by at spoke to they still have " +
		"Set aside what is still here cellar/A/1 260801A-02 page 1 of 1 printed Wed 25 Nov 2026 08:00"}
	if d := cmp.Diff(want, wordsOf(t, d)); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
	inside(t, "recall", d)
	// A box for each customer and for each place where wheels are to be set aside.
	if got := strings.Count(drawing(t, d), " re S"); got != 3 {
		t.Errorf("%d boxes, want 3", got)
	}
	none := wordsOf(t, must(t)(RecallSheet(head, Recall{Of: "lot x"})))
	if len(none) != 1 || !strings.Contains(none[0], "nothing was sent, so there is nobody to reach") {
		t.Errorf("a recall of what was never sent says %q", none)
	}
}

// A reader of one page must find there whom to call, about what, and where to
// write.
func TestACustomerToBeReachedStandsOnOnePage(t *testing.T) {
	for _, h := range []Head{head, {Book: head.Book, Printed: head.Printed, Paper: Letter, Large: true}} {
		for _, had := range []int{1, 4, 6} {
			d := Recall{Of: "lot 260801A"}
			for i := range 20 {
				c := Reach{Name: fmt.Sprintf("Customer %02d of the harbour", i), Contact: fmt.Sprintf("tel. 555-%03d", i),
					Address: "Long Quay"}
				for k := range had {
					c.Had = append(c.Had,
						[]string{"20 Oct 2026", fmt.Sprintf("5 whole: 260801A-%03d to -%03d, of the large kind that takes two lines and "+
							"more to say\nCheddar", i, k), "1980 g", "DN-1"})
				}
				if i%7 == 3 {
					c.Contact = ""
				}
				d.Reach = append(d.Reach, c)
			}
			doc := must(t)(RecallSheet(h, d))
			seen := 0
			for i, p := range wordsOf(t, doc) {
				names, spoke := len(regexp.MustCompile(`Customer \d\d`).FindAllString(p, -1)), strings.Count(p, "they still have")
				if names != spoke || strings.Count(p, "reached by") != names {
					t.Errorf("large %v, %d deliveries: page %d names %d customers and has room to write for %d", h.Large, had, i+1,
						names, spoke)
				}
				seen += names
			}
			if seen != 20 {
				t.Errorf("%d customers of 20", seen)
			}
			inside(t, "twenty customers", doc)
		}
	}
}

func TestACustomerWhoHadVeryMuchGoesOnOverPages(t *testing.T) {
	d := Recall{Of: "lot x", Reach: []Reach{{Name: "Wholesale", Contact: "555"}}}
	for i := range 300 {
		d.Reach[0].Had = append(d.Reach[0].Had, []string{"20 Oct 2026", fmt.Sprintf("whole: %03d", i), "-", ""})
	}
	doc := must(t)(RecallSheet(head, d))
	all := strings.Join(wordsOf(t, doc), " ")
	var found []string
	for _, m := range regexp.MustCompile(`whole: (\d{3})`).FindAllStringSubmatch(all, -1) {
		found = append(found, m[1])
	}
	if len(found) != 300 || found[0] != "000" || found[299] != "299" || strings.Count(all, "they still have") != 1 {
		t.Errorf("%d deliveries of 300 on paper", len(found))
	}
	for i, p := range wordsOf(t, doc) {
		if !strings.HasPrefix(p, "RECALL of lot x Hollow Ash Dairy") ||
			!strings.Contains(p, fmt.Sprintf("page %d of %d", i+1, doc.Pages)) {
			t.Errorf("page %d: %.80s", i+1, p)
		}
	}
	inside(t, "wholesale", doc)
}

func TestTracesOfHostileAndVeryLongTextsStayOnThePaper(t *testing.T) {
	long := strings.Repeat("a very long note ", 40) + strings.Repeat("x", 400)
	many := strings.Repeat("line\n", 70)
	for _, large := range []bool{false, true} {
		h := head
		h.Large, h.Book = large, strings.Join(hostile, "")
		tr := Trace{Of: long, What: hostile, Sent: sent(), Lost: lost()}
		re := Recall{Of: long, What: hostile, Caution: []string{long}}
		for _, x := range hostile {
			f := [][2]string{{x, long}, {long, x}, {x, many}}
			tr.Lots = append(tr.Lots, Lot{x, long, f})
			tr.Sent.Add(x, long, x, x, x, long)
			tr.Sent.Add(x, x, x, x, x, x)
			tr.Reach, tr.Here = append(tr.Reach, f...), append(tr.Here, f...)
			tr.Lost.Add(x, x, long)
			re.Reach = append(re.Reach, Reach{x, long, x, [][]string{{x, many, x, long}, {x, x, x, x}}},
				Reach{long, "", "", nil})
			re.Here = append(re.Here, f...)
		}
		inside(t, "trace", must(t)(TraceSheet(h, tr)))
		inside(t, "recall", must(t)(RecallSheet(h, re)))
	}
}

func TestATagIsBrokenOnlyWhereThereIsNoRoomForIt(t *testing.T) {
	d := Recall{Of: "x", Reach: []Reach{{Name: "Shop", Contact: "1",
		Had: [][]string{{"20 Oct 2026", "whole: 260801A-01\nCheddar, lot 260801A " + strings.Repeat("and more ", 20),
			"1980 g",
			strings.Repeat("DN-117 ", 20)}}}}}
	for _, h := range []Head{head, {Book: "b", Printed: head.Printed, Paper: Letter, Large: true}} {
		p := wordsOf(t, must(t)(RecallSheet(h, d)))[0]
		if !strings.Contains(p, "260801A-01") || !strings.Contains(p, " document ") || strings.Contains(p, "…") {
			t.Errorf("large %v: a tag or a heading is broken: %s", h.Large, p)
		}
	}
}
