package makes

import (
	"cmp"
	_ "embed"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/app/start"
	"rindkeep/cmd/cli/console"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/verdict"
)

// questions are all that start asks, in order.
func (f *beginning) questions() []*question {
	f.qs = []*question{
		f.placeQuestion(), f.unitsQuestion(), f.tempQuestion(), f.rhQuestion(), f.countryQuestion(), f.kindQuestion(),
		f.madeQuestion("made", "made when? (a date, yesterday, or ? if nobody knows)", true), f.countQuestion(""),
		f.rindQuestion(), f.coatedQuestion(), f.eachWeight(), f.treatmentQuestion(),
	}
	return f.qs
}

func (f *beginning) placeQuestion() *question {
	return &question{
		flag: "place", label: "stored in", must: true,
		ask: func() (string, string) {
			def := ""
			if n := len(f.Rooms); n > 0 {
				def = f.Rooms[n-1].Name
			}
			return "where are the wheels stored? (like fridge or cellar/A/2: room, rack, shelf)", def
		},
		hear: func(w string) (string, error) {
			p, err := cave.NamePlace(w)
			if err != nil {
				return "", console.Misread(err)
			}
			r, known := f.Room(p.Room())
			if !known {
				f.place = p
				return string(p) + ", a new room", nil
			}
			f.place = cave.Place(r.Name + strings.TrimPrefix(string(p), p.Room()))
			return string(f.place), nil
		},
	}
}

// newRoom is true where the place is in a room that isn't in the book yet.
func (f *beginning) newRoom() bool {
	_, known := f.Room(f.place.Room())
	return !known
}

func (f *beginning) unitsQuestion() *question {
	return &question{
		flag: "units", label: "units",
		ask: func() (string, string) {
			if !f.New {
				return "", ""
			}
			return "grams or pounds?", "grams"
		},
		hear: func(w string) (string, error) {
			switch strings.ToLower(w) {
			case "grams", "gram", "g", "kg", "kilos":
				w = string(quantity.Metric)
			case "pounds", "pound", "lb", "lbs", "oz", "ounces":
				w = string(quantity.Imperial)
			}
			u, err := quantity.ParseUnits(strings.ToLower(w))
			if err != nil {
				return "", console.Usagef("type grams or pounds")
			}
			f.UseUnits(u)
			if u == quantity.Imperial {
				return "pounds and ounces, °F", nil
			}
			return "grams, °C", nil
		},
	}
}

func (f *beginning) tempQuestion() *question {
	return &question{
		flag: "temp", label: "temperature",
		ask: func() (string, string) {
			if !f.newRoom() {
				return "", ""
			}
			t, _, _, fridge := rooms.Usual(f.place.Room())
			how := "how warm is it there?"
			if fridge {
				how = "how warm is it there? (a fridge set for cheese; one for food is nearer " + f.Words.Temp(4) + ")"
			}
			return how, f.Words.Temp(t)
		},
		hear: func(w string) (string, error) {
			in := f.Figures()
			if f.temp = in.Temp("--temp", w); in.Err == nil && (f.temp < cave.MinTemp || f.temp > cave.MaxTemp) {
				in.Err = reason.Err(reason.Outside[quantity.Celsius]{
					What: "set point", Value: f.temp, Low: cave.MinTemp, High: cave.MaxTemp,
				})
			}
			return f.Words.Temp(f.temp), in.Err
		},
	}
}

func (f *beginning) rhQuestion() *question {
	return &question{
		flag: "rh", label: "humidity",
		ask: func() (string, string) {
			if !f.newRoom() {
				return "", ""
			}
			_, rh, _, _ := rooms.Usual(f.place.Room())
			return "how damp is the air? (Enter if you don't know)", f.Words.RH(rh)
		},
		hear: func(w string) (string, error) {
			in := f.Figures()
			if f.rh = in.Percent("--rh", w); in.Err == nil && (f.rh < cave.MinRH || f.rh > 1) {
				in.Err = reason.Err(reason.Outside[quantity.Fraction]{What: "humidity", Value: f.rh, Low: cave.MinRH, High: 1})
			}
			return f.Words.RH(f.rh), in.Err
		},
	}
}

func (f *beginning) rindQuestion() *question {
	return &question{
		flag: "rind", label: "rind",
		ask: func() (string, string) {
			if slices.Contains([]string{"bloomy", "blue", "washed", "fresh"}, f.kind.Rind) {
				return "", ""
			}
			return "wax, cloth or bare? (Enter: as usual for this kind)", f.usualRind()
		},
		hear: func(w string) (string, error) {
			w = strings.ToLower(w)
			r := start.Rind(cmp.Or(rindWords[w], w))
			switch {
			case w == f.usualRind():
				r = ""
			case !slices.Contains(start.Rinds, r):
				return "", console.Usagef("type wax, cloth or bare; Enter is what is usual for this kind: %s", f.usualRind())
			}
			f.rind = r
			plan, _ := start.PlanFor(f.kind, f.Plans[f.kind.Plan], f.rind)
			return fmt.Sprintf("%s (plan %s)", w, plan), nil
		},
	}
}

// rindWords are other words for what becomes of a rind.
var rindWords = map[string]string{
	"waxed": "wax", "clothbound": "cloth", "cloth-bound": "cloth", "none": "bare", "natural": "bare", "nothing": "bare",
}

