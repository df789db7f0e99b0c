package cave

import (
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// NotRead is a room without a reading for a number of whole hours.
type NotRead struct {
	Hours int `json:"hours"`
}

// TooCold is air under the room's limit.
type TooCold struct {
	Temp  quantity.Celsius `json:"temp_c"`
	Limit quantity.Celsius `json:"limit_c"`
}

// TooWarm is air over the room's limit.
type TooWarm struct {
	Temp  quantity.Celsius `json:"temp_c"`
	Limit quantity.Celsius `json:"limit_c"`
}

// TooDry is air drier than the room's limit.
type TooDry struct {
	RH    quantity.Fraction `json:"rh_pct"`
	Limit quantity.Fraction `json:"limit_pct"`
}

// TooHumid is air wetter than the room's limit.
type TooHumid struct {
	RH    quantity.Fraction `json:"rh_pct"`
	Limit quantity.Fraction `json:"limit_pct"`
}

// Code is not-read.
func (NotRead) Code() string { return "not-read" }

// Code is too-cold.
func (TooCold) Code() string { return "too-cold" }

// Code is too-warm.
func (TooWarm) Code() string { return "too-warm" }

// Code is air-too-dry.
func (TooDry) Code() string { return "air-too-dry" }

// Code is air-too-humid.
func (TooHumid) Code() string { return "air-too-humid" }

// What is wrong with a name or a text; the thing is what it names.
type (
	// NoName is a thing without a name.
	NoName struct {
		What reason.Thing `json:"what"`
	}
	// LongText is a text of too many bytes.
	LongText struct {
		What reason.Thing `json:"what"`
		Has  int          `json:"bytes"`
		Most int          `json:"at_most_bytes"`
	}
	// NotText is bytes that aren't UTF-8.
	NotText struct {
		What reason.Thing `json:"what"`
	}
	// Unprintable is a text with a character that doesn't print, at a byte from 1.
	Unprintable struct {
		What reason.Thing `json:"what"`
		Char rune         `json:"char"`
		Byte int          `json:"byte"`
	}
	// BadName is a name with something that it may not have, and why not.
	BadName struct {
		What reason.Thing `json:"what"`
		Name string       `json:"name"`
		Has  string       `json:"has"`
		Why  reason.Flat  `json:"why"`
	}
	// DeepPlace is a place of more parts than room, rack and shelf.
	DeepPlace struct {
		Parts int `json:"parts"`
	}
)

// What a name may not have.
const (
	Spaced   reason.Flat = "space-at-end"
	Reserved reason.Flat = "reserved-character"
	Begins   reason.Flat = "wrong-beginning"
	Word     reason.Flat = "command-word"
)

func (NoName) Code() string      { return "no-name" }
func (LongText) Code() string    { return "text-too-long" }
func (NotText) Code() string     { return "not-text" }
func (Unprintable) Code() string { return "unprintable" }
func (BadName) Code() string     { return "bad-name" }
func (DeepPlace) Code() string   { return "place-too-deep" }

// OddFraction is a humidity that looks like a fraction, not a percentage.
type OddFraction struct {
	RH quantity.Fraction `json:"rh_pct"`
}

// OddDry is a humidity drier than any ripening room.
type OddDry struct {
	RH quantity.Fraction `json:"rh_pct"`
}

// OddHot is a temperature hotter than any ripening room.
type OddHot struct {
	Temp quantity.Celsius `json:"temp_c"`
}

// TempLimits: the set point is outside the room's own limits.
type TempLimits struct {
	Temp quantity.Celsius `json:"temp_c"`
	Low  quantity.Celsius `json:"low_c"`
	High quantity.Celsius `json:"high_c"`
}

// RHLimits is TempLimits for the humidity.
type RHLimits struct {
	RH   quantity.Fraction `json:"rh_pct"`
	Low  quantity.Fraction `json:"low_pct"`
	High quantity.Fraction `json:"high_pct"`
}

func (OddFraction) Code() string { return "odd-fraction" }
func (OddDry) Code() string      { return "odd-dry" }
func (OddHot) Code() string      { return "odd-hot" }
func (TempLimits) Code() string  { return "outside-own-limits" }
func (RHLimits) Code() string    { return "outside-own-limits" }

func init() {
	reason.Register(map[int]reason.Reason{400: NotRead{}, 401: TooCold{}, 402: TooWarm{}, 403: TooDry{}, 404: TooHumid{}})
}
