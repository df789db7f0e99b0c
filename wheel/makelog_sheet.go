package wheel

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"rindkeep/cave/quantity"
)

// MakeSheet is a make with the lines of its log, in the order they happened,
// and the sums that follow from them. Where the log says something, it counts
// before what the make was told of itself when it was written down.
type MakeSheet struct {
	Make  Make
	Lines []MakeLine
}

// MakeLine is one line of a make's log with the entry that carries it.
type MakeLine struct {
	Entry Entry
	Log   MakeLog
}

// NewMakeSheet reads a make's entries. What was struck, and what is no line of
// the log, is left out.
func NewMakeSheet(m Make, es []Entry) MakeSheet {
	s := MakeSheet{Make: m}
	live := slices.Clone(Live(es))
	Sort(live)
	for _, e := range live {
		if e.Kind != Logged {
			continue
		}
		if l, err := ParseMakeLog(e.Detail); err == nil {
			s.Lines = append(s.Lines, MakeLine{e, l})
		}
	}
	return s
}

// Halves says whether two lines of two makes are the two halves of one setting
// aside: curd that left lot from and went into lot to.
func Halves(aside MakeLine, from string, came MakeLine, to string) bool {
	a, c := aside.Log, came.Log
	return a.What == LogSetAside && c.What == LogFrom && a.ToLot == to && c.FromLot == from &&
		aside.Entry.At.Equal(came.Entry.At) && a.Weight == c.Weight && a.For == c.For
}

// Keep drops the lines that keep refuses.
func (s MakeSheet) Keep(keep func(MakeLine) bool) MakeSheet {
	var out []MakeLine
	for _, l := range s.Lines {
		if keep(l) {
			out = append(out, l)
		}
	}
	s.Lines = out
	return s
}

func (s MakeSheet) of(what LogWhat) []MakeLine {
	return s.Keep(func(l MakeLine) bool { return l.Log.What == what }).Lines
}

// Milk is all the milk that went into the vat: volumes added up, fat and
// protein averaged by volume where every delivery's is known, and the gentlest
// treatment any of it had, as milk that is raw in part is raw milk.
func (s MakeSheet) Milk() Milk {
	lines := s.of(LogMilk)
	if len(lines) == 0 {
		return s.Make.Milk
	}
	var m Milk
	var species []string
	fat, protein := true, true
	said := map[Treatment]bool{}
	if t := s.Make.Milk.Treatment; t != "" {
		said[t] = true
	}
	for _, l := range lines {
		m.Litres += l.Log.Litres
		m.Fat += l.Log.Fat * quantity.Fraction(l.Log.Litres)
		m.Protein += l.Log.Protein * quantity.Fraction(l.Log.Litres)
		fat, protein = fat && l.Log.Fat > 0, protein && l.Log.Protein > 0
		t := l.Log.Treatment
		if t == "" {
			t = s.Make.Milk.Treatment
		}
		said[t] = true
		if l.Log.Species != "" && !slices.Contains(species, l.Log.Species) {
			species = append(species, l.Log.Species)
		}
	}
	m.Fat, m.Protein = m.Fat/quantity.Fraction(m.Litres), m.Protein/quantity.Fraction(m.Litres)
	if !fat {
		m.Fat = s.Make.Milk.Fat
	}
	if !protein {
		m.Protein = s.Make.Milk.Protein
	}
	m.Species = strings.Join(species, " and ")
	if m.Species == "" {
		m.Species = s.Make.Milk.Species
	}
	m.Treatment = Gentlest(said)
	return m
}

// Gentlest is the treatment of milk put together: the gentlest any of it had,
// raw before all; "" where one is not known and none is raw.
func Gentlest(said map[Treatment]bool) Treatment {
	switch {
	case said[Raw]:
		return Raw
	case said[""] || len(said) == 0:
		return ""
	case said[Thermised]:
		return Thermised
	}
	return Pasteurised
}

// Curd is what became of a vat's curd. What is zero is not known.
type Curd struct {
	Total quantity.Grams // all of it, what came from other lots with it
	Aside quantity.Grams // set aside for something else
	Came  quantity.Grams // came from other lots
	Left  quantity.Grams // stayed for this lot's own wheels
}

// Curd follows the curd through the log: a weighing says what there is from
// then on, what is set aside goes off it, what comes from another lot goes to
// it.
func (s MakeSheet) Curd() Curd { return s.curdBefore(len(s.Lines)) }

func (s MakeSheet) curdBefore(n int) Curd {
	var c Curd
	known := s.Make.Curd > 0
	c.Left = s.Make.Curd
	if len(s.of(LogSetAside)) == 0 {
		c.Aside = s.Make.SetAside
		c.Left -= c.Aside
	}
	for _, l := range s.Lines[:n] {
		switch w := l.Log.Weight; l.Log.What {
		case LogCurd:
			c.Left, known = w, true
		case LogSetAside:
			c.Aside += w
			c.Left -= w
		case LogFrom:
			c.Came += w
			c.Left += w
			known = true
		}
	}
	if !known {
		c.Left = 0
		return c
	}
	c.Total = c.Left + c.Aside
	return c
}

