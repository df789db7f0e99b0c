package makes

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/wheel"
	"rindkeep/wheel/variety"
)

// Weighed is a make's wheels weighed out of the press.
type Weighed struct {
	Schema string         `json:"schema"`
	Lot    string         `json:"lot"`
	At     string         `json:"at"`
	Wheels []WeighedWheel `json:"wheels"`
	All    int            `json:"wheels_of_lot"`
	Total  *float64       `json:"weighed_g"`
	Yield  *Yield         `json:"yield"`
	Same   bool           `json:"no_change"`
	app.Cautioned

	Title  string `json:"-"` // of the variety
	Plan   string `json:"-"`
	Output Output `json:"-"`
}

// WeighedWheel is one of them.
type WeighedWheel struct {
	Tag    string   `json:"tag"`
	Weight *float64 `json:"weight_g"`
}

// Tags are the tags of the wheels weighed.
func (d Weighed) Tags() []string {
	return app.Each(d.Wheels, func(w WeighedWheel) string { return w.Tag })
}

// MoreMoulds refuses fewer weights than the lot has wheels that are not weighed yet.
type MoreMoulds struct {
	Lot     string `json:"lot"`
	Tags    string `json:"tags"` // separated by spaces
	Weights int    `json:"weights"`
}

// WeighSome is the remedy for MoreMoulds.
type WeighSome struct {
	First string `json:"first"`
	Last  string `json:"last"`
}

// InTheBook refuses a plan or measures for wheels that have theirs.
type InTheBook struct {
	Tags string `json:"tags"` // separated by spaces
}

// The codes.

func (MoreMoulds) Code() string { return "more-moulds-than-weights" }
func (WeighSome) Code() string  { return "weigh-some" }
func (InTheBook) Code() string  { return "wheels-in-the-book" }

// Weigh weighs a make's wheels out of the press in one go. Those that came into the
// book while they were in their moulds, and have no weight yet, get the weights in
// the order of their tags; the weights over are of wheels new to the book.
func Weigh(ctx context.Context, a *app.App, c app.Caller, lot string, b Batch) (app.Did[Weighed], error) {
	return app.Act(ctx, a, c, func(s *app.Session) (Weighed, error) { return weighed(s, lot, b) })
}

func weighed(s *app.Session, lot string, b Batch) (Weighed, error) {
	d := Weighed{Schema: app.Schema("make-wheels"), Wheels: []WeighedWheel{}}
	mk, err := Lot(s, lot)
	if err != nil {
		return d, err
	}
	v, err := s.Tx.Variety(mk.Variety)
	if err != nil {
		return d, err
	}
	when, _, err := s.Moment()
	if err != nil {
		return d, err
	}
	switch n := len(b.Weights); {
	case n == 0:
		return d, app.Misuse("weights", reason.Missing{What: "weights"})
	case n > MaxWheels:
		return d, app.Misuse("weights", reason.TooLong{What: "weights", Has: n, Most: MaxWheels})
	}
	have, err := s.Tx.WheelsOf(mk.ID)
	if err != nil {
		return d, err
	}
	ws, err := weighedThen(s, have, when, b.Weights)
	if err != nil {
		return d, err
	}
	if d.Same = ws != nil; !d.Same {
		if ws, err = b.weigh(s, mk, v, have, when); err != nil {
			return d, err
		}
	}
	d.Lot, d.At, d.Title, d.Plan = mk.Lot, app.Instant(when, s.Zone), v.Title, ws[0].Plan
	for i, w := range ws {
		st, err := s.Tx.State(w.ID)
		if err != nil {
			return d, err
		}
		d.Wheels = append(d.Wheels, WeighedWheel{st.Tag, app.Grams(b.Weights[i])})
	}
	sheet, err := s.Tx.MakeSheet(mk.ID)
	if err != nil {
		return d, err
	}
	if d.Output, _, err = outputOf(s, mk, sheet); err != nil {
		return d, err
	}
	d.All, d.Total, d.Yield = d.Output.Wheels, app.Grams(d.Output.Total), d.Output.Yield
	milk, err := s.Tx.MilkOf(mk.ID)
	if err != nil {
		return d, err
	}
	raw, err := s.RawMilk(mk, milk.Treatment)
	d.WarnRaw(raw)
	return d, err
}

