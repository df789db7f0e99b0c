package rooms

import (
	"bytes"
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/schedule"
	"rindkeep/store"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// StockAsked narrows a question about the stock; "" is all.
type StockAsked struct {
	Room    string
	Variety string
}

// StockCounts is what is here of a make, or of all.
type StockCounts struct {
	Wheels  int     `json:"wheels"`
	Mass    app.Est `json:"mass_kg"`
	Held    int     `json:"held"`
	ByHand  int     `json:"held_by_hand"`
	ByLaw   int     `json:"held_by_law"`
	Ready   int     `json:"ready"`
	Free    int     `json:"ready_and_not_held"`
	Weighed int     `json:"weighed"`

	Stock schedule.Stock `json:"-"`
}

// StockLot is what is here of one make.
type StockLot struct {
	Lot     string `json:"lot"`
	Variety string `json:"variety"`
	Made    string `json:"made"`
	StockCounts

	Title string   `json:"-"` // of the variety
	On    day.Date `json:"-"` // it was made
}

// Stock is what is here, by variety and lot.
type Stock struct {
	Schema string      `json:"schema"`
	Date   string      `json:"date"`
	Room   *string     `json:"room"`
	Lots   []StockLot  `json:"lots"`
	Total  StockCounts `json:"total"`

	On day.Date `json:"-"`
}

// CountsOf publishes counts.
func CountsOf(s schedule.Stock) StockCounts {
	return StockCounts{
		Wheels: s.Wheels, Mass: kilos(s.Mass), Held: s.Held, ByHand: s.ByHand, ByLaw: s.ByLaw, Ready: s.Ready, Free: s.Free,
		Weighed: s.Weighed, Stock: s,
	}
}

// manyWheels is from how many wheels on those of a make that stand alike are
// foreseen by the first of them.
const manyWheels = 1500

// stockBatch is how many wheels are foreseen at once.
const stockBatch = 512

// Count tells what is here at an instant. Of a time to come, it is what is here now
// and what it will weigh then.
func Count(ctx context.Context, a *app.App, c app.Caller, q StockAsked) (Stock, error) {
	return app.AskLong(ctx, a, c, func(s *app.Session) (Stock, error) { return count(s, q, manyWheels) })
}

func count(s *app.Session, q StockAsked, many int) (Stock, error) {
	at, on, err := s.AsOf()
	if err != nil {
		return Stock{}, err
	}
	out := Stock{Schema: app.Schema("stock"), Date: on.String(), Lots: []StockLot{}, On: on}
	if q.Room != "" {
		r, err := s.Tx.Room(q.Room)
		if err != nil {
			return out, app.At("room", err)
		}
		q.Room = r.Name
		out.Room = &q.Room
	}
	if q.Variety != "" {
		v, err := s.Tx.Variety(q.Variety)
		if err != nil {
			return out, app.At("variety", err)
		}
		q.Variety = v.Name
	}
	ws, err := stockWheels(s, q, at, on)
	if err != nil {
		return out, err
	}
	k := counter{s: s, q: q, at: at, on: on, past: at.Before(s.Time), quick: !at.Before(s.Time) && len(ws) > many,
		lots: map[uuid.UUID]*StockLot{}}
	for part := range slices.Chunk(ws, stockBatch) {
		if err := k.add(part); err != nil {
			return out, err
		}
	}
	var total schedule.Stock
	for _, l := range k.lots {
		l.StockCounts = CountsOf(l.Stock)
		out.Lots = append(out.Lots, *l)
	}
	slices.SortStableFunc(out.Lots, func(a, b StockLot) int {
		return cmp.Or(strings.Compare(a.Title, b.Title), cmp.Compare(a.On, b.On), cave.NaturalCompare(a.Lot, b.Lot))
	})
	for _, l := range out.Lots {
		total.Plus(l.Stock)
	}
	out.Total = CountsOf(total)
	return out, nil
}

// stockWheels are the wheels that may be asked for, lot by lot: what the wheels of
// a lot share is read once.
func stockWheels(s *app.Session, q StockAsked, at time.Time, on day.Date) ([]store.WheelState, error) {
	past := at.Before(s.Time)
	var ws []store.WheelState
	for st, err := range s.Tx.States() {
		if err != nil {
			return nil, err
		}
		if !past && (!st.Here() || q.Room != "" && st.Place.Room() != q.Room) {
			continue
		}
		m, err := s.Tx.Make(st.Make)
		if err != nil {
			return nil, err
		}
		if m.Date <= on && (q.Variety == "" || m.Variety == q.Variety) {
			ws = append(ws, st)
		}
	}
	slices.SortStableFunc(ws, func(a, b store.WheelState) int { return bytes.Compare(a.Make[:], b.Make[:]) })
	return ws, nil
}

// counter counts wheels into lots.
type counter struct {
	s     *app.Session
	q     StockAsked
	at    time.Time
	on    day.Date
	past  bool
	quick bool // wheels that stand alike share a forecast
	lots  map[uuid.UUID]*StockLot
}

func (k *counter) add(part []store.WheelState) error {
	var cases, asked []verdict.Case
	var by []int // which of those asked foresees each case
	kinds := map[string]int{}
	for _, st := range part {
		if err := k.s.Ctx.Err(); err != nil {
			return err
		}
		c, err := k.caseOf(st)
		if err != nil {
			return err
		}
		l := c.Life
		if l.GoneOn != day.None || k.past && l.Since > k.on || k.q.Room != "" && l.Place.Room() != k.q.Room {
			continue
		}
		kind := schedule.AlikeKey(l, l.Place.Room())
		i, ok := kinds[kind]
		if !ok || !k.quick {
			i = len(asked)
			kinds[kind], asked = i, append(asked, verdict.New(c))
		}
		cases, by = append(cases, c), append(by, i)
	}
	forecasts := schedule.Forecasts(asked)
	for i, c := range cases {
		mass := schedule.NewOutlook(c.Life, forecasts[by[i]], c.Began(), nil, k.s.Zone).Mass(k.on)
		k.lot(c.Life.Make, c.Variety.Title).Stock.Add(c, mass, k.at, k.on)
	}
	return nil
}

func (k *counter) caseOf(st store.WheelState) (verdict.Case, error) {
	if k.quick {
		return k.s.Tx.CaseAlone(st.Wheel)
	}
	return k.s.CaseAt(st, k.at)
}

func (k *counter) lot(m wheel.Make, title string) *StockLot {
	l := k.lots[m.ID]
	if l == nil {
		l = &StockLot{Lot: m.Lot, Variety: m.Variety, Made: m.Date.String(), Title: cmp.Or(title, m.Variety), On: m.Date}
		k.lots[m.ID] = l
	}
	return l
}
