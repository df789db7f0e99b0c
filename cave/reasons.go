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
