package wheel

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
)

// LogWhat is what a line of a make's log tells of.
type LogWhat string

// The lines of a make's log.
const (
	LogMilk       LogWhat = "milk"       // a delivery of milk that went into the vat
	LogIngredient LogWhat = "ingredient" // culture, rennet, salt and the like, with its lot
	LogAcidity    LogWhat = "acidity"    // pH or titratable acidity at a stage
	LogTemp       LogWhat = "temp"       // a temperature at a stage
	LogCurd       LogWhat = "curd"       // weight of curd
	LogSetAside   LogWhat = "set-aside"  // curd taken for something else
	LogFrom       LogWhat = "from"       // curd that came from another lot: the other half of its set-aside
	LogSalt       LogWhat = "salt"       // salt given
	LogPress      LogWhat = "press"      // a load put on
	LogStep       LogWhat = "step"       // any other step of the make, in words

	// LogComposition is the cheese as drying starts, measured: it stands for the
	// figures the make was written down with.
	LogComposition LogWhat = "composition"
)

// LogWhats lists every kind of line, those a maker writes first: from is
// written with the set-aside it is the other half of.
var LogWhats = []LogWhat{LogMilk, LogIngredient, LogAcidity, LogTemp, LogCurd, LogSetAside, LogSalt, LogPress, LogStep, LogComposition, LogFrom}

// MakeLog is one line of a make's log, the detail of a Logged entry. Only the
// fields of its What are used; what is zero was not said.
type MakeLog struct {
	What      LogWhat           `json:"what"`
	Stage     string            `json:"stage,omitempty"`  // ripening, cutting, draining: the maker's word
	Source    string            `json:"source,omitempty"` // milk: whose; ingredient: supplier
	Name      string            `json:"name,omitempty"`   // ingredient
	Kind      string            `json:"kind,omitempty"`   // ingredient: culture, rennet, salt, colour, calcium, other
	Lot       string            `json:"lot,omitempty"`    // ingredient's or milk's lot number
	Species   string            `json:"species,omitempty"`
	Litres    quantity.Litres   `json:"litres,omitempty"`
	Treatment Treatment         `json:"treatment,omitempty"`
	HeatTemp  quantity.Celsius  `json:"heat_temp_c,omitempty"`
	HeatFor   float64           `json:"heat_s,omitempty"` // seconds
	Fat       quantity.Fraction `json:"fat_fraction,omitempty"`
	Protein   quantity.Fraction `json:"protein_fraction,omitempty"`
	Amount    string            `json:"amount,omitempty"` // ingredient: as measured, 4 ml, 2 g
	PH        float64           `json:"ph,omitempty"`
	Acid      quantity.Fraction `json:"acid_fraction,omitempty"` // titratable acidity as lactic acid
	Temp      *float64          `json:"temp_c,omitempty"`
	Weight    quantity.Grams    `json:"weight_g,omitempty"`
	Where     string            `json:"where,omitempty"`         // salt: curd, brine, rub
	Rate      quantity.Fraction `json:"rate_fraction,omitempty"` // salt: the rate wanted, of the curd
	For       string            `json:"for,omitempty"`           // set aside: what for
	ToLot     string            `json:"to_lot,omitempty"`        // set aside: the lot it went into
	FromLot   string            `json:"from_lot,omitempty"`      // from: the lot it was set aside from
	Load      quantity.Grams    `json:"load_g,omitempty"`
	Lever     float64           `json:"lever,omitempty"` // ratio of a lever press, 1 without
	Diameter  quantity.Metres   `json:"diameter_m,omitempty"`
	Turned    bool              `json:"turned,omitempty"`            // turned and redressed before the load
	Moisture  quantity.Fraction `json:"moisture_fraction,omitempty"` // composition; its fat and pH are Fat and PH
	SD        quantity.Fraction `json:"moisture_sd_fraction,omitempty"`
	Salt      quantity.Fraction `json:"salt_fraction,omitempty"` // composition
}

