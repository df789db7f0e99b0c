package schedule

import (
	"bytes"
	"cmp"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

// fewCases are fitted each by itself, so that they say to the last digit what
// the verdict on one wheel says; more share what they can. Our choice.
const fewCases = 100

// Forecasts fits many cases, each by its sisters too, as its own Forecast
// would. Where they are many, what a lot has in common is found once for all
// its wheels, and wheels of like kind share their physics.
func Forecasts(cases []verdict.Case) []drying.Forecast {
	if len(cases) <= fewCases {
		out := make([]drying.Forecast, len(cases))
		var wg sync.WaitGroup
		next := make(chan int)
		for range max(1, runtime.GOMAXPROCS(0)) {
			wg.Go(func() {
				for i := range next {
					out[i] = cases[i].Forecast()
				}
			})
		}
		for i := range cases {
			next <- i
		}
		close(next)
		wg.Wait()
		return out
	}
	return together(cases)
}

func together(cases []verdict.Case) []drying.Forecast {
	subs := make([]drying.Subject, len(cases))
	members := make([][]verdict.Case, len(cases))
	keys := make([]string, len(cases))
	shared := map[string]int{}
	for i, c := range cases {
		subs[i] = c.Alone().Subject()
		sisters := weighedSisters(c)
		if len(sisters) == 0 {
			continue
		}
		members[i] = sisters
		keys[i] = keyOf(sisters)
		if len(c.Life.Chain.Points) >= 2 { // it is a sister to the others too
			members[i] = append([]verdict.Case{c}, sisters...)
			keys[i] = "with " + keyOf(members[i])
		}
		shared[keys[i]]++
	}
	pools := map[string]drying.Shared{}
	for i, c := range cases {
		if members[i] == nil {
			continue
		}
		own := keys[i]
		if len(c.Life.Chain.Points) >= 2 {
			own += string(c.Life.Wheel.ID[:])
		}
		p, ok := pools[own]
		if !ok {
			p = poolFor(members[i], keys[i], c, shared[keys[i]] > 1, pools)
			pools[own] = p
		}
		subs[i].Lot = &p
	}
	return drying.Estimates(subs)
}

// poolFor is what a case's sisters say. Where several cases have the same
// wheels about them, the pools of all are found at once and kept.
func poolFor(members []verdict.Case, key string, c verdict.Case, many bool,
	pools map[string]drying.Shared) drying.Shared {
	subjects := func(cs []verdict.Case) []drying.Subject {
		out := make([]drying.Subject, len(cs))
		for i, m := range cs {
			out[i] = m.Alone().Subject()
		}
		return out
	}
	itself := len(c.Life.Chain.Points) >= 2
	switch {
	case !itself:
		return drying.Pool(subjects(members))
	case !many:
		return drying.Pool(subjects(members[1:]))
	}
	for i, p := range drying.PoolOthers(subjects(members)) {
		id := members[i].Life.Wheel.ID
		pools[key+string(id[:])] = p
	}
	return pools[key+string(c.Life.Wheel.ID[:])]
}

// mostSisters is how many sisters a verdict asks about a lot: our choice, as there.
const mostSisters = 12

func weighedSisters(c verdict.Case) []verdict.Case {
	var out []verdict.Case
	for _, o := range c.Sisters {
		if len(o.Life.Chain.Points) >= 2 && len(out) < mostSisters {
			out = append(out, o)
		}
	}
	return out
}

func keyOf(cs []verdict.Case) string {
	ids := make([]uuid.UUID, len(cs))
	for i, c := range cs {
		ids[i] = c.Life.Wheel.ID
	}
	slices.SortFunc(ids, func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) })
	var b bytes.Buffer
	for _, id := range ids {
		b.Write(id[:])
	}
	return b.String()
}

// Outlook is how one wheel's weight goes on. Forecast may be a sister's of the
// same make, shape, room, coats and weighings: what it says of the days since
// the wheel's own last weighing is taken for the wheel.
type Outlook struct {
	Life     wheel.Life
	Forecast drying.Forecast
	Began    time.Time
	Loc      *time.Location

	coat     day.Date // a coat to come; None for none
	sealed   drying.Forecast
	lastDay  float64
	retained float64
	net      quantity.Grams
}

