package wheel

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// MakeSheet is a make with the lines of its log in time order, and the sums that
// follow from them. The log takes precedence over the make's own record.
type MakeSheet struct {
	Make  Make
	Lines []MakeLine
	Tests []LotTest // of samples of it

	tested []Entry // what Tests are made of
}

// TestsBefore are the tests as they stood at an instant.
func (s MakeSheet) TestsBefore(at time.Time) []LotTest {
	return LotTests(slices.DeleteFunc(slices.Clone(s.tested), func(e Entry) bool { return !e.At.Before(at) }))
}

// MakeLine is one line of a make's log and its entry.
type MakeLine struct {
	Entry Entry
	Log   MakeLog
}

// NewMakeSheet takes the lines of the log from a make's entries, without
// cancelled ones.
func NewMakeSheet(m Make, es []Entry) MakeSheet {
	s := MakeSheet{Make: m}
	live := slices.Clone(Live(es))
	Sort(live)
	for _, e := range live {
		if e.Kind == Sampled || e.Kind == Resulted {
			s.tested = append(s.tested, e)
		}
		if e.Kind != Logged {
			continue
		}
		if l, err := ParseMakeLog(e.Detail); err == nil {
			s.Lines = append(s.Lines, MakeLine{e, l})
		}
	}
	s.Tests = LotTests(s.tested)
	return s
}

// SameTransfer is true where two lines record the same curd, as it left the lot
// from and as it arrived in the lot to.
func SameTransfer(left MakeLine, from string, came MakeLine, to string) bool {
	l, c := left.Log, came.Log
	return l.What == LogSetAside && c.What == LogFrom && l.ToLot == to && c.FromLot == from &&
		left.Entry.At.Equal(came.Entry.At) && l.Weight == c.Weight && l.For == c.For
}

// Keep is the sheet with only the lines that keep accepts.
func (s MakeSheet) Keep(keep func(MakeLine) bool) MakeSheet {
	s.Lines = slices.DeleteFunc(slices.Clone(s.Lines), func(l MakeLine) bool { return !keep(l) })
	return s
}

func (s MakeSheet) of(what LogWhat) []MakeLine {
	return s.Keep(func(l MakeLine) bool { return l.Log.What == what }).Lines
}

