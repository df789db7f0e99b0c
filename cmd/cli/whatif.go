package cli

import (
	"fmt"
	"math"
	"strings"

	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/text"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// otherAir is one air to compare with; nil fields stay as they are.
type otherAir struct {
	temp     *quantity.Celsius
	rh       *quantity.Fraction
	movement *air.Movement
	words    string
}

// parseIf reads rh=88,temp=10,air=still; several are parted by /.
func parseIf(s string) ([]otherAir, error) {
	var out []otherAir
	for _, part := range strings.Split(s, "/") {
		o := otherAir{words: strings.Join(strings.Split(strings.TrimSpace(part), ","), ", ")}
		for _, kv := range strings.Split(part, ",") {
			k, v, _ := strings.Cut(strings.TrimSpace(kv), "=")
			switch strings.ToLower(strings.TrimSpace(k)) {
			case "rh":
				h, err := quantity.ParsePercent(v)
				if err != nil {
					return nil, usageError{Msg: err.Error()}
				}
				o.rh = &h
			case "temp":
				t, err := quantity.ParseTemp(v)
				if err != nil {
					return nil, usageError{Msg: err.Error()}
				}
				o.temp = &t
			case "air":
				m, err := air.ParseMovement(v)
				if err != nil {
					return nil, usageError{Msg: err.Error()}
				}
				o.movement = &m
			default:
				return nil, usagef("%q is no condition; give rh=88, temp=10, air=still, parted by commas", safeWord(kv))
			}
		}
		out = append(out, o)
	}
	return out, nil
}

// over is the air with the conditions in its place.
func (o otherAir) over(s drying.Span) drying.Span {
	if o.temp != nil {
		s.Air.Temp = *o.temp
	}
	if o.rh != nil {
		s.Air.RH = *o.rh
	}
	if o.movement != nil {
		s.Movement = *o.movement
	}
	return s
}

type caseDoc struct {
	Air      string       `json:"air"`
	Temp     *float64     `json:"temp_c"`
	RH       *float64     `json:"rh_pct"`
	Expected *expectedDoc `json:"expected_on"`
	Losses   []curveBand  `json:"loss"`
	Kilos    []curveKilos `json:"to_sell"`
}

type curveKilos struct {
	Day   float64 `json:"day"`
	Grams est     `json:"weight_g"`
}

// ages are the days since drying began at which cases are compared.
var ages = []float64{30, 90, 180}

func (s *session) dryIf(what []string, airs []otherAir) error {
	ws, err := s.pick(what)
	if err != nil {
		return err
	}
	until, _, err := s.asOf()
	if err != nil {
		return err
	}
	type wheelCases struct {
		Wheel string    `json:"wheel"`
		Cases []caseDoc `json:"cases"`
	}
	docs := []wheelCases{}
	for i, w := range ws {
		if s.ctx.Err() != nil {
			return s.ctx.Err()
		}
		c, _, err := s.gatedCase(w, until)
		if err != nil {
			return err
		}
		f := c.Forecast()
		now := math.Max(0, c.Day(until))
		span := drying.Span{Air: air.State{Temp: 12, RH: 0.85}, Movement: air.Gentle}
		if n := len(c.Air); n > 0 {
			span = c.Air[n-1]
		}
		d := wheelCases{Wheel: c.Life.Tag, Cases: []caseDoc{s.caseOf("as it is", span, c, f)}}
		for _, o := range airs {
			sp := o.over(span)
			if err := sp.Air.Check(); err != nil {
				return at("--if", err)
			}
			d.Cases = append(d.Cases, s.caseOf(o.words, sp, c, f.WithAir(now, []drying.Span{sp})))
		}
		docs = append(docs, d)
		if s.json {
			continue
		}
		if i > 0 {
			s.print("\n")
		}
		s.print("%s  %s\n", s.style("1")(c.Life.Tag), c.Variety.Title)
		s.casesText(d.Cases)
	}
	if s.json {
		return s.document(struct {
			Schema string       `json:"schema"`
			Wheels []wheelCases `json:"wheels"`
		}{schema("dry-if"), docs})
	}
	s.next("\nloss on days 30, 90 and 180 of drying; to sell: weight on day 90; from now on, all else kept")
	return nil
}

func (s *session) caseOf(words string, sp drying.Span, c verdict.Case, f drying.Forecast) caseDoc {
	d := caseDoc{Air: words, Temp: num(float64(sp.Air.Temp)), RH: pctNum(sp.Air.RH), Losses: []curveBand{}, Kilos: []curveKilos{}}
	if e := c.ExpectedBy(f); e != nil && len(c.Life.Coats) == 0 {
		d.Expected = expectedOf(e)
	}
	green := float64(f.Start().Green)
	for _, x := range ages {
		l := f.Loss(x)
		d.Losses = append(d.Losses, curveBand{x, pctEst(l)})
		d.Kilos = append(d.Kilos, curveKilos{x, estOf(quantity.Estimate{Best: green * (1 - l.Best), Low: green * (1 - l.High), High: green * (1 - l.Low)})})
	}
	return d
}

func (s *session) casesText(cases []caseDoc) {
	t := text.Table{Indent: 2, Columns: []text.Column{{Title: "air", Wrap: true}, {Right: true}, {Right: true}, {Title: "dry enough"}, {Title: "30 d", Right: true}, {Title: "90 d", Right: true}, {Title: "180 d", Right: true}, {Title: "to sell", Right: true}}}
	for _, d := range cases {
		on := "-"
		if d.Expected != nil {
			b, _ := day.ParseISO(d.Expected.Best)
			l, _ := day.ParseISO(d.Expected.Low)
			h := day.None
			if d.Expected.High != nil {
				h, _ = day.ParseISO(*d.Expected.High)
			}
			on = expectedShort(verdict.Expected{Best: b, Low: l, High: h})
		}
		row := []string{d.Air, s.units.Temp(quantity.Celsius(*d.Temp)), fmt.Sprintf("%.0f %%", *d.RH), on}
		for _, x := range d.Losses {
			row = append(row, fmt.Sprintf("%.1f %%", *x.Loss.Best))
		}
		t.Add(append(row, s.units.Weight(quantity.Grams(*d.Kilos[1].Grams.Best)))...)
	}
	s.lines(t.Lines(s.env.Columns()))
}
