package cli

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

func (a *app) makeWheelsCmd() *cobra.Command {
	var m makeFlags
	c := a.cmd("wheels LOT", "Weigh a make's wheels out of the press in one go", `
rindkeep make wheels 261120A --weights 2.1kg,2.05kg,2.08kg --place drying/A/1
rindkeep make wheels 261120A --weights 480,492,476 --diameter 11cm --height 5cm --at 2026-11-21T08:00
rindkeep make wheels 261120A --weights 1.9kg --plan washed-rind       one more, the next number`, exactly("LOT"), func(cmd *cobra.Command, args []string) error {
		if strings.TrimSpace(m.weights) == "" {
			return usagef("--weights is missing: the green weight of each wheel, like 2.1kg,2.05kg")
		}
		return a.update(func(s *session) error { return s.makeWheels(args[0], &m) })
	})
	c.Long = `Weigh a make's wheels out of the press in one go.

Wheels of the lot that were written down while they were in their moulds, and
have no weight yet, get the weights in the order of their tags. Weights over and
above are of wheels new to the book.`
	f := c.Flags()
	f.StringVar(&m.weights, "weights", "", "green `WEIGHTS`, one for each wheel: 2.1kg,2.05kg or 2100,2050")
	f.StringVar(&m.place, "place", "", "`ROOM/RACK/SHELF` they lie in")
	f.StringVar(&m.plan, "plan", "", "rind plan `NAME` (default: the variety's)")
	m.shape.Add(c)
	f.BoolVar(&m.sure, "sure", false, "record it although weights or measures look wrong")
	f.SortFlags = false
	a.completes(c, "plan", (*session).planNames)
	a.completes(c, "place", (*session).roomNames)
	return a.completesArgs(c, func(s *session, _ int, _ string) []string { return s.lotNames() })
}

type makeWheelsDoc struct {
	Schema string         `json:"schema"`
	Lot    string         `json:"lot"`
	At     string         `json:"at"`
	Wheels []weighedWheel `json:"wheels"`
	All    int            `json:"wheels_of_lot"`
	Total  *float64       `json:"weighed_g"`
	Yield  *makeYieldDoc  `json:"yield"`
	Same   bool           `json:"no_change"`
}

type weighedWheel struct {
	Tag    string   `json:"tag"`
	Weight *float64 `json:"weight_g"`
}

func (s *session) makeWheels(lot string, m *makeFlags) error {
	mk, err := s.lot(lot)
	if err != nil {
		return err
	}
	v, err := s.tx.Variety(mk.Variety)
	if err != nil {
		return err
	}
	when, _, err := s.moment()
	if err != nil {
		return err
	}
	n := len(strings.FieldsFunc(m.weights, func(r rune) bool { return r == ',' || r == ';' || r == ' ' }))
	if n < 1 || n > 10000 {
		return usagef("--weights holds %d weights; give 1 to 10000", n)
	}
	weights, err := weightList(m.weights, n)
	if err != nil {
		return at("--weights", usageError{Msg: err.Error()})
	}
	have, err := s.tx.WheelsOf(mk.ID)
	if err != nil {
		return err
	}
	doc := makeWheelsDoc{Schema: schema("make-wheels"), Lot: mk.Lot, At: instant(when, s.loc), Wheels: []weighedWheel{}}
	before, err := s.weighedThen(have, when, weights)
	if err != nil {
		return err
	}
	ws := before
	if before == nil {
		moulds, err := s.moulds(mk, have, m, len(weights))
		if err != nil {
			return err
		}
		if err := s.weighMoulds(moulds, m, weights[:len(moulds)], when); err != nil {
			return err
		}
		if ws = moulds; len(weights) > len(moulds) {
			added, err := s.addWheels(mk, m, have, weights[len(moulds):], when)
			if err != nil {
				return err
			}
			ws = append(ws, added...)
		}
	}
	doc.Same = before != nil
	var tags []string
	for i, w := range ws {
		st, err := s.tx.State(w.ID)
		if err != nil {
			return err
		}
		tags = append(tags, st.Tag)
		doc.Wheels = append(doc.Wheels, weighedWheel{st.Tag, grams(weights[i])})
	}
	sheet, err := s.tx.MakeSheet(mk.ID)
	if err != nil {
		return err
	}
	g, err := s.greenOf(mk)
	if err != nil {
		return err
	}
	doc.All, doc.Total, doc.Yield = g.wheels, grams(g.total), s.yieldDocOf(sheet, g)
	if s.json {
		return s.document(doc)
	}
	if doc.Same {
		s.print("no change, lot %s has these wheels already: %s\n", mk.Lot, text.Tags(tags))
		return nil
	}
	s.print("lot %s, %s: %s, %s\n", mk.Lot, v.Title, text.Count(len(ws), "wheel"), text.Tags(tags))
	all := fmt.Sprintf("%s of the lot weigh %s out of the press", text.Count(g.weighed, "wheel"), bulk(s.units, g.total))
	if y := s.yieldWords(sheet, g); y != "" {
		all += "; " + y
	}
	s.indented(all)
	milk, err := s.tx.MilkOf(mk.ID)
	if err != nil {
		return err
	}
	if milk.Treatment == wheel.Raw {
		w, err := s.rawCautionOf(mk)
		if err != nil {
			return err
		}
		s.caution(w)
	}
	s.next("plan %s. What is due: rindkeep today", ws[0].Plan)
	s.next("a wrong weight? rindkeep strike last --why TEXT, then weigh that wheel again")
	return nil
}