// Start is the composition as drying starts: what the make was written down
// with, and in its place what was measured later, the last word on each figure.
// Figures that do not go together with those before them are passed over.
func (s MakeSheet) Start() Composition {
	c := s.Make.Start
	for _, l := range s.Lines {
		if l.Log.What != LogComposition {
			continue
		}
		if next := c.With(l.Log); next.Check() == nil {
			c = next
		}
	}
	return c
}

// Began is when the make began: as it was written down, or with the first milk
// of its log; the zero time where neither is known.
func (s MakeSheet) Began() time.Time {
	if !s.Make.Began.IsZero() {
		return s.Make.Began
	}
	if milk := s.of(LogMilk); len(milk) > 0 {
		return milk[0].Entry.At
	}
	return time.Time{}
}

// Check says what cannot be of the log as a whole: more curd set aside than
// there was, or a composition that leaves no room for protein.
func (s MakeSheet) Check() error {
	c := s.Make.Start
	for _, l := range s.Lines {
		if l.Log.What == LogComposition {
			next := c.With(l.Log)
			if err := next.Check(); err != nil {
				return fmt.Errorf("lot %s: with the figures it has, %w", s.Make.Lot, err)
			}
			c = next
		}
	}
	const slip = 0.5 // g, so that rounding is no refusal
	for i, l := range s.Lines {
		if l.Log.What != LogSetAside {
			continue
		}
		if before := s.curdBefore(i); before.Total > 0 && s.curdBefore(i+1).Left < -slip {
			return fmt.Errorf("lot %s: more curd set aside (%.0f g) than there was (%.0f g)", s.Make.Lot, float64(l.Log.Weight), float64(before.Left))
		}
	}
	return nil
}

// Told is the make with what its log says in the place of what it was told of
// itself.
func (s MakeSheet) Told() Make {
	m := s.Make
	m.Milk, m.Start, m.Began = s.Milk(), s.Start(), s.Began()
	c := s.Curd()
	m.Curd, m.SetAside = c.Total, c.Aside
	if m.Curd == 0 {
		m.Curd = s.Make.Curd
	}
	if aside := s.of(LogSetAside); len(aside) > 0 {
		var uses []string
		for _, l := range aside {
			if l.Log.For != "" && !slices.Contains(uses, l.Log.For) {
				uses = append(uses, l.Log.For)
			}
		}
		m.SetAsideFor = strings.Join(uses, ", ")
	}
	if salt := s.of(LogSalt); len(salt) > 0 {
		m.SaltMass, m.SaltRate, m.SaltWhere = 0, salt[len(salt)-1].Log.Rate, salt[len(salt)-1].Log.Where
		for _, l := range salt {
			m.SaltMass += l.Log.Weight
			if l.Log.Rate != m.SaltRate {
				m.SaltRate = 0
			}
			if l.Log.Where != m.SaltWhere {
				m.SaltWhere = ""
			}
		}
	}
	return m
}

// Dose is a salting: the salt given, and what the rate asked of the curd.
type Dose struct {
	Given, Computed, Curd quantity.Grams // Computed is 0 where rate or curd is not known
	Rate                  quantity.Fraction
}

// Over is how much more was given than the rate asked; less is negative.
func (d Dose) Over() quantity.Grams { return d.Given - d.Computed }

// GivenRate is the salt given as a share of the curd, 0 where there was no
// curd to compare with.
func (d Dose) GivenRate() quantity.Fraction {
	if d.Curd <= 0 {
		return 0
	}
	return quantity.Fraction(d.Given / d.Curd)
}

// DoseAt is the dose of the salt line at i: its rate of the curd there was just
// then. A rate counts on curd alone, not in a brine.
func (s MakeSheet) DoseAt(i int) Dose {
	l := s.Lines[i].Log
	d := Dose{Given: l.Weight, Rate: l.Rate}
	if l.Where == "brine" {
		return d
	}
	d.Curd = max(0, s.curdBefore(i).Left)
	if l.Rate > 0 && d.Curd > 0 {
		d.Computed = SaltFor(d.Curd, l.Rate)
	}
	return d
}