// Milk is all the milk in the vat: total volume, fat and protein averaged by
// volume if known for every delivery, and the mildest heat treatment, since milk
// that is partly raw is raw milk.
func (s MakeSheet) Milk() Milk {
	lines := s.of(LogMilk)
	if len(lines) == 0 {
		return s.Make.Milk
	}
	var m Milk
	var species []string
	fat, protein := true, true
	treatments := map[Treatment]bool{}
	if t := s.Make.Milk.Treatment; t != "" {
		treatments[t] = true
	}
	for _, l := range lines {
		m.Litres += l.Log.Litres
		m.Fat += l.Log.Fat * quantity.Fraction(l.Log.Litres)
		m.Protein += l.Log.Protein * quantity.Fraction(l.Log.Litres)
		fat, protein = fat && l.Log.Fat > 0, protein && l.Log.Protein > 0
		treatments[cmp.Or(l.Log.Treatment, s.Make.Milk.Treatment)] = true
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
	m.Species = cmp.Or(strings.Join(species, " and "), s.Make.Milk.Species)
	m.Treatment = Mildest(treatments)
	return m
}

// Mildest is the treatment of mixed milk: the mildest that any of it had; "" if
// one is unknown and none is raw.
func Mildest(treatments map[Treatment]bool) Treatment {
	switch {
	case treatments[Raw]:
		return Raw
	case treatments[""] || len(treatments) == 0:
		return ""
	case treatments[Thermised]:
		return Thermised
	}
	return Pasteurised
}

// Curd is what became of a vat's curd. Zero means unknown.
type Curd struct {
	Total quantity.Grams // including curd from other lots
	Aside quantity.Grams // set aside for something else
	Came  quantity.Grams // from other lots
	Left  quantity.Grams // for this lot's own wheels
}

// Curd follows the curd through the log: a weighing sets the amount, setting some
// aside reduces it, curd from another lot adds to it.
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

// Start is the composition as drying starts: the make's own, with each figure
// replaced by its last measurement. Measurements that contradict the earlier
// figures are ignored.
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

// Began is when the make began: as recorded, else with the first milk of its log,
// else the zero time.
func (s MakeSheet) Began() time.Time {
	if !s.Make.Began.IsZero() {
		return s.Make.Began
	}
	if milk := s.of(LogMilk); len(milk) > 0 {
		return milk[0].Entry.At
	}
	return time.Time{}
}

// Check refuses a log that contradicts itself: more curd set aside than there
// was, or a composition that leaves no room for protein.
func (s MakeSheet) Check() error {
	c := s.Make.Start
	for _, l := range s.Lines {
		if l.Log.What == LogComposition {
			next := c.With(l.Log)
			if err := next.Check(); err != nil {
				return err
			}
			c = next
		}
	}
	const rounding = 0.5 // g
	for i, l := range s.Lines {
		if l.Log.What != LogSetAside {
			continue
		}
		if before := s.curdBefore(i); before.Total > 0 && s.curdBefore(i+1).Left < -rounding {
			return reason.Err(MoreAside{s.Make.Lot, l.Log.Weight, before.Left})
		}
	}
	return nil
}

// FromLog is the make with its own record replaced by what its log says.
func (s MakeSheet) FromLog() Make {
	m := s.Make
	m.Milk, m.Start, m.Began = s.Milk(), s.Start(), s.Began()
	c := s.Curd()
	m.Curd, m.SetAside = cmp.Or(c.Total, s.Make.Curd), c.Aside
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

// Dose compares the salt added to curd with its intended rate.
type Dose struct {
	Given, Computed, Curd quantity.Grams // Computed is 0 if the rate or the curd is unknown
	Rate                  quantity.Fraction
}

// Over is how much more salt was added than the rate gives; negative for less.
func (d Dose) Over() quantity.Grams { return d.Given - d.Computed }

// GivenRate is the salt added as a share of the curd, 0 if the curd is unknown.
func (d Dose) GivenRate() quantity.Fraction {
	if d.Curd <= 0 {
		return 0
	}
	return quantity.Fraction(d.Given / d.Curd)
}

// DoseAt is the dose of the salt line at i, for the curd there was at that time.
// It has no Curd in a brine: the rate is a share of the curd.
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

// Dose is the dose of the whole make: all the salt added, compared with the sum of
// the intended doses if every salt line has one. Without a salt line it comes
// from the make's own record.
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

// DoseThen is the dose that a salt line would have at an instant.
func (s MakeSheet) DoseThen(at time.Time, l MakeLog) Dose {
	before := s.Keep(func(o MakeLine) bool { return !o.Entry.At.After(at) })
	before.Lines = append(before.Lines, MakeLine{Entry{At: at}, l})
	return before.DoseAt(len(before.Lines) - 1)
}

// PressAt is the press line at i. Lever and mould stay those of earlier lines until
// a line gives others; Face is 0 if no line gave a mould.
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

// Reading is one measurement of acidity, with the maker's name for the stage.
type Reading struct {
	At    time.Time
	Value float64
	Stage string
}

// PH gives the readings of the pH in time order.
func (s MakeSheet) PH() []Reading {
	return s.readings(func(l MakeLog) (float64, bool) { return l.PH, l.What == LogAcidity && l.PH > 0 })
}

// Acid gives the readings of the titratable acidity in time order, percent lactic
// acid.
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

// Yield compares the cheese that a make gave with what Van Slyke's formula expects
// from its milk.
type Yield struct {
	Milk, Expected quantity.Grams    // for the curd that was kept
	Kept           quantity.Fraction // share of the curd kept for this lot's wheels
	Got            quantity.Grams
	OfMilk, Of     quantity.Fraction // Got as a share of Milk and of Expected; 0 without Got
}

// Yield compares got, the green weight of the make's wheels, with what its milk
// should give at the moisture with which drying starts. ok is false if the fat,
// protein or volume of the milk is unknown, if the formula has no answer, or if
// curd came from another lot. Curd set aside is left out.
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
		return y, false // how much it was set aside from is unknown
	}
	v := VatOf(MilkMass(m.Litres)*quantity.Grams(y.Kept), share)
	y.Milk, y.Expected, y.Got = v.Milk, v.Cheese, got
	y.OfMilk, y.Of = v.Got(got)
	return y, true
}

// Pasteurises is true where a heat treatment reaches one of the usual minimums: 63
// C for 30 minutes, 72 C for 15 seconds or 89 C for a second (21 CFR 1240.61 and
// most other laws, from memory; for information, your own law decides).
func (m MakeLog) Pasteurises() bool {
	for _, x := range []struct{ temp, seconds float64 }{{63, 1800}, {72, 15}, {89, 1}} {
		if float64(m.HeatTemp) >= x.temp && m.HeatFor >= x.seconds {
			return true
		}
	}
	return false
}
