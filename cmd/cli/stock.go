package cli

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	uc "rindkeep/cmd/app"
	"rindkeep/cmd/text"
	"rindkeep/schedule"
	"rindkeep/store"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

func (a *app) stockCmd() *cobra.Command {
	var room, variety string
	c := a.cmd("stock", "What is here: wheels, kilograms, held, ready", `
rindkeep stock
rindkeep stock --room cellar
rindkeep stock --variety cheddar-waxed --on +30d      what it will weigh then`, none, func(cmd *cobra.Command, _ []string) error {
		return a.look(func(s *session) error { return s.stock(room, variety) })
	})
	c.Flags().StringVar(&room, "room", "", "only what lies in this `ROOM`")
	c.Flags().StringVar(&variety, "variety", "", "only this `NAME`")
	a.completes(c, "room", (*session).roomNames)
	a.completes(c, "variety", (*session).varietyNames)
	return c
}

// stockLot is what is here of one make.
type stockLot struct {
	mk      wheel.Make
	title   string
	wheels  int
	mass    quantity.Estimate // g, of cheese without its coats
	hand    int               // held by hand
	law     int               // held by law
	held    int               // by either
	ready   int               // of the age its variety is eaten at
	free    int               // ready and not held
	weighed int               // wheels with a weight of their own
}

// manyWheels is from how many wheels on those of a make that stand alike (shape,
// room, coats, weighings) are foreseen by the first of them.
var manyWheels = 1500

// stockBatch is how many wheels are foreseen at once.
const stockBatch = 512

func (s *session) stock(room, variety string) error {
	at1, on, err := s.asOf()
	if err != nil {
		return err
	}
	if room != "" {
		r, err := s.tx.Room(room)
		if err != nil {
			return at("--room", err)
		}
		room = r.Name
	}
	if variety != "" {
		v, err := s.tx.Variety(variety)
		if err != nil {
			return at("--variety", err)
		}
		variety = v.Name
	}
	lots, err := s.stockLots(room, variety, at1, on)
	if err != nil {
		return err
	}
	if s.json {
		return s.document(stockDocOf(lots, room, on))
	}
	s.stockText(lots, room, on)
	return nil
}

// stockLots reads what is here at an instant. Of a time to come, it is what is
// here now and what it will weigh then.
func (s *session) stockLots(room, variety string, at time.Time, on day.Date) ([]*stockLot, error) {
	past := at.Before(s.now)
	var ws []store.WheelState
	for st, err := range s.tx.States() {
		if err != nil {
			return nil, err
		}
		if !past && (!st.Here() || room != "" && st.Place.Room() != room) {
			continue
		}
		m, err := s.tx.Make(st.Make)
		if err != nil {
			return nil, err
		}
		if m.Date <= on && (variety == "" || m.Variety == variety) {
			ws = append(ws, st)
		}
	}
	// Lot by lot: what the wheels of a lot share is read once.
	slices.SortStableFunc(ws, func(a, b store.WheelState) int { return strings.Compare(string(a.Make[:]), string(b.Make[:])) })
	quick := !past && len(ws) > manyWheels
	byLot := map[[16]byte]*stockLot{}
	var lots []*stockLot
	for len(ws) > 0 {
		n := min(stockBatch, len(ws))
		part := ws[:n]
		ws = ws[n:]
		var cases, asked []verdict.Case
		var by []int // which of those asked foresees each case
		kinds := map[string]int{}
		for _, st := range part {
			if s.ctx.Err() != nil {
				return nil, s.ctx.Err()
			}
			c, err := s.stockCase(st, at, quick)
			if err != nil {
				return nil, err
			}
			l := c.Life
			if l.GoneOn != day.None || past && l.Since > on || room != "" && l.Place.Room() != room {
				continue
			}
			cases = append(cases, c)
			k := (&coming{life: l, room: l.Place.Room()}).kind()
			i, ok := kinds[k]
			if !ok || !quick {
				i = len(asked)
				kinds[k] = i
				asked = append(asked, verdict.New(c))
			}
			by = append(by, i)
		}
		forecasts := schedule.Forecasts(asked)
		for i, c := range cases {
			f := forecasts[by[i]]
			lot := byLot[c.Life.Make.ID]
			if lot == nil {
				lot = &stockLot{mk: c.Life.Make, title: c.Variety.Title}
				if lot.title == "" {
					lot.title = c.Life.Make.Variety
				}
				byLot[c.Life.Make.ID] = lot
				lots = append(lots, lot)
			}
			lot.add(c, schedule.NewOutlook(c.Life, f, c.Began(), nil, s.loc).Mass(on), at, on)
		}
	}
	slices.SortStableFunc(lots, func(a, b *stockLot) int {
		return cmp.Or(strings.Compare(a.title, b.title), cmp.Compare(a.mk.Date, b.mk.Date), naturally(a.mk.Lot, b.mk.Lot))
	})
	return lots, nil
}

func (s *session) stockCase(st store.WheelState, at time.Time, quick bool) (verdict.Case, error) {
	if quick {
		return s.tx.CaseAlone(st.Wheel)
	}
	return s.caseAt(st, at)
}

