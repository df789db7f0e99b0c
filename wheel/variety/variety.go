// Package variety is the library of kinds of cheese: for each its usual wheel, what it is made of when drying
// starts, the limits it has to keep, the room it ripens in and the rind plan it follows. Varieties are TOML text
// that a person can read and change; the library is part of the binary.
//
// Moisture, fat and salt are fractions of the whole cheese (wet basis) at the moment drying starts: out of the
// press, or out of the brine. Every group of figures names its source, or says that it is common practice without
// one. Limits are information, never a promise of compliance.
//
// The package knows nothing of rind plans but their names, and of the drying
// model nothing but the names of its groups.
package variety

import (
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"rindkeep/cave/quantity"
	"rindkeep/wheel/shape"
)

// Variety is one kind of cheese. Times are days; a zero in an optional field means
// none is set. The tags say what its file may have (package tomlfile); their bounds
// are our own, wide ones, there to catch a slip.
type Variety struct {
	Name    string   `toml:"name" need:"true"`           // 2 to 40 of a-z, 0-9 and dashes
	Title   string   `toml:"title" need:"true" max:"80"` // as people read it
	Rind    string   `toml:"rind"`                       // one of Rinds
	Group   string   `toml:"group"`                      // of drying defaults: one of Groups
	Plan    string   `toml:"plan" need:"true"`           // name of its rind plan
	Species []string `toml:"species" need:"true"`        // usual milk, each one of Milks

	Shape  shape.Shape    // a usual wheel
	Weight quantity.Grams // its green weight

	Composition Composition `toml:"composition" need:"true"`
	Limits      Limits      `toml:"limits"`
	Room        Room        `toml:"room" need:"true"`

	// DryTarget is the moisture at or under which it is dry enough to coat; 0: none set.
	DryTarget quantity.Fraction `toml:"dry_target" range:"10 80"`
	// DryingDays after drying began an uncoated rind counts as ripening.
	DryingDays int `toml:"drying_days" need:"true" range:"1 60 days"`
	// ReadyDays is the age when it is usually ready.
	ReadyDays int `toml:"ready_days" need:"true" range:"1 3650 days"`
	// Source is of the usual wheel, the dry target and the days.
	Source string `toml:"source" max:"300" need:"true"`
	Note   string `toml:"note" max:"500"`

	Text string // the TOML it was read from; "" for one made in code
}

// Composition is what the cheese holds when drying starts, wet basis. The bounds are our
// own.
type Composition struct {
	Moisture quantity.Fraction `toml:"moisture" need:"true" range:"20 80"`
	// MoistureSD is the standard deviation of Moisture between makes; DefaultMoistureSD if the file gives none.
	MoistureSD quantity.Fraction `toml:"moisture_sd" range:"0.1 10"`
	Fat        quantity.Fraction `toml:"fat" need:"true" range:"0 50"`
	Salt       quantity.Fraction `toml:"salt" need:"true" range:"0 8"`
	PH         float64           `toml:"ph" need:"true" range:"4 7"`
	Source     string            `toml:"source" max:"300" need:"true"`
}

// FatInSolids is the fat in the dry matter, which drying does not change.
func (c Composition) FatInSolids() quantity.Fraction {
	if c.Moisture >= 1 {
		return 0
	}
	return c.Fat / (1 - c.Moisture)
}

// Limits are what a standard asks of the finished cheese. A zero is no limit. The bounds
// are our own.
type Limits struct {
	MaxMoisture    quantity.Fraction `toml:"max_moisture" range:"20 80"`
	MinFatInSolids quantity.Fraction `toml:"min_fat_in_solids" range:"1 80"`
	UsualDays      int               `toml:"usual_days" range:"1 3650 days"` // of ripening: information, no limit
	// What somebody's own variety asks of itself in every country; for the varieties
	// inside the program, package holdrule has what laws ask.
	MinDays    int              `toml:"min_days" range:"1 3650 days"`     // whatever the milk
	RawMinDays int              `toml:"raw_min_days" range:"1 3650 days"` // of hold, if the milk was raw
	RawMinTemp quantity.Celsius `toml:"raw_min_temp" range:"-5 20"`       // only days at or above it count
	Source     string           `toml:"source" max:"300" need:"true"`
	SoldAs     []string         `toml:"sold_as" items:"20"` // words of the name that they are of; none: any name
}

// LimitsOf are the limits of cheese of the variety that is sold under a name ("": not
// known).
func (v Variety) LimitsOf(soldAs string) Limits {
	if !Sold(v.Limits.SoldAs, soldAs) {
		return Limits{}
	}
	return v.Limits
}

// Sold is true where one of the names is a word of the name that a cheese is sold under,
// with accents written as one letter or as two. What is of no name is of any.
func Sold(names []string, soldAs string) bool {
	words := strings.FieldsFunc(norm.NFC.String(soldAs), func(r rune) bool { return !unicode.IsLetter(r) })
	return len(names) == 0 || slices.ContainsFunc(names, func(name string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.EqualFold(w, name) })
	})
}

// Room is the room the variety usually ripens in. The bounds are our own.
type Room struct {
	TempLow  quantity.Celsius  `toml:"temp_low" need:"true" range:"-5 30"`
	TempHigh quantity.Celsius  `toml:"temp_high" need:"true" range:"-5 30"`
	RHLow    quantity.Fraction `toml:"rh_low" need:"true" range:"40 100"`
	RHHigh   quantity.Fraction `toml:"rh_high" need:"true" range:"40 100"`
	Source   string            `toml:"source" max:"300" need:"true"`
}

// Rinds are the kinds of rind.
var Rinds = []string{
	"waxed", "cloth", "plastic", "brine-rubbed", "brushed", "washed", "bloomy", "blue", "oiled", "smoked", "fresh",
}

// Groups are the groups of drying defaults.
var Groups = []string{"very-hard", "hard", "semi-hard", "soft", "washed-rind", "bloomy", "blue", "fresh"}

// Milks are the species whose milk is used.
var Milks = []string{"cow", "goat", "sheep", "buffalo"}

// DefaultMoistureSD is the spread of moisture between makes where a file gives
// none: 1.5 points. Our default.
const DefaultMoistureSD quantity.Fraction = 0.015
