package wheel

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
)

// LogWhat is the subject of a line in a make's log.
type LogWhat string

// The subjects of lines in a make's log.
const (
	LogMilk       LogWhat = "milk"       // a delivery of milk that went into the vat
	LogIngredient LogWhat = "ingredient" // culture, rennet, salt and the like, with its lot
	LogAcidity    LogWhat = "acidity"    // pH or titratable acidity at a stage
	LogTemp       LogWhat = "temp"       // a temperature at a stage
	LogCurd       LogWhat = "curd"       // weight of curd
	LogSetAside   LogWhat = "set-aside"  // curd taken for something else
	LogFrom       LogWhat = "from"       // curd from another lot, the counterpart of its set-aside
	LogSalt       LogWhat = "salt"       // salt added
	LogPress      LogWhat = "press"      // a load put on
	LogStep       LogWhat = "step"       // any other step of the make, in words

	// LogComposition is the measured composition as drying starts. It replaces
	// the variety's figures.
	LogComposition LogWhat = "composition"
)

// LogWhats lists every subject. LogFrom comes last: a maker writes it only
// through the set-aside that it belongs to.
var LogWhats = []LogWhat{LogMilk, LogIngredient, LogAcidity, LogTemp, LogCurd, LogSetAside, LogSalt, LogPress, LogStep,
	LogComposition, LogFrom}

// MakeLog is one line of a make's log, the Detail of a Logged entry. Only the
// fields of its What are used; a zero wasn't recorded.
type MakeLog struct {
	What      LogWhat           `json:"what"`
	Stage     string            `json:"stage,omitempty"`  // ripening, cutting, draining: in the maker's words
	Source    string            `json:"source,omitempty"` // supplier of the milk or ingredient
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
	Amount    string            `json:"amount,omitempty"` // ingredient: 4 ml, 2 g
	PH        float64           `json:"ph,omitempty"`
	Acid      quantity.Fraction `json:"acid_fraction,omitempty"` // titratable acidity as lactic acid
	Temp      *float64          `json:"temp_c,omitempty"`
	Weight    quantity.Grams    `json:"weight_g,omitempty"`
	Where     string            `json:"where,omitempty"`         // salt: curd, brine, rub
	Rate      quantity.Fraction `json:"rate_fraction,omitempty"` // salt: the intended share of the curd
	For       string            `json:"for,omitempty"`           // set aside: its purpose
	ToLot     string            `json:"to_lot,omitempty"`        // set aside: the lot it went into
	FromLot   string            `json:"from_lot,omitempty"`      // from: the lot it was set aside from
	Load      quantity.Grams    `json:"load_g,omitempty"`
	Lever     float64           `json:"lever,omitempty"` // ratio of a lever press, 1 without
	Diameter  quantity.Metres   `json:"diameter_m,omitempty"`
	Turned    bool              `json:"turned,omitempty"`            // turned and redressed before the load
	Moisture  quantity.Fraction `json:"moisture_fraction,omitempty"` // composition, with Fat and PH
	SD        quantity.Fraction `json:"moisture_sd_fraction,omitempty"`
	Salt      quantity.Fraction `json:"salt_fraction,omitempty"` // composition
}

// Check refuses a line without what it needs, and figures out of range, in one
// sentence.
func (m MakeLog) Check() error {
	if err := m.checkWords(); err != nil {
		return err
	}
	if err := m.checkFigures(); err != nil {
		return err
	}
	switch m.What {
	case LogMilk:
		return m.checkMilk()
	case LogIngredient:
		return need(m.Name != "", "an ingredient needs its name")
	case LogAcidity:
		return m.checkAcidity()
	case LogTemp:
		return need(m.Temp != nil && *m.Temp >= -10 && *m.Temp <= 110, "give the temperature, -10 to 110 C")
	case LogCurd, LogSetAside, LogSalt:
		return need(m.Weight != 0, "%s needs its weight", m.What)
	case LogFrom:
		return need(m.Weight != 0 && m.FromLot != "", "curd from another lot needs that lot and its weight")
	case LogPress:
		return m.checkPress()
	case LogStep:
		return need(m.Stage != "", "a step needs its name")
	case LogComposition:
		return m.checkComposition()
	}
	return fmt.Errorf("no line %q in a make's log", string(m.What))
}

// need is nil where the condition holds, else the error.
func need(ok bool, format string, args ...any) error {
	if ok {
		return nil
	}
	return fmt.Errorf(format, args...)
}

func (m MakeLog) checkWords() error {
	for _, t := range []struct{ thing, text string }{
		{"stage", m.Stage}, {"source", m.Source}, {"ingredient", m.Name}, {"kind of ingredient", m.Kind},
		{"lot number", m.Lot}, {"species", m.Species}, {"amount", m.Amount}, {"place of the salt", m.Where},
		{"use of the curd", m.For}, {"lot", m.ToLot}, {"lot", m.FromLot},
	} {
		if t.text == "" {
			continue
		}
		if err := cave.CheckName(t.thing, t.text); err != nil {
			return err
		}
	}
	return nil
}

