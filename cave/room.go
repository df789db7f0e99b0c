// Package cave models the rooms a cheese ripens in: their places, their limits
// and their air. Temperatures are degrees Celsius, humidities fractions. It
// knows nothing about wheels, files or the time of day.
package cave

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Room is one ripening room, fridge or warehouse bay. Rooms are visited in
// ascending Order.
type Room struct {
	ID       uuid.UUID         `json:"id"`
	Name     string            `json:"name"`
	Title    string            `json:"title,omitempty"`
	Order    int               `json:"order"`
	Temp     quantity.Celsius  `json:"temp_c"`      // set point
	RH       quantity.Fraction `json:"rh_fraction"` // set point
	TempLow  quantity.Celsius  `json:"temp_low_c"`  // limits, which raise an alarm
	TempHigh quantity.Celsius  `json:"temp_high_c"`
	RHLow    quantity.Fraction `json:"rh_low_fraction"`
	RHHigh   quantity.Fraction `json:"rh_high_fraction"`
	Movement air.Movement      `json:"movement"`
	Racks    []Rack            `json:"racks,omitempty"`
	Struck   []StruckReading   `json:"struck_readings,omitempty"`
	Tests    []SensorTest      `json:"sensor_tests,omitempty"`
	Written  time.Time         `json:"written"`
	By       string            `json:"by,omitempty"`
}

// Rack is a rack in a room; its shelves are numbered from 1. PerShelf is how many
// wheels fit on a shelf, 0 if unknown.
type Rack struct {
	Name     string `json:"name"`
	Shelves  int    `json:"shelves"`
	PerShelf int    `json:"per_shelf,omitempty"`
}

// ParseRacks reads racks as people write them, A:5x10,B:4x8: five shelves of ten wheels
// and four of eight. A rack without figures has one shelf.
func ParseRacks(s string) ([]Rack, error) {
	var out []Rack
	for w := range strings.SplitSeq(s, ",") {
		name, size, ok := strings.Cut(strings.TrimSpace(w), ":")
		k := Rack{Name: name, Shelves: 1}
		if ok {
			shelves, per, deep := strings.Cut(size, "x")
			var err, perr error
			k.Shelves, err = strconv.Atoi(shelves)
			if deep {
				k.PerShelf, perr = strconv.Atoi(per)
			}
			if err != nil || perr != nil {
				return nil, fmt.Errorf("can't read %q as a rack; write NAME:SHELVESxWHEELS, like A:5x10", w)
			}
		}
		out = append(out, k)
	}
	return out, nil
}

// Capacity is how many wheels fit on the shelves whose PerShelf is known.
func (r Room) Capacity() int {
	n := 0
	for _, k := range r.Racks {
		n += k.Shelves * k.PerShelf
	}
	return n
}

// Fits is how many wheels fit in a place of the room: a shelf, a rack, all of it; 0
// where nobody said.
func (r Room) Fits(p Place) int {
	_, within, _ := strings.Cut(string(p), "/")
	name, shelf, _ := strings.Cut(within, "/")
	if name == "" {
		return r.Capacity()
	}
	for _, k := range r.Racks {
		switch {
		case k.Name == name && shelf == "":
			return k.Shelves * k.PerShelf
		case k.Name == name:
			return k.PerShelf
		}
	}
	return 0
}

// SetPoint is the air the room should have.
func (r Room) SetPoint() air.State { return air.State{Temp: r.Temp, RH: r.RH} }

// The air a room can be meant to hold: our own bounds.
const (
	MinTemp quantity.Celsius  = -5
	MaxTemp quantity.Celsius  = 40
	MinRH   quantity.Fraction = 0.2
)

// The most racks, shelves and wheels that are counted: our choice.
const (
	maxRacks    = 1000
	maxShelves  = 1000
	maxPerShelf = 10000
)

// Check says what is wrong with the room's figures.
func (r Room) Check() error {
	if err := CheckSited("room", r.Name); err != nil {
		return err
	}
	switch {
	case r.Temp < MinTemp || r.Temp > MaxTemp:
		return reason.Err(reason.Outside[quantity.Celsius]{What: "set point", Value: r.Temp, Low: MinTemp, High: MaxTemp})
	case r.RH < MinRH || r.RH > 1:
		return reason.Err(reason.Outside[quantity.Fraction]{What: "humidity", Value: r.RH, Low: MinRH, High: 1})
	case r.TempLow > r.Temp || r.TempHigh < r.Temp:
		return reason.Err(TempLimits{r.Temp, r.TempLow, r.TempHigh})
	case r.RHLow > r.RH || r.RHHigh < r.RH:
		return reason.Err(RHLimits{r.RH, r.RHLow, r.RHHigh})
	case len(r.Racks) > maxRacks:
		return reason.Err(reason.Outside[int]{What: "racks", Value: len(r.Racks), High: maxRacks})
	}
	for _, k := range r.Racks {
		if err := k.check(); err != nil {
			return err
		}
	}
	return nil
}

func (k Rack) check() error {
	if err := CheckTag("rack", k.Name); err != nil {
		return err
	}
	if k.Shelves < 1 || k.Shelves > maxShelves {
		return reason.Err(reason.Outside[int]{What: "shelves", Value: k.Shelves, Low: 1, High: maxShelves})
	}
	if k.PerShelf < 0 || k.PerShelf > maxPerShelf {
		return reason.Err(reason.Outside[int]{What: "wheels on a shelf", Value: k.PerShelf, High: maxPerShelf})
	}
	return nil
}

// Around sets the room's air, and its limits to 2 C and 7 points of humidity on
// either side: our default.
func (r *Room) Around(t quantity.Celsius, rh quantity.Fraction) {
	r.Temp, r.RH = t, rh
	r.TempLow, r.TempHigh = t-2, t+2
	r.RHLow, r.RHHigh = max(0, rh-0.07), min(1, rh+0.07)
}