// moulds are the wheels of a lot that were written down before they were weighed,
// and are here: those that n weights are for first.
func (s *session) moulds(mk wheel.Make, have []wheel.Wheel, m *makeFlags, n int) ([]wheel.Wheel, error) {
	var ws []wheel.Wheel
	var tags []string
	for _, w := range have {
		st, err := s.tx.State(w.ID)
		if err != nil {
			return nil, err
		}
		es, err := s.tx.History(w.ID)
		if err != nil {
			return nil, err
		}
		if st.Here() && !slices.ContainsFunc(wheel.Live(es), func(e wheel.Entry) bool { return e.Kind == wheel.Weighed || e.Kind == wheel.CoatedOn }) {
			ws, tags = append(ws, w), append(tags, st.Tag)
		}
	}
	if len(ws) > n {
		return nil, hint(fmt.Errorf("lot %s has %s not weighed yet, %s, and %s given", mk.Lot, text.Count(len(ws), "wheel"), text.Tags(tags), text.Count(n, "weight is", "weights are")),
			"weigh some of them with rindkeep weigh %s WEIGHT; one that was never made: rindkeep wheel void %s --why TEXT", tags[0], tags[len(tags)-1])
	}
	in := s.Figures()
	given, err := m.shape.Given(in), in.Err
	if err != nil {
		return nil, err
	}
	if len(ws) > 0 && len(ws) == n && (m.plan != "" || given.Known()) {
		return nil, usagef("--plan and measures are for wheels new to the book, and %s is there already; another plan: rindkeep wheel plan", text.Tags(tags))
	}
	return ws, nil
}

// weighMoulds gives wheels that are in the book their green weights, and their
// place where one is said.
func (s *session) weighMoulds(ws []wheel.Wheel, m *makeFlags, weights []quantity.Grams, when time.Time) error {
	if len(ws) == 0 {
		return nil
	}
	var place cave.Place
	var err error
	if m.place != "" {
		if place, err = cave.ParsePlace(m.place); err != nil {
			return at("--place", usageError{Msg: err.Error()})
		}
		if place, err = s.placeIn(place); err != nil {
			return at("--place", err)
		}
	}
	var entries []wheel.Entry
	for i, w := range ws {
		c, err := s.tx.Case(w.ID)
		if err != nil {
			return err
		}
		e := s.entry(wheel.Entry{Subject: w.ID, Kind: wheel.Weighed, At: when, Weight: weights[i], Note: greenNote, Sure: m.sure})
		k := c.With(e)
		if d, ok := k.Doubts(k.Forecast(), func(id uuid.UUID) bool { return id == e.ID })[e.ID]; ok && !m.sure {
			return at("--weights", s.doubtful(c, e, d))
		}
		entries = append(entries, e)
		if place != "" && c.Life.Place != place {
			entries = append(entries, s.entry(wheel.Entry{Subject: w.ID, Kind: wheel.Moved, At: when, Place: place}))
		}
	}
	_, err = s.write.Put(entries...)
	return err
}

// greenNote is the note of a weight that came with the wheel.
const greenNote = "green weight"