func (m MakeLog) checkFigures() error {
	for _, x := range []float64{
		float64(m.Litres), m.HeatFor, float64(m.HeatTemp), float64(m.Fat), float64(m.Protein), m.PH,
		float64(m.Acid), float64(m.Weight), float64(m.Rate), float64(m.Load), m.Lever, float64(m.Diameter),
		float64(m.Moisture), float64(m.SD), float64(m.Salt),
	} {
		if !(x >= 0 && x <= float64(quantity.MaxBulk)) {
			return fmt.Errorf("a figure of the make's log is out of range")
		}
	}
	if m.What != LogComposition && m.Fat > 0.2 || m.Protein > 0.2 {
		return fmt.Errorf("milk with %.4g %% fat and %.4g %% protein is out of range; give 0 %% to 20 %%",
			m.Fat.Percent(), m.Protein.Percent())
	}
	return need(m.Rate <= 0.2, "a salt rate of %.4g %% of the curd is out of range; give 0 %% to 20 %%, like 1.8%%",
		m.Rate.Percent())
}

func (m MakeLog) checkMilk() error {
	switch {
	case m.Litres == 0:
		return fmt.Errorf("milk needs its volume")
	case m.Treatment != "" && !m.Treatment.known():
		return noTreatment(string(m.Treatment))
	case m.Treatment == Raw && (m.HeatTemp > 0 || m.HeatFor > 0):
		return fmt.Errorf("raw milk had no heat treatment; leave the heat out, or say thermised or pasteurised")
	case (m.HeatTemp > 0) != (m.HeatFor > 0) || m.HeatTemp > 150 || m.HeatFor > 86400:
		return fmt.Errorf("a heat treatment needs its temperature, at most 150 C, and for how long, at most a day")
	}
	return nil
}

func (m MakeLog) checkAcidity() error {
	switch {
	case m.PH == 0 && m.Acid == 0:
		return fmt.Errorf("an acidity needs a pH or a titratable acidity")
	case m.PH != 0 && (m.PH < 3 || m.PH > 9):
		return fmt.Errorf("a pH of %.4g is out of range; give 3 to 9", m.PH)
	case m.Acid > 0.05:
		return fmt.Errorf("a titratable acidity of %.4g %% is out of range; give percent lactic acid, like 0.16%%",
			m.Acid.Percent())
	}
	return nil
}

func (m MakeLog) checkPress() error {
	switch {
	case m.Load == 0:
		return fmt.Errorf("a press line needs its load")
	case m.Lever > 1000:
		return fmt.Errorf("a lever of %.4g is out of range; give its ratio, 1 to 1000", m.Lever)
	case m.Diameter != 0:
		return checkMould("diameter", m.Diameter)
	}
	return nil
}

// checkComposition checks the figures by themselves; MakeSheet.Check checks them
// together with those that weren't measured.
func (m MakeLog) checkComposition() error {
	switch {
	case m.Moisture == 0 && m.Fat == 0 && m.Salt == 0 && m.PH == 0:
		return fmt.Errorf("a composition needs a figure: moisture, fat, salt or pH")
	case m.SD > 0 && m.Moisture == 0:
		return fmt.Errorf("a standard deviation needs the moisture as well")
	case m.SD > 0.1:
		return fmt.Errorf("a standard deviation of %.4g %% is out of range; give at most 10 %%", m.SD.Percent())
	case m.PH != 0 && (m.PH < LowestPH || m.PH > HighestPH):
		return fmt.Errorf("a pH of %.4g is out of range; give 3.5 to 8", m.PH)
	}
	c := Composition{Moisture: m.Moisture, Fat: m.Fat, Salt: m.Salt}
	if m.Moisture == 0 {
		c.Moisture = 0.2 // unknown: low enough to leave room for any fat and salt
	}
	return c.Check()
}

// Detail is the line as an entry's Detail holds it.
func (m MakeLog) Detail() string { return encodeDetail(m) }

// ParseMakeLog reads what Detail wrote.
func ParseMakeLog(detail string) (MakeLog, error) {
	var m MakeLog
	if err := decodeDetail(detail, &m, "line of a make's log"); err != nil {
		return m, err
	}
	return m, m.Check()
}

// encodeDetail writes a plain struct as JSON.
func encodeDetail(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		return "" // only NaN and infinity, which no Check lets through
	}
	return string(b)
}

// decodeDetail reads one JSON value with known fields only; what names it in the
// error.
func decodeDetail(detail string, v any, what string) error {
	d := json.NewDecoder(strings.NewReader(detail))
	d.DisallowUnknownFields()
	if d.Decode(v) != nil {
		return fmt.Errorf("that isn't a %s", what)
	}
	if _, err := d.Token(); err != io.EOF {
		return fmt.Errorf("that is more than one %s", what)
	}
	return nil
}