// NewOutlook gives the outlook of a wheel whose drying began then. A coat that
// its chores put on slows its loss from that day on.
func NewOutlook(l wheel.Life, f drying.Forecast, began time.Time, chores []Chore, loc *time.Location) Outlook {
	o := Outlook{Life: l, Forecast: f, Began: began, Loc: loc, coat: day.None, retained: 1, net: f.Start().Green}
	if net, day := l.Chain.Present(); net > 0 {
		o.lastDay, o.net = day, net
		o.retained = 1 - f.Loss(day).Best
	}
	for _, c := range chores {
		k, err := drying.ParseCoat(c.Coat)
		if c.Job != wheel.Coat || err != nil {
			continue
		}
		o.coat, o.sealed = c.On, f.WithCoat(drying.CoatOn{Day: o.day(c.On), Coat: k})
		break
	}
	return o
}

func (o Outlook) day(on day.Date) float64 {
	return math.Max(0, on.Noon(o.Loc).Sub(o.Began).Hours()/24)
}

// Mass is what the cheese itself will weigh at noon of a date, its coats not
// counted, in grams, 90 %: the last weight less what the curve has it lose
// since. A wheel never weighed is taken at its lot's or its variety's usual
// weight. What tasting and cutting will take is not counted.
func (o Outlook) Mass(on day.Date) quantity.Estimate {
	f := o.Forecast
	if o.coat != day.None && on > o.coat {
		f = o.sealed
	}
	l := f.Loss(math.Max(o.lastDay, o.day(on)))
	left := func(loss float64) float64 { return float64(o.net) * (1 - loss) / o.retained }
	return quantity.Estimate{Best: left(l.Best), Low: left(math.Max(l.High, l.Best)), High: left(math.Min(l.Low, l.Best))}
}

// Sum adds estimates of things that err together (the same air, the same
// curd): the ends are the sums of the ends.
func Sum(es ...quantity.Estimate) quantity.Estimate {
	var t quantity.Estimate
	for _, e := range es {
		t.Best, t.Low, t.High = t.Best+e.Best, t.Low+e.Low, t.High+e.High
	}
	return t
}

// OldEnough is from when a wheel has the age that the limits of its variety ask
// for. It is information and no promise: days are counted by age alone, unless
// ByAir.
type OldEnough struct {
	On      day.Date
	Days    int
	RawMilk bool             // the days are those of milk that was not pasteurised
	Unsaid  bool             // nobody recorded the milk's treatment: taken as raw
	MinTemp quantity.Celsius // RawMilk: only days at or above it count by law
	ByAir   bool             // days too cold to count were left out
	By      string           // whose law asks for the most days, and its source; "": the limits of its variety
	Stalled bool             // ByAir: where it is, it's too cold to count, and On is what it would be elsewhere
}

// AgeLimit is when a wheel is old enough by the laws it follows and by its
// variety's own file; ok is false where they name no age for it.
func AgeLimit(m wheel.Make, v variety.Variety, law holdrule.Set) (o OldEnough, ok bool) {
	o.Days = v.LimitsOf(m.SoldAs).MinDays
	if len(law.Countries) == 0 {
		law = holdrule.Select(nil, nil, v, m.SoldAs)
	}
	milk := cmp.Or(m.Milk.Treatment, wheel.Raw)
	for i, r := range law.Rules {
		if days := r.DaysFrom(m.Date); days > o.Days && r.Takes(milk) {
			o.Days, o.RawMilk, o.MinTemp, o.By = days, len(r.Milk) > 0, r.MinTemp, ""
			o.Unsaid = m.Milk.Treatment == "" && o.RawMilk
			if by := law.By[i]; len(by) > 0 {
				o.By = strings.Join(by, ", ") + ", " + r.Cite()
			}
		}
	}
	o.On = m.Date + day.Date(o.Days)
	return o, o.Days > 0
}

// summerTime is how far a change of the clock can move the end of a day of 24 h: our
// choice, twice the usual hour.
const summerTime = 2 * time.Hour

// Counted is the limit with what a hold by law has left to serve at an instant:
// days in air too cold to count make it later, never earlier. It is the first
// date that is past the hold from its beginning, a change of summer time apart.
func (o OldEnough) Counted(h verdict.LawHold, at time.Time, loc *time.Location) OldEnough {
	o.ByAir = true
	served := at.Add(time.Duration(h.Left * 24 * float64(time.Hour)))
	o.On = max(o.On, day.At(served.Add(-summerTime), loc)+1)
	return o
}
