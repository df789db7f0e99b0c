package verdict

import (
	"math"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/shape"
	"rindkeep/wheel/variety"
)

// Case is all that bears on one wheel's drying. Sisters are the other wheels
// of its make; their own Sisters are not looked at.
type Case struct {
	Life    wheel.Life
	Variety variety.Variety
	Gate    Gate
	Air     []drying.Span
	// HygrometerSD is how far off the humidity of Air may be, one standard
	// deviation; 0 where a hygrometer wasn't tested.
	HygrometerSD quantity.Fraction
	Sisters      []Case
	Said         func() []drying.Evidence // what the sisters say of the lot, found once for all; nil: ask Sisters
	Loc          *time.Location
	Law          holdrule.Set // the laws it follows; zero: its variety's file
	Until        time.Time    // of the latest entry on its drying, or reading of its room, that Air knows
	Kept         []Kept       // what laws count days by, where one asks how warm they were

	aloof bool // its sisters are not asked
}

// New settles a case: where the loss chain has to guess a weight that was not
// taken, it is linked again with the curve that the weights before the gap,
// and physics, give.
func New(c Case) Case {
	if math.IsNaN(c.Life.Chain.Gap) || len(c.Life.Chain.Points) == 0 {
		return c
	}
	s := c.alone()
	kept := s.Points[:0]
	for _, p := range s.Points {
		if p.Day <= c.Life.Chain.Gap {
			kept = append(kept, p)
		}
	}
	s.Points = kept
	f := drying.Estimate(s)
	c.Life.Chain = wheel.Link(c.Life.Entries, func(day float64) (float64, float64) {
		e := f.Loss(day)
		return 1 - e.Best, e.SD()
	})
	return c
}

// Began is when the wheel's losses begin to count, and its days: its first weighing,
// or, unweighed, noon of the day after the make or when it came.
func (c Case) Began() time.Time {
	switch {
	case c.Life.Chain.Green > 0:
		return c.Life.Chain.Began
	case len(c.Life.Arrivals) > 0:
		return c.Life.Arrivals[0].At
	}
	return c.pressed()
}

// Day is the instant t in days of 24 h since drying began.
func (c Case) Day(t time.Time) float64 { return t.Sub(c.Began()).Hours() / 24 }

// Time is the instant a number of days after drying began.
func (c Case) Time(day float64) time.Time {
	return c.Began().Add(time.Duration(day * 24 * float64(time.Hour)))
}

// Subject is the case in the drying model's terms, with the lot effect its
// sisters show.
func (c Case) Subject() drying.Subject {
	s := c.alone()
	s.Lot = c.lot()
	return s
}

// maxSisters bounds how many sisters are asked about the lot: our choice, more add
// little.
const maxSisters = 12

func (c Case) lot() *drying.Shared {
	if c.aloof {
		return nil
	}
	if c.Said != nil {
		return pooled(c.Said())
	}
	var said []drying.Evidence
	for _, o := range c.Sisters {
		if e, ok := o.Says(); ok && len(said) < maxSisters {
			said = append(said, e)
		}
	}
	return pooled(said)
}

func pooled(said []drying.Evidence) *drying.Shared {
	if len(said) == 0 {
		return nil
	}
	p := drying.Pool(said)
	return &p
}

// Says is what the wheel's weights say of its lot; ok is false where they are too few.
func (c Case) Says() (e drying.Evidence, ok bool) {
	if len(c.Life.Chain.Points) < 2 {
		return e, false
	}
	return drying.EvidenceOf(c.alone())
}

