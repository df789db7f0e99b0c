// Package variety is the library of kinds of cheese: for each its usual wheel,
// what it is made of when drying starts, the limits it has to keep, the room it
// ripens in and the rind plan it follows. Varieties are TOML text that a person
// can read and change; the library is part of the binary.
//
// Moisture, fat and salt are fractions of the whole cheese (wet basis) at the
// moment drying starts: out of the press, or out of the brine. Every group of
// figures names its source, or says that it is common practice without one.
// Limits are information, never a promise of compliance.
//
// The package knows nothing of rind plans but their names, and of the drying
// model nothing but the names of its groups.
package variety

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"rindkeep/cave/quantity"
	"rindkeep/wheel/shape"
	"rindkeep/wheel/variety/tomlfile"
)

// Variety is one kind of cheese. Times are days; a zero in an optional field
// means none is set.
type Variety struct {
	Name    string   // 2 to 40 of a-z, 0-9 and dashes
	Title   string   // as people read it
	Rind    string   // one of Rinds
	Group   string   // group of drying defaults, one of Groups
	Plan    string   // name of its rind plan
	Species []string // usual milk, each one of Milks

	Shape  shape.Shape    // a usual wheel
	Weight quantity.Grams // its green weight

	Composition Composition
	Limits      Limits
	Room        Room

	DryTarget  quantity.Fraction // moisture at or under which it is dry enough to coat; 0: none set
	DryingDays int               // days after drying began when an uncoated rind counts as ripening
	ReadyDays  int               // age in days when it is usually ready
	Source     string            // of the usual wheel, the dry target and the days
	Note       string

	Text string // the TOML it was read from; "" for one made in code
}

// Composition is what the cheese holds when drying starts, wet basis.
type Composition struct {
	Moisture   quantity.Fraction
	MoistureSD quantity.Fraction // standard deviation of Moisture between makes; DefaultMoistureSD if the file gives none
	Fat        quantity.Fraction
	Salt       quantity.Fraction
	PH         float64
	Source     string
}

// FatInSolids is the fat in the dry matter, which drying does not change.
func (c Composition) FatInSolids() quantity.Fraction {
	if c.Moisture >= 1 {
		return 0
	}
	return c.Fat / (1 - c.Moisture)
}

// Limits are what a standard asks of the finished cheese. A zero is no limit.
type Limits struct {
	MaxMoisture    quantity.Fraction
	MinFatInSolids quantity.Fraction
	MinDays        int              // whatever the milk
	RawMinDays     int              // if the milk was raw: days of hold
	RawMinTemp     quantity.Celsius // only days at or above it count towards RawMinDays
	Source         string
}

// Room is the room the variety usually ripens in.
type Room struct {
	TempLow, TempHigh quantity.Celsius
	RHLow, RHHigh     quantity.Fraction
	Source            string
}

// Rinds are the kinds of rind.
var Rinds = []string{"waxed", "cloth", "plastic", "brine-rubbed", "brushed", "washed", "bloomy", "blue", "oiled", "smoked", "fresh"}

// Groups are the groups of drying defaults.
var Groups = []string{"very-hard", "hard", "semi-hard", "soft", "washed-rind", "bloomy", "blue", "fresh"}

// Milks are the species whose milk is used.
var Milks = []string{"cow", "goat", "sheep", "buffalo"}

// DefaultMoistureSD is the spread of moisture between makes where a file gives
// none: 1.5 points. Our default, common practice, no source.
const DefaultMoistureSD quantity.Fraction = 0.015

// Densities of cheese that a usual wheel may come out at, kg per cubic metre.
// Cheese without holes lies near 1050 to 1100 (from memory); the wide band is
// there to catch a mistaken unit, not an open texture.
const (
	minDensity = 700
	maxDensity = 1300
)

// figure is one number of a variety: where the file has it and how far it may
// go. Bounds are in the unit the file is written in (percent, C, g, days).
// They are bounds of sense, wide on purpose: common practice, no source.
type figure struct {
	table, key string
	lo, hi     float64
	need       bool
	at         func(*Variety) any
}

