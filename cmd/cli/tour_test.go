package cli

import (
	"strings"
	"testing"
)

// What a maker met who took a vat to the customer by hand.

func TestTheAirOfAnEmptyRoomIsNotAskedFor(t *testing.T) {
	w := newWorld(t).kept()
	w.must("room new cellar --temp 11C --rh 90% --racks A:4x8 --quiet")
	w.must("air log cellar 11C 90% --at 2026-11-11T08:00")
	w.must("air log drying 12C 85% --at 2026-11-11T08:00")
	if s := w.must("today"); !strings.Contains(s, "AIR of drying: not read for 14 days") ||
		strings.Contains(s, "cellar: not read") {
		t.Errorf("wheels in the drying room, none in the cellar:\n%s", s)
	}
	w.must("wheel move 261110A cellar/A/1")
	if s := w.must("today"); !strings.Contains(s, "AIR of cellar: not read for 14 days") ||
		strings.Contains(s, "drying: not read") {
		t.Errorf("moved to the cellar:\n%s", s)
	}
	w.must("air log drying 20C 85%")
	if s := w.must("today"); !strings.Contains(s, "AIR of drying: 20.0 °C is over its limit of 14.0 °C") {
		t.Errorf("an empty room that is too warm:\n%s", s)
	}
}

func TestAWheelOfWhichPiecesWereSentIsWeighedByWhatIsLeft(t *testing.T) {
	w := newWorld(t).kept()
	w.must("wheel send 261110A-01 --part --weight 800g --to Lab --at 2026-11-18T09:00")
	if s := w.must("wheel show 261110A-01"); !strings.Contains(s,
		"2050 g on Tue 17 Nov; 800 g sent in pieces since, about\n                     1250 g left") {
		t.Errorf("the card:\n%s", s)
	}
	left := strings.Split(w.must("curve 261110A-01"), "\nnow ")
	if len(left) != 2 || !strings.Contains(left[1], ", 1231 g of cheese\n") {
		t.Errorf("the curve: %q", left[len(left)-1])
	}
	whole := strings.Split(w.must("curve 261110A-02"), "\nnow ")
	if len(whole) != 2 || !strings.Contains(whole[1], ", 2016 g of cheese\n") {
		t.Errorf("the curve of a whole wheel: %q", whole[len(whole)-1])
	}
	w.must("weigh 261110A-01 1240 --sure --at 2026-11-24T09:00")
	if s := w.must("wheel show 261110A-01"); strings.Contains(s, "sent in pieces since") {
		t.Errorf("weighed again:\n%s", s)
	}
}

func TestACalendarIsOfferedAsTheDaysWereAskedForAndNotWhereItWasWritten(t *testing.T) {
	w := newWorld(t).kept()
	if s := w.must("ahead --days 7 --rest sat,sun --room drying"); !strings.Contains(strings.Join(strings.Fields(s), " "),
		"rindkeep ahead --days 7 --rest sat,sun --room drying --ics cave.ics") {
		t.Errorf("asked for a room and with days of rest:\n%s", s)
	}
	if s := w.must("ahead --days 7 --ics " + w.dir + "/cave.ics"); strings.Contains(s, "in a calendar") {
		t.Errorf("written:\n%s", s)
	}
}

func TestATraceSaysHowTheSaltWasGiven(t *testing.T) {
	w := newWorld(t).kept()
	for where, want := range map[string]string{"curd": "150.0 g, on the curd", "brine": "150.0 g, in the brine",
		"rub": "150.0 g, rubbed on"} {
		w.must("make log 261110A salt --weight 150g --where " + where + " --at 2026-11-10T18:00 --quiet")
		if s := w.must("trace 261110A"); !strings.Contains(s, want) {
			t.Errorf("%s: no %q in\n%s", where, want, s)
		}
		w.must("strike last --why otherwise --quiet")
	}
}