func (c Case) alone() drying.Subject {
	green := c.Life.Chain.Green
	if green == 0 {
		green = c.Variety.Weight
		for _, o := range c.Sisters {
			if o.Life.Chain.Green > 0 {
				green = o.Life.Chain.Green
				break
			}
		}
	}
	start := c.Life.Make.Start
	s := drying.Subject{
		Cheese: drying.Cheese{
			Green: green, Shape: c.Life.Wheel.Shape, Moisture: start.Moisture, Fat: start.Fat, Salt: start.Salt,
			MoistureSD: start.MoistureSD, PH: start.PH, Group: drying.Group(c.Variety.Group), Age: c.Age(),
		},
		Air: c.Air, HygrometerSD: c.HygrometerSD,
	}
	for i, k := range c.Life.Coats {
		on := drying.CoatOn{Day: c.Day(k.At), Coat: drying.Coat(k.Coat)}
		if w := c.Life.Chain.Coat; i == 0 && w.SD > 0 {
			on.Loss, on.SD = w.Loss(), quantity.Fraction(w.SD)
		} else if i == 0 {
			on.SD = quantity.Fraction(math.Inf(1))
		}
		s.Coats = append(s.Coats, on)
	}
	was := c.Began()
	for _, p := range c.Life.Chain.Points {
		film, oil := c.onRind(was, p.At)
		half := 0.5 / float64(green) // a bound is two standard deviations
		s.Points = append(s.Points, drying.Point{
			Day: p.Day, Loss: p.Loss(), SD: quantity.Fraction(math.Hypot(p.Scale, film*half)),
			Shift: quantity.Fraction(math.Hypot(p.Shift, oil*half)),
		})
		was = p.At
	}
	return s
}

// What handling may put on a rind, grams per square decimetre: a film of 0.15 mm
// of water or brine, or rubbed salt, which is gone after filmDays; oil, which
// stays. Our guess, no source.
const filmOnRind, filmDays, oilOnRind = 1.5, 2, 0.5

// onRind is how many grams washing, rubbing and salting, and how many oiling, may
// have added to a weight at an instant since an earlier one. The wheel's surface
// is taken as that of a cube of its mass.
func (c Case) onRind(from, at time.Time) (film, oil float64) {
	surface := 6 * math.Pow(c.Life.Chain.Green.Kilograms()/shape.CheeseDensity*1000, 2.0/3) // dm2
	for i := len(c.Life.Entries) - 1; i >= 0; i-- {
		switch e := &c.Life.Entries[i]; {
		case e.At.After(at):
		case e.At.Before(from) && at.Sub(e.At) > filmDays*24*time.Hour:
			return film, oil
		case e.Kind != wheel.Did || e.SameRound():
		case e.Job == wheel.Oil && e.At.After(from):
			oil += oilOnRind * surface
		case e.Job != wheel.Oil && e.Job.Wets() && at.Sub(e.At) <= filmDays*24*time.Hour:
			film = filmOnRind * surface
		}
	}
	return film, oil
}

// Flux turns a rate (fraction of green weight per day) into grams per square
// decimetre of the wheel's surface and day; unknown for a wheel never weighed
// or without measures.
func (c Case) Flux(rate quantity.Estimate) quantity.Estimate {
	sh, _ := c.Life.Shape()
	green, dm2 := float64(c.Life.Chain.Green), sh.Surface()*100
	if !(green > 0) || !(dm2 > 0) {
		return quantity.Unknown()
	}
	return rate.Times(green / dm2)
}

// Forecast fits the wheel's own curve from all that bears on it.
func (c Case) Forecast() drying.Forecast { return drying.Estimate(c.Subject()) }

// Rooms is what Spans asks about the rooms a wheel lay in.
type Rooms interface {
	// RoomNamed finds a room.
	RoomNamed(name string) (cave.Room, bool)
	// AirBetween gives the readings of a room in [from, to), in time order,
	// thinned to about one an hour.
	AirBetween(room string, from, to time.Time) []cave.Reading
}

// maxGap is how long a reading stands for its room before the set point is
// taken again: our choice, a daily reading and half a day's grace.
const maxGap = 36 * time.Hour