var figures = []figure{
	{"", "dry_target", 10, 80, false, func(v *Variety) any { return &v.DryTarget }},
	{"", "drying_days", 1, 60, true, func(v *Variety) any { return &v.DryingDays }},
	{"", "ready_days", 1, 3650, true, func(v *Variety) any { return &v.ReadyDays }},
	{"wheel", "weight", 10, 200_000, true, func(v *Variety) any { return &v.Weight }},
	{"composition", "moisture", 20, 80, true, func(v *Variety) any { return &v.Composition.Moisture }},
	{"composition", "moisture_sd", 0.1, 10, false, func(v *Variety) any { return &v.Composition.MoistureSD }},
	{"composition", "fat", 0, 50, true, func(v *Variety) any { return &v.Composition.Fat }},
	{"composition", "salt", 0, 8, true, func(v *Variety) any { return &v.Composition.Salt }},
	{"composition", "ph", 4, 7, true, func(v *Variety) any { return &v.Composition.PH }},
	{"limits", "max_moisture", 20, 80, false, func(v *Variety) any { return &v.Limits.MaxMoisture }},
	{"limits", "min_fat_in_solids", 1, 80, false, func(v *Variety) any { return &v.Limits.MinFatInSolids }},
	{"limits", "min_days", 1, 3650, false, func(v *Variety) any { return &v.Limits.MinDays }},
	{"limits", "raw_min_days", 1, 3650, false, func(v *Variety) any { return &v.Limits.RawMinDays }},
	{"limits", "raw_min_temp", -5, 20, false, func(v *Variety) any { return &v.Limits.RawMinTemp }},
	{"room", "temp_low", -5, 30, true, func(v *Variety) any { return &v.Room.TempLow }},
	{"room", "temp_high", -5, 30, true, func(v *Variety) any { return &v.Room.TempHigh }},
	{"room", "rh_low", 40, 100, true, func(v *Variety) any { return &v.Room.RHLow }},
	{"room", "rh_high", 40, 100, true, func(v *Variety) any { return &v.Room.RHHigh }},
}

// value gives the figure in the unit of its bounds, and that unit.
func (f figure) value(v *Variety) (x float64, unit string) {
	switch p := f.at(v).(type) {
	case *quantity.Fraction:
		return p.Percent(), "%"
	case *quantity.Celsius:
		return float64(*p), "C"
	case *quantity.Grams:
		return float64(*p), "g"
	case *int:
		return float64(*p), "days"
	case *float64:
		return *p, ""
	}
	return math.NaN(), ""
}

// read puts what the file says into the variety.
func (f figure) read(s tomlfile.Section, v *Variety) {
	if !s.Has(f.key) {
		if f.need {
			_, unit := f.value(v)
			s.Fail(f.key, "%s is missing; give %s", f.key, tomlfile.Span(f.lo, f.hi, unit))
		}
		return
	}
	switch p := f.at(v).(type) {
	case *quantity.Fraction:
		*p = s.Percent(f.key, quantity.FromPercent(f.lo), quantity.FromPercent(f.hi))
	case *quantity.Celsius:
		*p = s.Temp(f.key, quantity.Celsius(f.lo), quantity.Celsius(f.hi))
	case *quantity.Grams:
		*p = s.Weight(f.key, quantity.Grams(f.lo), quantity.Grams(f.hi))
	case *int:
		*p = s.Int(f.key, int(f.lo), int(f.hi), "days")
	case *float64:
		*p = s.Number(f.key, f.lo, f.hi, "")
	}
}

func (f figure) fault(v *Variety) string {
	x, unit := f.value(v)
	if x == 0 && !f.need {
		return ""
	}
	shown := strconv.FormatFloat(math.Round(x*1e6)/1e6, 'g', -1, 64)
	if unit == "%" || unit == "C" || unit == "g" {
		shown += unit
	}
	return tomlfile.Outside(f.key, shown, x, f.lo, f.hi, unit)
}

// Check says in one sentence what is wrong with a variety, or nil. One that
// Parse gave is sound already; Check is for one made or changed in code.
func (v Variety) Check() error {
	if _, _, reason := v.fault(); reason != "" {
		return errors.New(tomlfile.Name(v.Name) + ": " + reason)
	}
	return nil
}

