package lines

import (
	"time"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/store/pack"
)

// Air is a reading of a room's air as a line.
type Air struct {
	Room string            `json:"room"`
	At   time.Time         `json:"at"`
	Temp quantity.Celsius  `json:"temp_c"`
	RH   quantity.Fraction `json:"rh_fraction"`

	Source  uint64    `json:"source,omitempty"` // number of the airsource
	Written time.Time `json:"written,omitzero"`
}

// AirOf is the line of a record.
func AirOf(k, v []byte) (any, error) {
	r, err := pack.ReadAir(k, v)
	if err != nil {
		return nil, err
	}
	return Air{string(k[:len(k)-9]), r.At, r.Temp, r.RH, r.Source, r.Written}, nil
}

// Reading is the reading of a line.
func (a Air) Reading() cave.Reading {
	return cave.Reading{At: a.At, Temp: a.Temp, RH: a.RH, Source: a.Source, Written: a.Written}
}