// add counts a wheel.
func (l *stockLot) add(c verdict.Case, mass quantity.Estimate, at time.Time, on day.Date) {
	l.wheels++
	l.mass = schedule.Sum(l.mass, mass)
	if c.Life.WeightNow() > 0 {
		l.weighed++
	}
	_, law := c.RawMilk(at)
	hand := len(c.Life.Holds) > 0
	ready := c.Life.StageOn(on, c.Variety.DryingDays, c.Variety.ReadyDays, c.Loc) == wheel.Ready
	for _, x := range []struct {
		yes bool
		n   *int
	}{{hand, &l.hand}, {law, &l.law}, {hand || law, &l.held}, {ready, &l.ready}, {ready && !hand && !law, &l.free}} {
		if x.yes {
			*x.n++
		}
	}
}

// plus adds another lot's counts, for a total.
func (l *stockLot) plus(o *stockLot) {
	l.mass = schedule.Sum(l.mass, o.mass)
	for _, x := range []struct{ to, n *int }{{&l.wheels, &o.wheels}, {&l.hand, &o.hand}, {&l.law, &o.law}, {&l.held, &o.held}, {&l.ready, &o.ready}, {&l.free, &o.free}, {&l.weighed, &o.weighed}} {
		*x.to += *x.n
	}
}

type stockCounts struct {
	Wheels  int `json:"wheels"`
	Mass    est `json:"mass_kg"`
	Held    int `json:"held"`
	ByHand  int `json:"held_by_hand"`
	ByLaw   int `json:"held_by_law"`
	Ready   int `json:"ready"`
	Free    int `json:"ready_and_not_held"`
	Weighed int `json:"weighed"`
}

type stockLotDoc struct {
	Lot     string `json:"lot"`
	Variety string `json:"variety"`
	Made    string `json:"made"`
	stockCounts
}

type stockDoc struct {
	Schema string        `json:"schema"`
	Date   string        `json:"date"`
	Room   *string       `json:"room"`
	Lots   []stockLotDoc `json:"lots"`
	Total  stockCounts   `json:"total"`
}

func (l *stockLot) counts() stockCounts {
	return stockCounts{l.wheels, estOf(l.mass.Times(0.001)), l.held, l.hand, l.law, l.ready, l.free, l.weighed}
}

func stockDocOf(lots []*stockLot, room string, on day.Date) stockDoc {
	d := stockDoc{Schema: schema("stock"), Date: on.String(), Room: uc.OrNull(room), Lots: []stockLotDoc{}}
	var total stockLot
	for _, l := range lots {
		d.Lots = append(d.Lots, stockLotDoc{l.mk.Lot, l.mk.Variety, l.mk.Date.String(), l.counts()})
		total.plus(l)
	}
	d.Total = total.counts()
	return d
}

func (s *session) stockText(lots []*stockLot, room string, on day.Date) {
	where := "here"
	if room != "" {
		where = "in " + room
	}
	if len(lots) == 0 {
		s.print("no wheels %s\n", where)
		return
	}
	s.print("%s\n\n", s.style("1")(fmt.Sprintf("stock %s, %s", where, on.Long())))
	right := func(title string) text.Column { return text.Column{Title: title, Right: true} }
	t := text.Table{Indent: 2, Columns: []text.Column{{Title: "lot"}, {Title: "made"}, right("wheels"), right(s.bulkUnit()), {Title: "(90 %)"}, right("held"), right("ready"), right("may go")}}
	heads := map[int]string{} // before which row of the table
	row := func(name, made string, l *stockLot) {
		t.Add(name, made, fmt.Sprint(l.wheels), s.bulk(l.mass.Best), fmt.Sprintf("(%s to %s)", s.bulk(l.mass.Low), s.bulk(l.mass.High)), blankZero(l.held), blankZero(l.ready), blankZero(l.free))
	}
	var total stockLot
	for i := 0; i < len(lots); {
		var sum stockLot
		heads[len(t.Rows)] = lots[i].title
		j := i
		for ; j < len(lots) && lots[j].mk.Variety == lots[i].mk.Variety; j++ {
			sum.plus(lots[j])
			row(lots[j].mk.Lot, lots[j].mk.Date.String(), lots[j])
		}
		if j > i+1 {
			row("together", "", &sum)
		}
		total.plus(&sum)
		i = j
	}
	heads[len(t.Rows)] = "All"
	row("", "", &total)
	bold := s.style("1")
	for i, l := range t.Lines(s.env.Columns()) {
		// The first line is the heading; no cell wraps, so a row is a line.
		if h := heads[i-1]; h != "" {
			s.print("%s\n", bold(text.Cut(h, s.env.Columns())))
		}
		s.print("%s\n", l)
	}
	s.next("\nthe weight is of the cheese without its coats; ready is the age its variety is eaten at; may go is ready and not held")
	if total.law > 0 {
		s.next("held by law: %s; check your own law", text.Count(total.law, "wheel"))
	}
	if n := total.wheels - total.weighed; n > 0 {
		s.next("never weighed, taken at the usual weight: %s", text.Count(n, "wheel"))
	}
}

func blankZero(n int) string {
	if n == 0 {
		return "-"
	}
	return fmt.Sprint(n)
}

// bulk writes a mass of many wheels in the unit that bulkUnit names.
func (s *session) bulk(grams float64) string {
	x := quantity.Grams(grams).Kilograms()
	if s.units == quantity.Imperial {
		x = quantity.Grams(grams).Pounds()
	}
	if x < 1000 {
		return fmt.Sprintf("%.1f", x)
	}
	return fmt.Sprintf("%.0f", x)
}

func (s *session) bulkUnit() string {
	if s.units == quantity.Imperial {
		return "lb"
	}
	return "kg"
}
