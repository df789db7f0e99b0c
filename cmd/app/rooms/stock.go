package rooms

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/schedule"
)

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

	OnTheWay int `json:"on_the_way"` // of Wheels: between two sites, in no room

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
	More   int         `json:"more"` // lots that would have been listed after these

	AllSites bool `json:"all_sites"` // what is at other sites is counted too

	On  day.Date   `json:"-"`
	All []StockLot `json:"-"` // those of Lots and those after them
}

// CountsOf publishes counts.
func CountsOf(s schedule.Stock) StockCounts {
	return StockCounts{
		Wheels: s.Wheels, Mass: kilos(s.Mass), Held: s.Held, ByHand: s.ByHand, ByLaw: s.ByLaw, Ready: s.Ready, Free: s.Free,
		Weighed: s.Weighed, OnTheWay: s.OnTheWay, Stock: s,
	}
}

// InStock asks what is here.
type InStock struct {
	Most int // lots at most; 0: all
	app.Narrow
}

// Count tells what is here at an instant. Of a time to come, it is what is here now
// and what it will weigh then.
func Count(ctx context.Context, a *app.App, c app.Caller, q InStock) (Stock, error) {
	ask := app.Ask[Stock]
	if c.On+c.At != "" { // of a time that's past, every history is read
		ask = app.AskLong[Stock]
	}
	return ask(ctx, a, c, func(s *app.Session) (Stock, error) { return count(s, q, ownForecasts) })
}

func count(s *app.Session, q InStock, most int) (Stock, error) {
	at, on, err := s.AsOf()
	if err != nil {
		return Stock{}, err
	}
	out := Stock{Schema: app.Schema("stock"), Date: on.String(), Lots: []StockLot{}, On: on}
	if q.Room != "" {
		in, err := s.PlaceOf("room", q.Room)
		if err != nil {
			return out, err
		}
		room := string(in)
		out.Room = &room
	} else if q.Rack == "" {
		_, out.AllSites = s.Tx.Own()
	}
	lots := map[uuid.UUID]*StockLot{}
	laws := heldBy{s: s, at: at}
	err = gather(s, q.Narrow, at, on, false, most, func(ws []*coming) error {
		for _, w := range ws {
			if s.Ctx.Err() != nil {
				return s.Ctx.Err()
			}
			law, err := laws.holds(w)
			if err != nil {
				return err
			}
			l := lots[w.Make]
			if l == nil {
				l = &StockLot{
					Lot: w.make.Lot, Variety: w.make.Variety, Made: w.make.Date.String(), On: w.make.Date,
					Title: cmp.Or(w.variety.Title, w.make.Variety),
				}
				lots[w.Make] = l
			}
			ready := w.ready != day.None && w.ready <= on
			l.Stock.Plus(schedule.StockOf(w.Brief, w.goesOn(s.Zone).Mass(on), ready, law, w.Place.Bound() != ""))
		}
		return nil
	})
	if err != nil {
		return out, err
	}
	var total schedule.Stock
	for _, l := range lots {
		l.StockCounts = CountsOf(l.Stock)
		out.Lots = append(out.Lots, *l)
	}
	slices.SortStableFunc(out.Lots, func(a, b StockLot) int {
		return cmp.Or(strings.Compare(a.Title, b.Title), cmp.Compare(a.On, b.On), cave.NaturalCompare(a.Lot, b.Lot))
	})
	for _, l := range out.Lots {
		total.Plus(l.Stock)
	}
	out.Total, out.All = CountsOf(total), out.Lots
	out.Lots, out.More = app.First(out.All, q.Most)
	return out, nil
}

// holds says whether a law holds the wheel.
func (h *heldBy) holds(w *coming) (bool, error) {
	if h.at.Equal(h.s.Time) {
		return h.s.HeldByLaw(w.make, w.WheelState)
	}
	l, err := h.of(w)
	return len(l.holds) > 0, err
}