// usualRind is what becomes of the rind of a kind without being asked for.
func (f *beginning) usualRind() string {
	coat := start.CoatOf(f.Plans[f.kind.Plan])
	if coat == "" {
		return string(start.Bare)
	}
	return coatName(coat)
}

func coatName(k drying.Coat) string {
	if k == drying.Breathable {
		return "breathable coat"
	}
	return string(k)
}

// coat is what the wheels end in, "" where they stay bare.
func (f *beginning) coat() drying.Coat { return f.Coat(f.kind, f.rind) }

func (f *beginning) coatedQuestion() *question {
	return &question{
		flag: "coated", label: "coated",
		ask: func() (string, string) {
			if f.coat() == "" || !f.older() {
				return "", ""
			}
			return fmt.Sprintf("is the %s on already? (yes, no, or the date it went on)", coatName(f.coat())), "no"
		},
		hear: func(w string) (string, error) {
			f.coated, f.coatedOn = false, ""
			if v, err := wheel.ParseSeen(w); err == nil {
				f.coated = v == wheel.Yes
				return v.String(), nil
			}
			if f.coat() == "" || !f.older() {
				return "", app.Misuse("coated", start.CoatTooEarly)
			}
			d, err := f.pastDate(w)
			if err != nil {
				return "", err
			}
			f.coated, f.coatedOn = true, d.String()
			return d.Long(), nil
		},
	}
}

// eachWeight asks for the weight of each wheel.
func (f *beginning) eachWeight() *question {
	q := f.weightsQuestion(func() string { return "weights" })
	q.gather = func() string {
		when := "out of the press, before they dry"
		if f.older() {
			when = "today"
		}
		f.lines(fmt.Sprintf("weights %s, in %s: Enter for a wheel that wasn't weighed, stop to leave out the rest", when,
			f.Units.BareWeight()))
		var all []string
		var heard []quantity.Grams
		for i := 1; i <= f.wheels && f.err == nil; i++ {
			listed := false
			w := f.until(fmt.Sprintf("  wheel %d of %d", i, f.wheels), "", func(w string) (err error) {
				var g quantity.Grams
				if g, listed, err = f.hearOne(heard, w); err == nil {
					heard = append(heard, g)
				}
				return err
			})
			switch {
			case listed:
				return w
			case strings.EqualFold(w, "stop"):
				i = f.wheels
			default:
				all = append(all, w)
			}
		}
		if strings.Join(all, "") == "" {
			return ""
		}
		return strings.Join(append(all, make([]string, f.wheels-len(all))...), ";")
	}
	return q
}

// severalWeights is a list of weights, where a comma may also be a decimal one: 1,942 kg.
var severalWeights = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`;|,\s|,.*,|\d{3},\d{3}`)
})

// hearOne checks the weight of the wheel after those before; for the first one people may give all of them,
// in a list.
func (f *beginning) hearOne(before []quantity.Grams, w string) (g quantity.Grams, listed bool, err error) {
	if w == "" || strings.EqualFold(w, "stop") {
		return 0, false, nil
	}
	if len(before) == 0 && severalWeights().MatchString(w) {
		_, err := f.hearWeights(w)
		return 0, err == nil, err
	}
	in := f.Figures()
	g = in.Weight("--weights", w)
	if in.Err != nil {
		return 0, false, in.Err
	}
	why := start.Odd(f.kind, append(slices.Clone(before), g))
	among, ok := why.(verdict.OddAmong)
	if why == nil || f.sure || ok && among.Wheel <= len(before) { // an earlier one: all are asked about together
		return g, false, nil
	}
	f.lines(f.Words.Sentence(why))
	if f.sure = f.confirm("is it right nevertheless?", "no"); !f.sure {
		return 0, false, cmp.Or(f.err, console.Usagef("type its weight again"))
	}
	return g, false, nil
}

func (f *beginning) countryQuestion() *question {
	return &question{
		flag: "country", label: "food law",
		ask: func() (string, string) {
			if !f.New {
				return "", ""
			}
			return "which country's food law do you follow? (like Ireland or US; Enter to skip)", ""
		},
		hear: func(w string) (string, error) {
			if w == "no" || w == "none" { // an answer, not Norway
				w = ""
			}
			cs, err := holdrule.ParseCountries(w)
			if code, ok := countryNamed(w); err != nil && ok {
				cs, err = []string{code}, nil
			}
			if err != nil {
				return "", console.Misread(err)
			}
			if f.New {
				f.Dates.Order = app.DateOrder(cs)
			}
			if f.countries = holdrule.Joined(cs); len(cs) == 0 {
				return "none", nil
			}
			return f.countries, nil
		},
	}
}

// countryNamed is the ISO code of a country by its name in English.
func countryNamed(name string) (code string, ok bool) {
	name = strings.ToLower(strings.TrimSpace(name))
	if code := map[string]string{"uk": "GB", "great britain": "GB", "usa": "US"}[name]; code != "" {
		return code, true
	}
	for line := range strings.Lines(countries) {
		if code, n, _ := strings.Cut(strings.TrimSpace(line), " "); code != "#" && strings.ToLower(n) == name {
			return code, true
		}
	}
	return "", false
}

// countries are the codes with their names, a line each. The library that knows them takes half a
// millisecond of each command's start.
//
//go:embed countries.txt
var countries string