// addWheels puts wheels with the next numbers and their green weights in the
// book.
func (s *session) addWheels(mk wheel.Make, m *makeFlags, have []wheel.Wheel, weights []quantity.Grams, when time.Time) ([]wheel.Wheel, error) {
	v, err := s.tx.Variety(mk.Variety)
	if err != nil {
		return nil, err
	}
	ws, err := s.wheelsOf(m, mk, v, len(weights), weights, when)
	if err != nil {
		return nil, err
	}
	last := 0
	for _, w := range have {
		last = max(last, w.Number)
	}
	for i := range ws {
		ws[i].Number += last
		ws[i].Tag = wheel.DefaultTag(mk.Lot, ws[i].Number, last+len(ws))
	}
	if !m.sure {
		if why := verdict.OddMake(mk, v, ws, weights); why != nil {
			return nil, at("--weights", unsure(errors.New(s.printer().Sentence(why)), "a bare number is grams or centimetres; "))
		}
	}
	if err := s.write.AddWheels(ws); err != nil {
		return nil, err
	}
	var entries []wheel.Entry
	for i, g := range weights {
		entries = append(entries, s.entry(wheel.Entry{Subject: ws[i].ID, Kind: wheel.Weighed, At: when, Weight: g, Note: greenNote, Sure: m.sure}))
	}
	_, err = s.write.Put(entries...)
	return ws, err
}

// weighedThen finds the wheels that got just these green weights at that
// instant: the command was sent twice. It gives nil where there are none.
func (s *session) weighedThen(have []wheel.Wheel, when time.Time, weights []quantity.Grams) ([]wheel.Wheel, error) {
	var ws []wheel.Wheel
	var got []quantity.Grams
	for _, w := range have {
		es, err := s.tx.History(w.ID)
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

// green is what a lot's wheels weighed as they came out of the press.
type green struct {
	wheels, weighed int
	total           quantity.Grams
}

// all says whether every wheel has its green weight, and there is one.
func (g green) all() bool { return g.wheels > 0 && g.wheels == g.weighed }

func (s *session) greenOf(mk wheel.Make) (green, error) {
	var g green
	ws, err := s.tx.WheelsOf(mk.ID)
	if err != nil {
		return g, err
	}
	for _, w := range ws {
		es, err := s.tx.History(w.ID)
		if err != nil {
			return g, err
		}
		if slices.ContainsFunc(wheel.Live(es), func(e wheel.Entry) bool { return e.Kind == wheel.Voided }) {
			continue // it never was
		}
		g.wheels++
		if w := wheel.NewLife(w, mk, es, s.loc, nil).Chain.Green; w > 0 {
			g.weighed++
			g.total += w
		}
	}
	return g, nil
}

// makeYieldDoc is a make's yield in JSON.
type makeYieldDoc struct {
	Milk     *float64 `json:"milk_g"`
	Kept     *float64 `json:"curd_kept_pct"`
	Expected *float64 `json:"expected_g"`
	Got      *float64 `json:"got_g"`
	OfMilk   *float64 `json:"got_of_milk_pct"`
	Of       *float64 `json:"got_of_expected_pct"`
	Wheels   int      `json:"wheels"`
	Weighed  int      `json:"wheels_weighed"`
	Formula  string   `json:"formula"`
}

func (s *session) yieldDocOf(sheet wheel.MakeSheet, g green) *makeYieldDoc {
	y, ok := yieldOf(sheet, g)
	if !ok {
		return nil
	}
	return &makeYieldDoc{num(float64(y.Milk)), pctNum(y.Kept), num(float64(y.Expected)), grams(y.Got), some(y.OfMilk.Percent()), some(y.Of.Percent()), g.wheels, g.weighed, "Van Slyke, as in Mullan 2008"}
}

// yieldOf compares the weights with the milk's; while a wheel is still to be
// weighed there is nothing to compare with.
func yieldOf(sheet wheel.MakeSheet, g green) (wheel.Yield, bool) {
	got := g.total
	if !g.all() {
		got = 0
	}
	return sheet.Yield(got)
}

// yieldWords says the yield in a sentence, "" where it cannot be known.
func (s *session) yieldWords(sheet wheel.MakeSheet, g green) string {
	y, ok := yieldOf(sheet, g)
	if !ok {
		return ""
	}
	of := bulk(s.units, y.Milk) + " of milk"
	if y.Kept < 1 {
		of += fmt.Sprintf(" (the %.0f %% whose curd was kept)", y.Kept.Percent())
	}
	if y.Got > 0 {
		return fmt.Sprintf("%s from %s, %.1f %% of it; Van Slyke expects %s for cheddar: %.0f %% of that", bulk(s.units, y.Got), of, y.OfMilk.Percent(), bulk(s.units, y.Expected), y.Of.Percent())
	}
	want := fmt.Sprintf("Van Slyke expects %s of cheddar from %s", bulk(s.units, y.Expected), of)
	if g.weighed > 0 {
		want += fmt.Sprintf("; %d of %d wheels weighed so far", g.weighed, g.wheels)
	}
	return want
}