// Check says in one sentence what is wrong with the line.
func (m MakeLog) Check() error {
	texts := []struct{ thing, text string }{
		{"stage", m.Stage}, {"source", m.Source}, {"ingredient", m.Name}, {"kind of ingredient", m.Kind}, {"lot number", m.Lot},
		{"species", m.Species}, {"amount", m.Amount}, {"place of the salt", m.Where}, {"use of the curd", m.For}, {"lot", m.ToLot}, {"lot", m.FromLot},
	}
	for _, t := range texts {
		if t.text == "" {
			continue
		}
		if err := cave.CheckName(t.thing, t.text); err != nil {
			return err
		}
	}
	for _, x := range []float64{float64(m.Litres), m.HeatFor, float64(m.HeatTemp), float64(m.Fat), float64(m.Protein), m.PH, float64(m.Acid), float64(m.Weight), float64(m.Rate), float64(m.Load), m.Lever, float64(m.Diameter), float64(m.Moisture), float64(m.SD), float64(m.Salt)} {
		if !(x >= 0 && x <= float64(quantity.MaxBulk)) {
			return fmt.Errorf("a figure of the make's log is out of range")
		}
	}
	if m.What != LogComposition && m.Fat > 0.2 || m.Protein > 0.2 {
		return fmt.Errorf("milk with %.4g %% fat and %.4g %% protein is out of range; give 0 %% to 20 %%", m.Fat.Percent(), m.Protein.Percent())
	}
	if m.Rate > 0.2 {
		return fmt.Errorf("a salt rate of %.4g %% of the curd is out of range; give 0 %% to 20 %%, like 1.8%%", m.Rate.Percent())
	}
	switch m.What {
	case LogMilk:
		if m.Litres == 0 {
			return fmt.Errorf("milk needs its volume")
		}
		if m.Treatment != "" && m.Treatment != Raw && m.Treatment != Thermised && m.Treatment != Pasteurised {
			return fmt.Errorf("no milk treatment %q; give raw, thermised or pasteurised", string(m.Treatment))
		}
		if m.Treatment == Raw && (m.HeatTemp > 0 || m.HeatFor > 0) {
			return fmt.Errorf("raw milk had no heat treatment; leave the heat out, or say thermised or pasteurised")
		}
		if (m.HeatTemp > 0) != (m.HeatFor > 0) || m.HeatTemp > 150 || m.HeatFor > 86400 {
			return fmt.Errorf("a heat treatment needs its temperature, at most 150 C, and for how long, at most a day")
		}
	case LogIngredient:
		if m.Name == "" {
			return fmt.Errorf("an ingredient needs its name")
		}
	case LogAcidity:
		if m.PH == 0 && m.Acid == 0 {
			return fmt.Errorf("an acidity needs a pH or a titratable acidity")
		}
		if m.PH != 0 && (m.PH < 3 || m.PH > 9) {
			return fmt.Errorf("a pH of %.4g is out of range; give 3 to 9", m.PH)
		}
		if m.Acid > 0.05 {
			return fmt.Errorf("a titratable acidity of %.4g %% is out of range; give percent lactic acid, like 0.16%%", m.Acid.Percent())
		}
	case LogTemp:
		if m.Temp == nil || !(*m.Temp >= -10 && *m.Temp <= 110) {
			return fmt.Errorf("a temperature needs its figure, -10 to 110 C")
		}
	case LogCurd, LogSetAside, LogSalt, LogFrom:
		if m.Weight == 0 {
			return fmt.Errorf("%s needs its weight", m.What)
		}
		if m.What == LogFrom && m.FromLot == "" {
			return fmt.Errorf("curd from another lot needs that lot")
		}
	case LogPress:
		if m.Load == 0 {
			return fmt.Errorf("a press line needs its load")
		}
		if m.Lever > 1000 {
			return fmt.Errorf("a lever of %.4g is out of range; give its ratio, 1 to 1000", m.Lever)
		}
		if m.Diameter != 0 {
			if _, err := RoundFace(m.Diameter); err != nil {
				return err
			}
		}
	case LogStep:
		if m.Stage == "" {
			return fmt.Errorf("a step needs its name")
		}
	case LogComposition:
		return m.checkComposition()
	default:
		return fmt.Errorf("no line %q in a make's log", string(m.What))
	}
	return nil
}

// checkComposition looks at the figures of a composition by themselves; how they
// go with those not measured is for MakeSheet.Check.
func (m MakeLog) checkComposition() error {
	switch {
	case m.Moisture == 0 && m.Fat == 0 && m.Salt == 0 && m.PH == 0:
		return fmt.Errorf("a composition needs a figure: moisture, fat, salt or pH")
	case m.SD > 0 && m.Moisture == 0:
		return fmt.Errorf("a standard deviation is of the moisture; give that too")
	case m.SD > 0.1:
		return fmt.Errorf("a standard deviation of %.4g %% is out of range; give at most 10 %%", m.SD.Percent())
	case m.PH != 0 && (m.PH < 3.5 || m.PH > 8):
		return fmt.Errorf("a pH of %.4g is out of range; give 3.5 to 8", m.PH)
	}
	c := Composition{Moisture: m.Moisture, Fat: m.Fat, Salt: m.Salt}
	if m.Moisture == 0 {
		c.Moisture = 0.2 // not said: any that does not stand in the way
	}
	return c.Check()
}

// Detail is the line as an entry carries it.
func (m MakeLog) Detail() string {
	b, err := json.Marshal(m)
	if err != nil {
		return ""
	}
	return string(b)
}

// ParseMakeLog reads what Detail wrote.
func ParseMakeLog(detail string) (MakeLog, error) {
	var m MakeLog
	d := json.NewDecoder(strings.NewReader(detail))
	d.DisallowUnknownFields()
	if err := d.Decode(&m); err != nil {
		return m, fmt.Errorf("that is no line of a make's log")
	}
	if _, err := d.Token(); err != io.EOF {
		return m, fmt.Errorf("that is more than a line of a make's log")
	}
	return m, m.Check()
}
