// Package cave models the rooms a cheese ripens in: their places, their limits
// and their air. Temperatures are degrees Celsius, humidities fractions. It
// knows nothing about wheels, files or the time of day.
package cave

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
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

// Capacity is how many wheels fit on the shelves whose PerShelf is known.
func (r Room) Capacity() int {
	n := 0
	for _, k := range r.Racks {
		n += k.Shelves * k.PerShelf
	}
	return n
}

// SetPoint is the air the room should have.
func (r Room) SetPoint() air.State { return air.State{Temp: r.Temp, RH: r.RH} }

// Check refuses a bad name and figures that are out of range or contradict each
// other, the first of them in one sentence.
func (r Room) Check() error {
	if err := CheckTag("room", r.Name); err != nil {
		return err
	}
	switch {
	case r.Temp < -5 || r.Temp > 40:
		return fmt.Errorf("room %s: a set point of %.1f C is out of range; give -5 to 40 C", r.Name, float64(r.Temp))
	case r.RH < 0.2 || r.RH > 1:
		return fmt.Errorf("room %s: a humidity of %.0f%% is out of range; give 20 to 100 %%", r.Name, r.RH.Percent())
	case r.TempLow > r.Temp || r.TempHigh < r.Temp:
		return fmt.Errorf("room %s: the set point %.1f C lies outside its own limits %.1f to %.1f C",
			r.Name, float64(r.Temp), float64(r.TempLow), float64(r.TempHigh))
	case r.RHLow > r.RH || r.RHHigh < r.RH:
		return fmt.Errorf("room %s: the humidity %.0f%% lies outside its own limits %.0f to %.0f %%",
			r.Name, r.RH.Percent(), r.RHLow.Percent(), r.RHHigh.Percent())
	}
	if len(r.Racks) > 1000 {
		return fmt.Errorf("room %s: %d racks; at most 1000", r.Name, len(r.Racks))
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
	if k.Shelves < 1 || k.Shelves > 1000 || k.PerShelf < 0 || k.PerShelf > 10000 {
		return fmt.Errorf("rack %s: %d shelves of %d wheels is out of range; give 1 to 1000 shelves of at most 10000",
			k.Name, k.Shelves, k.PerShelf)
	}
	return nil
}

// Around sets the room's air, and its limits to 2 C and 7 points of humidity on
// either side: our default, common practice, no source.
func (r *Room) Around(t quantity.Celsius, rh quantity.Fraction) {
	r.Temp, r.RH = t, rh
	r.TempLow, r.TempHigh = t-2, t+2
	r.RHLow, r.RHHigh = max(0, rh-0.07), min(1, rh+0.07)
}