// fault finds the first thing wrong: the table and key it belongs to, and why.
func (v Variety) fault() (table, key, reason string) {
	if r := tomlfile.CheckName(v.Name); r != "" {
		return "", "name", r
	}
	if r := tomlfile.CheckName(v.Plan); r != "" {
		return "", "plan", "plan: " + r
	}
	if v.Title == "" {
		return "", "title", "title is missing; give it"
	}
	if r := word("rind", v.Rind, Rinds); r != "" {
		return "", "rind", r
	}
	if r := word("group", v.Group, Groups); r != "" {
		return "", "group", r
	}
	if len(v.Species) == 0 {
		return "", "species", `species is missing; write species = ["cow"]`
	}
	for i, s := range v.Species {
		if r := word("species", s, Milks); r != "" {
			return "", "species", r
		}
		if slices.Contains(v.Species[:i], s) {
			return "", "species", fmt.Sprintf("species %q is named twice", s)
		}
	}
	for _, f := range figures {
		if r := f.fault(&v); r != "" {
			return f.table, f.key, r
		}
	}
	if err := v.Shape.Check(); err != nil {
		return "wheel", "shape", err.Error()
	}
	if d := v.Weight.Kilograms() / v.Shape.Volume(); d < minDensity || d > maxDensity {
		return "wheel", "weight", fmt.Sprintf("weight %s in a %s is %.0f kg per cubic metre; cheese lies from %d to %d", quantity.Metric.Weight(v.Weight), v.Shape, d, minDensity, maxDensity)
	}
	c, l, r := v.Composition, v.Limits, v.Room
	switch {
	case c.Moisture+c.Fat+c.Salt >= 1:
		return "composition", "fat", fmt.Sprintf("moisture, fat and salt make %s, which leaves nothing for protein", percent(c.Moisture+c.Fat+c.Salt))
	case l.MinFatInSolids > 0 && c.FatInSolids() < l.MinFatInSolids-1e-9:
		return "composition", "fat", fmt.Sprintf("fat is %s of the solids, under min_fat_in_solids %s", percent(c.FatInSolids()), percent(l.MinFatInSolids))
	case v.DryTarget > 0 && v.DryTarget >= c.Moisture:
		return "", "dry_target", fmt.Sprintf("dry_target %s is not under the starting moisture of %s; drying would be over before it began", percent(v.DryTarget), percent(c.Moisture))
	case v.ReadyDays < v.DryingDays:
		return "", "ready_days", fmt.Sprintf("ready_days %d is before drying_days %d is over", v.ReadyDays, v.DryingDays)
	case v.ReadyDays < l.MinDays:
		return "", "ready_days", fmt.Sprintf("ready_days %d is under min_days %d of the limits", v.ReadyDays, l.MinDays)
	case r.TempLow > r.TempHigh:
		return "room", "temp_low", fmt.Sprintf("temp_low %gC is over temp_high %gC", float64(r.TempLow), float64(r.TempHigh))
	case r.RHLow > r.RHHigh:
		return "room", "rh_low", fmt.Sprintf("rh_low %s is over rh_high %s", percent(r.RHLow), percent(r.RHHigh))
	case v.Source == "":
		return "", "source", noSource
	case c.Source == "":
		return "composition", "source", noSource
	case r.Source == "":
		return "room", "source", noSource
	case l.Source == "" && l != (Limits{}):
		return "limits", "source", noSource
	}
	return "", "", ""
}

const noSource = `source is missing; name where the figures come from, or write "common practice, no source"`

func word(key, w string, words []string) string {
	if slices.Contains(words, w) {
		return ""
	}
	if w == "" {
		return fmt.Sprintf("%s is missing; give one of %s", key, strings.Join(words, ", "))
	}
	if n := tomlfile.Nearest(w, words); n != "" {
		return fmt.Sprintf("no %s %s; did you mean %q?", key, tomlfile.Quote(w), n)
	}
	return fmt.Sprintf("no %s %s; give one of %s", key, tomlfile.Quote(w), strings.Join(words, ", "))
}

func percent(f quantity.Fraction) string {
	return strconv.FormatFloat(math.Round(f.Percent()*100)/100, 'f', -1, 64) + " %"
}