// weigh gives the weights to the wheels in their moulds, and to new ones.
func (b Batch) weigh(
	s *app.Session, mk wheel.Make, v variety.Variety, have []wheel.Wheel, when time.Time,
) ([]wheel.Wheel, error) {
	moulds, err := b.moulds(s, mk, have)
	if err != nil {
		return nil, err
	}
	if err := b.weighMoulds(s, moulds, when); err != nil {
		return nil, err
	}
	if b.Weights = b.Weights[len(moulds):]; len(b.Weights) == 0 {
		return moulds, nil
	}
	added, err := b.wheels(s, mk, v, len(b.Weights), when)
	if err != nil {
		return nil, err
	}
	last := 0
	for _, w := range have {
		last = max(last, w.Number)
	}
	for i := range added {
		added[i].Number += last
		added[i].Tag = wheel.DefaultTag(mk.Lot, added[i].Number, last+len(added))
	}
	return append(moulds, added...), b.put(s, mk, v, added, when)
}

// moulds are the wheels of a lot that came into the book before they were weighed,
// and are here.
func (b Batch) moulds(s *app.Session, mk wheel.Make, have []wheel.Wheel) ([]wheel.Wheel, error) {
	var ws []wheel.Wheel
	var tags []string
	for _, w := range have {
		st, err := s.Tx.State(w.ID)
		if err != nil {
			return nil, err
		}
		es, err := s.Tx.History(w.ID)
		if err != nil {
			return nil, err
		}
		if st.Here() && !slices.ContainsFunc(wheel.Live(es), func(e wheel.Entry) bool {
			return e.Kind == wheel.Weighed || e.Kind == wheel.CoatedOn
		}) {
			ws, tags = append(ws, w), append(tags, st.Tag)
		}
	}
	n := len(b.Weights)
	if len(ws) > n {
		why := MoreMoulds{mk.Lot, strings.Join(tags, " "), n}
		return nil, app.Refuse(why, WeighSome{tags[0], tags[len(tags)-1]}).In("weights")
	}
	if len(ws) > 0 && len(ws) == n && (b.Plan != "" || b.Shape.Known()) {
		return nil, app.Misuse("", InTheBook{strings.Join(tags, " ")})
	}
	return ws, nil
}

// weighMoulds gives wheels that are in the book their green weights, and their place
// where one is given.
func (b Batch) weighMoulds(s *app.Session, ws []wheel.Wheel, when time.Time) error {
	if len(ws) == 0 {
		return nil
	}
	place, err := b.place(s)
	if err != nil {
		return err
	}
	var entries []wheel.Entry
	for i, w := range ws {
		c, err := s.Tx.Case(w.ID)
		if err != nil {
			return err
		}
		e := s.Entry(greenWeight(w, b.Weights[i], when, b.Sure))
		k := c.With(e)
		if d, ok := k.Doubts(k.Forecast(), func(id uuid.UUID) bool { return id == e.ID })[e.ID]; ok && !b.Sure {
			return app.Doubtful(c.Life, e, d).In("weights")
		}
		entries = append(entries, e)
		if place != "" && c.Life.Place != place {
			entries = append(entries, s.Entry(wheel.Entry{Subject: w.ID, Kind: wheel.Moved, At: when, Place: place}))
		}
	}
	_, err = s.Write.Put(entries...)
	return err
}

// weighedThen finds the wheels that got just these green weights at that instant: the
// act was sent twice. It gives nil where there are none.
func weighedThen(
	s *app.Session, have []wheel.Wheel, when time.Time, weights []quantity.Grams,
) ([]wheel.Wheel, error) {
	var ws []wheel.Wheel
	var got []quantity.Grams
	for _, w := range have {
		es, err := s.Tx.History(w.ID)
		if err != nil {
			return nil, err
		}
		for _, e := range wheel.Live(es) {
			if e.Kind == wheel.Weighed && e.At.Equal(when) && e.Note == greenNote {
				ws, got = append(ws, w), append(got, e.Weight)
				break
			}
		}
	}
	for i := range got {
		if end := i + len(weights); end <= len(got) && slices.Equal(got[i:end], weights) {
			return ws[i:end], nil
		}
	}
	return nil, nil
}
