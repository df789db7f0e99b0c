package daylist

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/words"
	"rindkeep/schedule"
	"rindkeep/wheel"
)

// dayOf is a day with so many shelves of three lines at each place.
func dayOf(racks map[string]int, order ...string) round.Today {
	l := round.List{Date: day.Of(2026, 11, 25)}
	for _, rack := range order {
		for s := range racks[rack] {
			for _, job := range []wheel.Job{wheel.Check, wheel.Weigh, wheel.Turn} {
				l.Lines = append(l.Lines, round.Line{Job: job, Tags: []string{fmt.Sprint(rack, "-", s)}, Minutes: 2, Due: l.Date,
					Place: cave.Place(fmt.Sprintf("%s/%d", rack, s+1)), Round: 1, Rounds: 1, Left: 1})
			}
		}
	}
	return round.Today{Date: l.Date.String(), List: l}
}

func TestWhatIsTooLongForOnePageIsShownAsWhatItConsistsOf(t *testing.T) {
	large := dayOf(map[string]int{"cellar/A": 40, "cellar/B": 70, "fridge/A": 90}, "cellar/A", "cellar/B", "fridge/A")
	cellar := dayOf(map[string]int{"cellar/A": 40, "cellar/B": 70}, "cellar/A", "cellar/B")
	for _, c := range []struct {
		name  string
		day   round.Today
		list  string
		cards int
		tiles string
	}{
		{"a small book", dayOf(map[string]int{"cellar/A": 10, "fridge/A": 10}, "cellar/A", "fridge/A"), "", 60, ""},
		{"one more", dayOf(map[string]int{"cellar/A": 10, "fridge/A": 11}, "cellar/A", "fridge/A"), "", 0,
			"cellar:/?room=cellar fridge:/?room=fridge"},
		{"one room", dayOf(map[string]int{"cellar/A": 60}, "cellar/A"), "", 180, ""},
		{"all of it", large, "", 0, "cellar:/?room=cellar fridge:/?room=fridge"},
		{"a large room", cellar, "room=cellar", 0, "cellar/A:/?room=cellar%2FA cellar/B:/?room=cellar%2FB"},
		{"its job", cellar, "room=cellar&job=turn", 0,
			"cellar/A:/?job=turn&room=cellar%2FA cellar/B:/?job=turn&room=cellar%2FB"},
		{"somebody's part of it", cellar, "share=1/2", 0,
			"cellar/A:/?at=cellar%2FA&share=1%2F2 cellar/B:/?at=cellar%2FB&share=1%2F2"},
		{"a large rack", dayOf(map[string]int{"fridge/A": 90}, "fridge/A"), "room=fridge", 0,
			"fridge/A/1 to fridge/A/66:/?page=1&room=fridge fridge/A/67 to fridge/A/90:/?page=2&room=fridge"},
		{"a page of it", dayOf(map[string]int{"fridge/A": 90}, "fridge/A"), "room=fridge&page=2", 72, ""},
		{"a page that's gone since", dayOf(map[string]int{"fridge/A": 90}, "fridge/A"), "room=fridge&page=7", 72, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			list, err := url.ParseQuery(c.list)
			if err != nil {
				t.Fatal(err)
			}
			b := Lay(c.day, words.Printer{}, list)
			cards := 0
			for _, r := range b.Rooms {
				for _, s := range r.Shelves {
					cards += len(s.Cards)
				}
			}
			var tiles []string
			for _, x := range b.Tiles {
				tiles = append(tiles, x.Name+":"+x.Href)
			}
			if got := strings.Join(tiles, " "); cards != c.cards || got != c.tiles {
				t.Errorf("%d cards, tiles %s", cards, got)
			}
			if b.Lines != len(c.day.List.Lines) {
				t.Errorf("%d of %d lines are counted", b.Lines, len(c.day.List.Lines))
			}
		})
	}
}

func TestAShelfWithMoreJobsThanAPageGoesOnOnTheNext(t *testing.T) {
	var lines []round.Line
	for i := range 450 {
		lines = append(lines, round.Line{Place: "cellar/A/1", Tags: []string{fmt.Sprint(i)}})
	}
	lines = append(lines, round.Line{Place: "cellar/A/2", Tags: make([]string, mostTags+1)},
		round.Line{Place: "cellar/A/2"})
	var got []int
	for _, p := range pagesOf(lines) {
		got = append(got, len(p))
	}
	if fmt.Sprint(got) != "[200 200 50 1 1]" {
		t.Error(got)
	}
}

func TestALineKeepsItsNameAsItsWheelsAreDone(t *testing.T) {
	on := day.Of(2026, time.November, 25)
	a := round.Line{
		Job: wheel.Turn, Tags: []string{"A-01", "A-02"}, Place: "cellar/A/1", Due: on, Round: 1, Rounds: 2, Left: 2,
		Why: reason.List{schedule.Every{Days: 1}},
	}
	b := a
	b.Tags, b.Why, b.WholeShelf = []string{"A-02"}, append(a.Why, schedule.LastDone{On: on - 1}), false
	if keyOf(a) != keyOf(b) {
		t.Error("another name with a wheel less")
	}
	for name, change := range map[string]func(*round.Line){
		"another round":   func(x *round.Line) { x.Round, x.Left = 2, 1 },
		"another job":     func(x *round.Line) { x.Job = wheel.Wash },
		"another place":   func(x *round.Line) { x.Place = "cellar/A/2" },
		"another day due": func(x *round.Line) { x.Due-- }, "another coat": func(x *round.Line) { x.Coat = "wax" },
		"another note": func(x *round.Line) { x.Note = "with brine" },
	} {
		c := a
		change(&c)
		if keyOf(a) == keyOf(c) {
			t.Errorf("%s: the same name", name)
		}
	}
	twice := Cards(round.Today{List: round.List{Lines: []round.Line{a, a}}}, words.Printer{}).Rooms[0].Shelves[0].Cards
	if twice[0].Key == twice[1].Key {
		t.Error("two lines of one name on a page")
	}
}
