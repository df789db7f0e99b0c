package cli

import (
	"strings"
	"testing"
)

func TestAHandCheckTakesItsAnswersAsThePersonGivesThem(t *testing.T) {
	for _, c := range []struct{ line, found string }{
		{"--dry-to-touch --cracks no --weeping no --mould no", "dry to the touch, no weeping, no cracks, no mould"},
		{"--dry-to-touch=yes --cracks=no", "dry to the touch, no cracks"},
		{"--dry-to-touch no", "still damp"},
		{"--mites yes --cracks", "cracks, mites"},
		{"--gas", "blown with gas"},
		{"--gas no --dry-to-touch", "dry to the touch, no gas"},
		{"--dry-to-touch no --gas yes --weeping no", "still damp, no weeping, blown with gas"},
		{"--sound", "dry to the touch, no weeping, no cracks, no mould, no mites, no gas"},
		{"--sound --dry-to-touch no --mites few", "still damp, no weeping, no cracks, no mould, mites, no gas"},
		{"--cracks none --mites few", "no cracks, mites"},
	} {
		w := newWorld(t).kept()
		var before, after struct {
			Found  string
			Wheels []string
		}
		w.doc(&after, "check 261110A-01 "+c.line)
		same(t, "check TAG "+c.line, after.Found, c.found)
		w.doc(&before, "check "+c.line+" 261110A-02 261110A-03")
		same(t, "check "+c.line+" TAG TAG", before.Found, c.found)
		same(t, "the wheels of check "+c.line+" TAG TAG", before.Wheels, []string{"261110A-02", "261110A-03"})
	}
	w := newWorld(t).kept()
	w.want(exitUsage,
		`needs what was found: --sound, or --dry-to-touch, --cracks, --weeping, --mould, --mites or --gas`, "check",
		"261110A-01")
	w.want(exitUsage, `can't read "round" as an answer; give it like yes or no`, "check", "261110A-01", "--gas=round")
	w.want(exitUsage, `can't read "maybe" as an answer`, "check", "261110A-01", "--cracks=maybe")
}

func TestABlownWheelIsKeptFromItsCoatAndItsSistersAreAskedFor(t *testing.T) {
	w := newWorld(t).kept()
	w.must("weigh 261110A-01 2026 --quiet")
	w.must("check 261110A-01 --dry-to-touch --cracks no --quiet")
	ready := func() string {
		var d struct {
			Wheels []struct{ Verdict, Advice string }
		}
		w.doc(&d, "dry 261110A-01")
		return d.Wheels[0].Verdict + ": " + d.Wheels[0].Advice
	}
	same(t, "a wheel checked by the rules there were before gas", ready(),
		"dry-enough: coat it by Fri 27 Nov, before the hand check is out of date")

	out := w.must("check 261110A-01 --gas yes")
	want := `checked 1 wheel, blown with gas: 261110A-01
  don't coat it: keep it apart, hold it (rindkeep wheel hold TAG --why blown)
  and find out why, by a test if need be, before you coat or sell it or the
  other wheels of its make; eyes or a dome that its kind should have are fine
  check the other wheels of this make: 261110A-02 to -04
  261110A-01 check by hand: blown with gas Wed 25 Nov: do not coat it; keep it
  apart and find out why before you coat the other wheels of this make
wrong? rindkeep strike last --why TEXT
`
	same(t, "what the check says", out, want)
	const not = "check-by-hand: blown with gas Wed 25 Nov: do not coat it; " +
		"keep it apart and find out why before you coat the other wheels of this make"
	same(t, "the verdict on it", ready(), not)
	w.must("check 261110A-01 --dry-to-touch --cracks no --quiet")
	same(t, "the verdict after a check that says nothing of gas", ready(), not)
	for _, l := range strings.Split(w.must("today --only coat"), "\n") {
		if strings.Contains(l, "coat") && strings.Contains(l, "261110A-01") {
			t.Errorf("a blown wheel is on the list to be coated: %s", l)
		}
	}
	if out := w.must("coat 261110A-01 wax --quiet=false"); !strings.Contains(out,
		"early: 261110A-01, check by hand: blown with gas") {
		t.Errorf("coated all the same, and nothing is said:\n%s", out)
	}
	w.must("strike last --why slip --quiet")
	w.must("check 261110A-01 --dry-to-touch --gas no --quiet")
	same(t, "the verdict after gas was denied", ready(),
		"dry-enough: coat it by Fri 27 Nov, before the hand check is out of date")

	var asked struct {
		Tasks []struct {
			Job, Why string
			Wheels   []string
		}
	}
	w.doc(&asked, "today --only check")
	found := false
	for _, x := range asked.Tasks {
		found = found || strings.Contains(x.Why, "gas seen on 261110A-01")
	}
	if !found {
		t.Errorf("no sister is asked for because of the gas: %+v", asked.Tasks)
	}
	w.sound()
}

func TestASecondCoatIsRecordedAndSaid(t *testing.T) {
	w := newWorld(t).kept()
	w.must("coat 261110A-01 wax --at 2026-11-20T10:00 --quiet")
	const again = "again: 261110A-01 has had a coat of wax since Fri 20 Nov: a second coat, or the\nwrong wheel?\n"
	if out := w.must("coat 261110A-01 wax"); !strings.Contains(out, again) ||
		!strings.Contains(out, "wrong? rindkeep strike last --why TEXT\nCAUTION") {
		t.Errorf("a second wax:\n%s", out)
	}
	other := strings.Join(strings.Fields(w.must("coat 261110A-04 cloth")), " ")
	if !strings.Contains(other, "other: 261110A-04 follows waxed-hard, which asks for wax: the wrong wheel or coat, "+
		"or give it another plan: rindkeep wheel plan 261110A-04 PLAN") {
		t.Errorf("cloth on a wheel to be waxed:\n%s", other)
	}
	for _, line := range []string{"coat 261110A-02 wax", "coat 261110A-01 cloth", "coat 261110A-03 oil",
		"coat 261110A-03 oil --at 2026-11-24T10:00"} {
		if out := w.must(line); strings.Contains(out, "again:") {
			t.Errorf("rindkeep %s:\n%s", line, out)
		}
	}
}