// Spans lays out the air a wheel lay in from the day drying began until until:
// its room's readings where there are any, the room's set point otherwise,
// and, where it lay in no known room, the middle of its variety's usual room. With
// it comes Case.HygrometerSD.
func Spans(l wheel.Life, v variety.Variety, began, until time.Time,
	rooms Rooms) (out []drying.Span, hygrometer quantity.Fraction) {
	lay := lying{began: began}
	usual := air.State{Temp: (v.Room.TempLow + v.Room.TempHigh) / 2, RH: (v.Room.RHLow + v.Room.RHHigh) / 2}
	stays := l.Stays
	if len(stays) == 0 || stays[0].From.After(began) {
		lay.add(began, usual, air.Gentle)
	}
	tested := len(stays) > 0
	for i, st := range stays {
		last := i == len(stays)-1
		end := until
		if !last && stays[i+1].From.Before(until) {
			end = stays[i+1].From
		}
		from := st.From
		if from.Before(began) {
			from = began
		}
		if !last && !end.After(from) {
			continue
		}
		if st.Away {
			lay.add(from, usual, air.Gentle)
			continue
		}
		r, ok := rooms.RoomNamed(st.Place.Room())
		if !ok {
			tested = false
			lay.add(from, usual, air.Gentle)
			continue
		}
		readings := rooms.AirBetween(r.Name, from.Add(-maxGap), end)
		lay.stay(r, readings, from, end, last)
		sd := r.HygrometerSD(end)
		tested = tested && sd > 0 && len(readings) > 0
		hygrometer = max(hygrometer, sd)
	}
	if !tested {
		hygrometer = 0
	}
	return lay.out, hygrometer
}

// lying is the air a wheel lay in, as it is laid out.
type lying struct {
	began time.Time
	out   []drying.Span
}

func (y *lying) add(t time.Time, a air.State, m air.Movement) {
	s := drying.Span{Air: a, Movement: m}
	d := t.Sub(y.began).Hours() / 24
	n := len(y.out)
	if n > 0 {
		s.FromDay = y.out[n-1].FromDay
	}
	switch {
	case n > 0 && (d <= s.FromDay || d <= 0):
		y.out[n-1] = s
	case n == 0 || y.out[n-1] != s:
		s.FromDay = max(0, d)
		y.out = append(y.out, s)
	}
}

// stay adds the air of a room, from its readings. Where there is a gap in the log,
// the set point counts from where the last reading went stale.
func (y *lying) stay(r cave.Room, readings []cave.Reading, from, end time.Time, last bool) {
	later := func(t time.Time) time.Time {
		if t.Before(from) {
			return from
		}
		return t
	}
	set, at := r.SetPoint(), from
	for k, rd := range readings {
		if rd.At.After(at) && (k == 0 || rd.At.Sub(readings[k-1].At) > maxGap) {
			gap := at
			if k > 0 && readings[k-1].At.Add(maxGap).After(from) {
				gap = readings[k-1].At.Add(maxGap)
			}
			y.add(gap, set, r.Movement)
		}
		at = later(rd.At)
		y.add(at, rd.State(), r.Movement)
	}
	switch n := len(readings); {
	case n == 0:
		y.add(from, set, r.Movement)
	case end.Sub(readings[n-1].At) > maxGap:
		y.add(later(readings[n-1].At.Add(maxGap)), set, r.Movement)
	case last:
		// Beyond the log the room is taken at the mean of its last days, not at
		// the last hour's whim.
		y.add(end, mean(readings), r.Movement)
	}
}

// mean is the mean air of the last week (our choice) of readings.
func mean(rs []cave.Reading) air.State {
	last := rs[len(rs)-1].At
	var t, h float64
	n := 0.0
	for i := len(rs) - 1; i >= 0 && last.Sub(rs[i].At) <= 7*24*time.Hour; i-- {
		t, h, n = t+float64(rs[i].Temp), h+float64(rs[i].RH), n+1
	}
	return air.State{Temp: quantity.Celsius(t / n), RH: quantity.Fraction(h / n)}
}

// Alone is the case without its sisters: quicker, for loads of many wheels.
func (c Case) Alone() Case {
	c.aloof = true
	return c
}

// Forecasts fits many cases at once, on all processors; wheels of like kind
// share their physics. The result is in the order of the cases.
func Forecasts(cases []Case) []drying.Forecast {
	subjects := make([]drying.Subject, len(cases))
	for i, c := range cases {
		subjects[i] = c.Subject()
	}
	return drying.Estimates(subjects)
}