// Dose is the salting as a whole: what was given in all, and what the rates
// asked in all where each salt line's can be computed. Without a salt line it
// is what the make was told of itself.
func (s MakeSheet) Dose() Dose {
	if len(s.of(LogSalt)) == 0 {
		d := Dose{Given: s.Make.SaltMass, Rate: s.Make.SaltRate}
		if s.Make.SaltWhere != "brine" {
			d.Curd = max(0, s.Curd().Left)
			d.Computed = SaltFor(d.Curd, d.Rate)
		}
		return d
	}
	var sum Dose
	whole := true
	for i, l := range s.Lines {
		if l.Log.What != LogSalt {
			continue
		}
		d := s.DoseAt(i)
		sum.Given += d.Given
		sum.Rate += d.Rate
		sum.Computed += d.Computed
		sum.Curd = d.Curd
		whole = whole && d.Computed > 0
	}
	if !whole {
		sum.Computed, sum.Rate = 0, 0
	}
	return sum
}

// DoseThen is the dose that a salt line would be at an instant.
func (s MakeSheet) DoseThen(at time.Time, l MakeLog) Dose {
	before := s.Keep(func(o MakeLine) bool { return !o.Entry.At.After(at) })
	before.Lines = append(before.Lines, MakeLine{Entry{At: at}, l})
	return before.DoseAt(len(before.Lines) - 1)
}

// PressAt is the press line at i. Lever and mould hold on from the press lines
// before until another is given; Face is 0 where no mould was ever named.
func (s MakeSheet) PressAt(i int) Press {
	p := Press{Load: s.Lines[i].Log.Load}
	for j := i; j >= 0; j-- {
		l := s.Lines[j].Log
		if l.What != LogPress {
			continue
		}
		if p.Lever == 0 {
			p.Lever = l.Lever
		}
		if p.Face == 0 && l.Diameter > 0 {
			p.Face, _ = RoundFace(l.Diameter)
		}
	}
	p.Lever = p.lever()
	return p
}

// Reading is one figure at an instant, with the stage the maker gave.
type Reading struct {
	At    time.Time
	Value float64
	Stage string
}

// PH is the course of the pH.
func (s MakeSheet) PH() []Reading {
	return s.readings(func(l MakeLog) (float64, bool) { return l.PH, l.What == LogAcidity && l.PH > 0 })
}

// Acid is the course of the titratable acidity, percent lactic acid.
func (s MakeSheet) Acid() []Reading {
	return s.readings(func(l MakeLog) (float64, bool) { return l.Acid.Percent(), l.What == LogAcidity && l.Acid > 0 })
}

func (s MakeSheet) readings(of func(MakeLog) (float64, bool)) []Reading {
	var out []Reading
	for _, l := range s.Lines {
		if x, ok := of(l.Log); ok {
			out = append(out, Reading{l.Entry.At, x, l.Log.Stage})
		}
	}
	return out
}

// HoursAfter is how long after an instant the reading was taken.
func (r Reading) HoursAfter(t time.Time) float64 { return r.At.Sub(t).Hours() }

// Yield is what a make's milk should have given by Van Slyke, and gave.
type Yield struct {
	Milk, Expected quantity.Grams    // expected of the curd that was kept
	Kept           quantity.Fraction // share of the curd kept for this lot's wheels
	Got            quantity.Grams
	OfMilk, Of     quantity.Fraction // got of the milk, and of what was expected; 0 where nothing was got
}

// Yield compares the green weight of the make's wheels with what its milk
// should give at the moisture it starts drying with. ok is false where fat,
// protein or volume of the milk is not known, where the formula has no answer,
// and where curd of another lot came in. Of curd set aside only the share that
// was kept is expected here.
func (s MakeSheet) Yield(got quantity.Grams) (y Yield, ok bool) {
	m := s.Milk()
	c := s.Curd()
	if m.Litres == 0 || m.Fat == 0 || m.Protein == 0 || c.Came > 0 {
		return y, false
	}
	share, err := VanSlyke(m.Fat, m.Protein*CaseinOfProtein, s.Start().Moisture)
	if err != nil {
		return y, false
	}
	y.Kept = 1
	switch {
	case c.Aside > 0 && c.Total > c.Aside:
		y.Kept = quantity.Fraction(c.Left / c.Total)
	case c.Aside > 0:
		return y, false // nobody knows of how much it was set aside
	}
	v := VatOf(MilkMass(m.Litres)*quantity.Grams(y.Kept), share)
	y.Milk, y.Expected, y.Got = v.Milk, v.Cheese, got
	y.OfMilk, y.Of = v.Got(got)
	return y, true
}

// Enough says whether a heat treatment reaches one of the usual figures of
// pasteurising: 63 C for 30 minutes, 72 C for 15 seconds or 89 C for a second
// (21 CFR 1240.61 and most other laws, from memory; for information, your own
// law decides).
func (m MakeLog) Enough() bool {
	for _, x := range []struct{ temp, seconds float64 }{{63, 1800}, {72, 15}, {89, 1}} {
		if float64(m.HeatTemp) >= x.temp && m.HeatFor >= x.seconds {
			return true
		}
	}
	return false
}
