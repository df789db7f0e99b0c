package wheel

import "testing"

func TestAHandCheckIsSoundWhenDryAndNoFaultWasSeen(t *testing.T) {
	for _, c := range []struct {
		name  string
		check HandCheck
		sound bool
	}{
		{"dry and nothing else said", HandCheck{DryToTouch: Yes}, true},
		{"dry and all faults denied", HandCheck{Yes, No, No, No, No, No}, true},
		{"still damp", HandCheck{DryToTouch: No}, false},
		{"touch not said", HandCheck{Cracks: No}, false},
		{"weeping", HandCheck{DryToTouch: Yes, Weeping: Yes}, false},
		{"cracks", HandCheck{DryToTouch: Yes, Cracks: Yes}, false},
		{"mould", HandCheck{DryToTouch: Yes, Mould: Yes}, false},
		{"mites are brushed off and keep no coat away", HandCheck{DryToTouch: Yes, Mites: Yes}, true},
		{"blown with gas", HandCheck{DryToTouch: Yes, Gas: Yes}, false},
		{"nothing said", HandCheck{}, false},
	} {
		if c.check.Sound() != c.sound || c.check.Said() == (c.check == HandCheck{}) {
			t.Errorf("%s: sound %v, %+v", c.name, c.check.Sound(), c.check)
		}
	}
	for in, want := range map[string]Seen{"yes": Yes, "Some": Yes, " few ": Yes, "no": No, "NONE": No} {
		if got, err := ParseSeen(in); err != nil || got != want {
			t.Errorf("%q is %v, %v", in, got, err)
		}
	}
	if _, err := ParseSeen("maybe"); err == nil || err.Error() != "unreadable {What:answer Word:maybe}" {
		t.Errorf("maybe: %v", err)
	}
}

func TestAFaultIsNamedByTheWordItIsAskedFor(t *testing.T) {
	c := HandCheck{Yes, Yes, Yes, Yes, Yes, Yes}
	if got, want := c.Faults(), "weeping, cracks, mould, mites, gas"; got != want {
		t.Errorf("all faults are %q, want %q", got, want)
	}
	if got := (HandCheck{DryToTouch: Yes, Gas: No}).Faults(); got != "" {
		t.Errorf("no faults are %q", got)
	}
}

func TestABlownWheelStaysBlownUntilSomebodySaysOtherwise(t *testing.T) {
	gas := func(s Seen) HandCheck { return HandCheck{DryToTouch: Yes, Gas: s} }
	for _, c := range []struct {
		name   string
		checks []HandCheck
		want   int // the check that found it, from 1; 0 for none
	}{
		{"never checked", nil, 0},
		{"checked for gas by nobody", []HandCheck{gas(NotSaid)}, 0},
		{"no gas", []HandCheck{gas(No)}, 0},
		{"blown", []HandCheck{gas(No), gas(Yes)}, 2},
		{"blown, and later felt by somebody who says nothing of gas", []HandCheck{gas(Yes), gas(NotSaid)}, 1},
		{"blown by mistake, put right by a later check", []HandCheck{gas(Yes), gas(No), gas(NotSaid)}, 0},
		{"blown twice: the later finding", []HandCheck{gas(Yes), gas(Yes), gas(NotSaid)}, 2},
	} {
		var d diary
		for i, f := range c.checks {
			d.on(float64(i+1), Entry{Kind: Checked, Found: f})
		}
		l := d.life()
		e, ok := l.Blown()
		if ok != (c.want > 0) {
			t.Errorf("%s: blown %v", c.name, ok)
		} else if ok && e.ID != l.Checks[c.want-1].ID {
			t.Errorf("%s: found by another check: %+v", c.name, e)
		}
	}
}
