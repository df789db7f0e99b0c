package round

import (
	"cmp"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/store/derive"
)

// Share is one person's part of a day's work, the Nth of Of. The zero value is all
// of it; Nth 0 of several names no part.
type Share struct{ Nth, Of int }

// String is the share as ParseShare reads it.
func (s Share) String() string {
	if s.Nth == 0 {
		return strconv.Itoa(s.Of)
	}
	return strconv.Itoa(s.Nth) + "/" + strconv.Itoa(s.Of)
}

// mostShares is as many people as a day can be split among: our choice.
const mostShares = 99

// BadShare is a share that can't be read.
type BadShare struct {
	Text string `json:"text"`
}

func (BadShare) Code() string { return "bad-share" }

// ParseShare reads "2/3", the second of three parts, or "3", three parts. The error is a
// BadShare.
func ParseShare(s string) (Share, error) {
	nth, of, part := strings.Cut(strings.ReplaceAll(s, " ", ""), "/")
	if !part {
		nth, of = "0", nth
	}
	n, err := strconv.Atoi(nth)
	m, bad := strconv.Atoi(of)
	if err != nil || bad != nil || m < 1 || m > mostShares || n < 0 || n > m || part && n < 1 {
		return Share{}, reason.Err(BadShare{s})
	}
	return Share{n, m}, nil
}

// Part is what one person does of a day, rack after rack as they walk.
type Part struct {
	Share   string   `json:"share"` // 2/3
	From    string   `json:"from"`  // its first place with work, "" for none
	To      string   `json:"to"`
	Wheels  int      `json:"wheels"`
	Tasks   int      `json:"tasks"`
	Minutes *float64 `json:"minutes"`
	List    List     `json:"-"`
}

// uneven is how far above the average the longest part may be before the day's minutes
// count for more than having the same racks every day: our choice.
const uneven = 1.25

// Split cuts a list into n parts. Each is a stretch of racks in walking order: the
// same every day, cut by the wheels that stand there, as long as nobody has over a
// quarter more minutes than the average; else cut by the minutes of the day. With fewer
// racks than people the cuts are between shelves.
func (l List) Split(n int, rank map[string]int, shelves map[cave.Place]int) []List {
	return l.parts(l.cut(n, rank, shelves), n)
}

// Cut says into which part of a day, from 0, each rack falls, or each shelf.
type Cut struct {
	shelves bool
	of      map[cave.Place]int
}

// unit is the rack or shelf of a place that a cut keeps together.
func (c Cut) unit(p cave.Place) cave.Place {
	if c.shelves {
		return p
	}
	return p.Rack()
}

// part is the part that a place falls into. One that came after the cut is in the first.
func (c Cut) part(p cave.Place) int { return c.of[c.unit(p)] }

// each goes through what is due in one part, within a place if one is given, by what does
// so at one place.
func (c Cut) each(part int, shelves map[cave.Place]int, in cave.Place,
	due func(cave.Place, func(derive.Task) bool) error, fn func(derive.Task) bool) error {
	units := map[cave.Place]bool{"": true}
	for u := range c.of {
		units[u] = true
	}
	for p := range shelves {
		units[c.unit(p)] = true
	}
	for u := range units {
		if c.of[u] != part || in != "" && !u.Within(in) && !in.Within(u) {
			continue
		}
		if err := due(u, func(t derive.Task) bool { return c.unit(t.Place) != u || fn(t) }); err != nil {
			return err
		}
	}
	return nil
}

func (l List) cut(n int, rank map[string]int, shelves map[cave.Place]int) Cut {
	var c Cut
	units := inOrder(l, rank, shelves, c.unit)
	if len(units) < n {
		c.shelves = true
		units = inOrder(l, rank, shelves, c.unit)
	}
	stand, minutes := make(map[cave.Place]float64), make(map[cave.Place]float64)
	for p, wheels := range shelves {
		stand[c.unit(p)] += float64(wheels)
	}
	for _, x := range l.Lines {
		minutes[c.unit(x.Place)] += x.Minutes
	}
	longest := func(of map[cave.Place]int) (most float64) {
		sums := make([]float64, n)
		for u, m := range minutes {
			sums[of[u]] += m
		}
		return slices.Max(sums)
	}
	c.of = cut(units, stand, n)
	if longest(c.of) > uneven*l.Minutes/float64(n) {
		if by := cut(units, minutes, n); longest(by) < longest(c.of) {
			c.of = by
		}
	}
	return c
}

func (l List) parts(c Cut, n int) []List {
	parts := make([]List, n)
	for i := range parts {
		parts[i].Date = l.Date
	}
	for _, x := range l.Lines {
		p := &parts[c.part(x.Place)]
		p.Lines = append(p.Lines, x)
	}
	for i := range parts {
		parts[i].total()
	}
	return parts
}

// ListOf is a list of some lines of another.
func ListOf(lines []Line) List {
	l := List{Lines: lines}
	l.total()
	return l
}

// at is the part of a list that is at a place.
func (l List) at(p cave.Place) List {
	out := List{Date: l.Date}
	for _, x := range l.Lines {
		if x.Place.Within(p) {
			out.Lines = append(out.Lines, x)
		}
	}
	out.total()
	return out
}

// inOrder are the racks, or shelves, that have wheels or work, in walking order.
func inOrder(l List, rank map[string]int, shelves map[cave.Place]int, at func(cave.Place) cave.Place) []cave.Place {
	all := map[cave.Place]bool{}
	for p := range shelves {
		all[at(p)] = true
	}
	for _, x := range l.Lines {
		all[at(x.Place)] = true
	}
	return slices.SortedFunc(maps.Keys(all), func(a, b cave.Place) int {
		return cmp.Or(walk(a, b, rank), cmp.Compare(a, b))
	})
}

// cut says which of n parts, from 0, each unit falls into, the parts weighing about the
// same: the one in which its middle lies.
func cut(units []cave.Place, weight map[cave.Place]float64, n int) map[cave.Place]int {
	all, before := 0.0, 0.0
	for _, u := range units {
		all += weight[u]
	}
	of := make(map[cave.Place]int, len(units))
	for _, u := range units {
		if all > 0 {
			of[u] = min(n-1, int((before+weight[u]/2)/all*float64(n)))
		}
		before += weight[u]
	}
	return of
}

// total sums the lines up.
func (l *List) total() {
	wheels := map[uuid.UUID]struct{}{}
	l.Minutes = 0
	for _, x := range l.Lines {
		l.Minutes += x.Minutes
		for _, w := range x.Wheels {
			wheels[w] = struct{}{}
		}
	}
	l.Wheels = len(wheels)
}
