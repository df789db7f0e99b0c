package cli

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel"
)

// recorded is what one command wrote: the wheels it named, when it happened,
// and how many entries were new.
type recorded struct {
	ws      []store.WheelState
	when    time.Time
	written int
}

// record writes one entry, made by of, for every wheel named.
func (s *session) record(what []string, of func(st store.WheelState) (wheel.Entry, error)) (recorded, error) {
	var r recorded
	var err error
	if r.when, _, err = s.moment(); err != nil {
		return r, err
	}
	if r.ws, err = s.pick(what); err != nil {
		return r, err
	}
	var entries []wheel.Entry
	for _, st := range r.ws {
		e, err := of(st)
		if err != nil {
			return r, err
		}
		e.Subject, e.At = st.Wheel, r.when
		entries = append(entries, s.entry(e))
	}
	res, err := s.write.Put(entries...)
	r.written = res.Written
	return r, err
}

// reweighed refuses weights round a coat, core or cut that cannot be right by
// the wheel's last weight, unless the writer is sure.
func (s *session) reweighed(st store.WheelState, e wheel.Entry, sure bool) error {
	return s.S.Reweighed(st, e, sure)
}

type wheelRow struct {
	Tag     string   `json:"wheel"`
	Lot     string   `json:"lot"`
	Variety string   `json:"variety"`
	Age     int      `json:"age_days"`
	Stage   string   `json:"stage"`
	Place   string   `json:"place"`
	Plan    string   `json:"plan"`
	Weight  *float64 `json:"weight_g"`
	Loss    *float64 `json:"loss_pct"`
	Held    bool     `json:"held"`
	Law     bool     `json:"held_by_law"`
	Gone    *string  `json:"gone_on"`
}

func (s *session) rowOf(st store.WheelState) (wheelRow, wheel.Life, error) {
	l, err := s.tx.Life(st.Wheel)
	if err != nil {
		return wheelRow{}, l, err
	}
	v, err := s.tx.Variety(l.Make.Variety)
	if err != nil {
		return wheelRow{}, l, err
	}
	drying := v.DryingDays
	if waits, err := s.S.Gated(st.Plan); err != nil {
		return wheelRow{}, l, err
	} else if waits {
		drying = 0 // it dries until it is coated
	}
	r := wheelRow{
		Tag: l.Tag, Lot: l.Make.Lot, Variety: v.Name, Age: l.Age(s.today), Stage: string(l.StageOn(s.today, drying, v.ReadyDays, s.loc)),
		Place: string(l.Place), Plan: l.Plan, Weight: grams(l.WeightNow()), Held: len(l.Holds) > 0, Gone: dateOrNull(l.GoneOn),
	}
	if p, ok := l.Chain.Last(); ok {
		x := rounded(p.Loss().Percent(), 10)
		r.Loss = &x
	}
	r.Law, err = s.S.HeldByLaw(l)
	return r, l, err
}

func (a *app) wheelListCmd() *cobra.Command {
	var stage string
	var gone bool
	c := a.nowCmd("list [WHAT...]", "The wheels, with age, stage, place and loss", `
rindkeep wheel list
rindkeep wheel list cellar/B --stage coated
rindkeep wheel list 261120A --gone`, cobra.ArbitraryArgs, func(cmd *cobra.Command, args []string) error {
		var only wheel.Stage
		if stage != "" {
			st, err := wheel.ParseStage(stage)
			if err != nil {
				return at("--stage", usageError{Msg: err.Error()})
			}
			only = st
		}
		return a.look(func(s *session) error {
			ws, err := s.listed(args, gone)
			if err != nil {
				return err
			}
			doc := struct {
				Schema string     `json:"schema"`
				Wheels []wheelRow `json:"wheels"`
			}{schema("wheel-list"), []wheelRow{}}
			t := text.Table{Columns: []text.Column{{Title: "wheel"}, {Title: "variety", Wrap: true}, {Title: "age", Right: true}, {Title: "stage"}, {Title: "place", Wrap: true}, {Title: "weight", Right: true}, {Title: "loss", Right: true}, {}}}
			for i, w := range ws {
				if i%256 == 0 && s.ctx.Err() != nil {
					return s.ctx.Err()
				}
				r, l, err := s.rowOf(w)
				if err != nil {
					return err
				}
				if only != "" && r.Stage != string(only) {
					continue
				}
				doc.Wheels = append(doc.Wheels, r)
				weight, loss, mark := "-", "-", ""
				if r.Weight != nil {
					weight = s.units.Weight(l.WeightNow())
				}
				if r.Loss != nil {
					loss = fmt.Sprintf("%.1f %%", *r.Loss)
				}
				if r.Held {
					mark = "HELD"
				}
				if l.GoneOn != day.None {
					mark = s.printer().Why(l.GoneWhy)
				}
				t.Add(r.Tag, r.Variety, fmt.Sprintf("%d d", r.Age), r.Stage, r.Place, weight, loss, mark)
			}
			if s.json {
				return s.document(doc)
			}
			if len(t.Rows) == 0 {
				s.print("no wheels\n")
				return nil
			}
			s.lines(t.Lines(s.env.Columns()))
			return nil
		})
	})
	c.Flags().StringVar(&stage, "stage", "", "only `STAGE`: pressing, drying, coated, ripening, ready, gone")
	c.Flags().BoolVar(&gone, "gone", false, "those that are gone too")
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word) })
}

// listed is pick, all by default, with the wheels that are gone where asked.
func (s *session) listed(args []string, gone bool) ([]store.WheelState, error) {
	if len(args) == 0 {
		args = []string{"all"}
	}
	ws, err := s.pick(args)
	if err != nil || !gone {
		return ws, err
	}
	here := map[[16]byte]bool{}
	lots := map[[16]byte]bool{}
	for _, w := range ws {
		here[w.Wheel] = true
		lots[w.Make] = true
	}
	everything := len(args) == 1 && strings.EqualFold(args[0], "all")
	for _, word := range args {
		if m, err := s.tx.MakeByLot(word); err == nil {
			lots[m.ID] = true
		}
	}
	for w, err := range s.tx.States() {
		if err != nil {
			return nil, err
		}
		if !w.Here() && !here[w.Wheel] && (everything || lots[w.Make]) {
			ws = append(ws, w)
		}
	}
	sortTagged(ws)
	return ws, nil
}
