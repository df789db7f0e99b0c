package wheel

import (
	"cmp"
	"encoding/json"
	"io"
	"strings"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
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

// What is wrong with a line of a make's log and fits no other reason.
const (
	RawHeated     reason.Flat = "raw-milk-heated"
	HalfHeated    reason.Flat = "heat-incomplete" // a heat treatment has a temperature, at most 150 C, and a time
	NoAcidity     reason.Flat = "no-acidity"
	NoComposition reason.Flat = "no-composition"
)

// Check refuses a line without what it needs, and figures out of range. The bounds of
// this and the checks below are our own, wide ones.
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
		return has(m.Name != "", "ingredient-name")
	case LogAcidity:
		return m.checkAcidity()
	case LogTemp:
		if m.Temp == nil {
			return has(false, "temp")
		}
		return reason.Within("temp", *m.Temp, -10, 110)
	case LogCurd, LogSetAside, LogSalt:
		return has(m.Weight != 0, "weight")
	case LogFrom:
		return cmp.Or(has(m.Weight != 0, "weight"), has(m.FromLot != "", "lot"))
	case LogPress:
		return m.checkPress()
	case LogStep:
		return has(m.Stage != "", "step-name")
	case LogComposition:
		return m.checkComposition()
	}
	return reason.Err(reason.Unknown{What: "make-line", Word: string(m.What)})
}

// has is nil where the condition holds, else says what is missing.
func has(ok bool, what reason.Thing) error { return refuse(!ok, reason.Missing{What: what}) }

// refuse is nil unless the condition holds.
func refuse(no bool, why reason.Reason) error {
	if !no {
		return nil
	}
	return reason.Err(why)
}

func (m MakeLog) checkWords() error {
	toSite, to := cave.Sited(m.ToLot)
	fromSite, from := cave.Sited(m.FromLot)
	for _, t := range []struct {
		thing reason.Thing
		text  string
	}{
		{"stage", m.Stage}, {"source", m.Source}, {"ingredient", m.Name}, {"kind of ingredient", m.Kind},
		{"lot number", m.Lot}, {"species", m.Species}, {"amount", m.Amount}, {"place of the salt", m.Where},
		{"use of the curd", m.For}, {"lot", to}, {"lot", from},
		{"site", toSite}, {"site", fromSite},
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

// checkFigures has our own bounds, wide ones.
func (m MakeLog) checkFigures() error {
	for _, x := range []float64{
		float64(m.Litres), m.HeatFor, float64(m.HeatTemp), float64(m.Fat), float64(m.Protein), m.PH,
		float64(m.Acid), float64(m.Weight), float64(m.Rate), float64(m.Load), m.Lever, float64(m.Diameter),
		float64(m.Moisture), float64(m.SD), float64(m.Salt),
	} {
		if err := reason.Within("make-figure", x, 0, float64(quantity.MaxBulk)); err != nil {
			return err
		}
	}
	fat := m.Fat
	if m.What == LogComposition {
		fat = 0
	}
	return cmp.Or(
		reason.Within("milk-fat", fat, 0, 0.2), reason.Within("milk-protein", m.Protein, 0, 0.2),
		reason.Within("salt-rate", m.Rate, 0, 0.2),
	)
}

// checkMilk has our own bounds, wide ones.
func (m MakeLog) checkMilk() error {
	switch {
	case m.Treatment != "" && !m.Treatment.known():
		return noTreatment(string(m.Treatment))
	case m.Treatment == Raw && (m.HeatTemp > 0 || m.HeatFor > 0):
		return reason.Err(RawHeated)
	}
	return cmp.Or(
		has(m.Litres != 0, "volume"),
		refuse((m.HeatTemp > 0) != (m.HeatFor > 0) || m.HeatTemp > 150 || m.HeatFor > 86400, HalfHeated),
	)
}

// checkAcidity has our own bounds, wide ones.
func (m MakeLog) checkAcidity() error {
	if m.PH == 0 && m.Acid == 0 {
		return reason.Err(NoAcidity)
	}
	return cmp.Or(reason.Within("ph", cmp.Or(m.PH, 7), 3, 9), reason.Within("acid", m.Acid, 0, 0.05))
}

func (m MakeLog) checkPress() error {
	return cmp.Or(
		has(m.Load != 0, "load"), reason.Within("lever", m.Lever, 0, 1000),
		checkMould("diameter", cmp.Or(m.Diameter, 0.1)),
	)
}

// checkComposition checks the figures by themselves; MakeSheet.Check checks them
// together with those that weren't measured. The bounds are our own.
func (m MakeLog) checkComposition() error {
	switch {
	case m.Moisture == 0 && m.Fat == 0 && m.Salt == 0 && m.PH == 0:
		return reason.Err(NoComposition)
	case m.SD > 0 && m.Moisture == 0:
		return reason.Err(reason.Needs{What: "moisture-sd", Other: "moisture"})
	}
	err := cmp.Or(
		reason.Within("moisture-sd", m.SD, 0, 0.1), reason.Within("ph", cmp.Or(m.PH, 5), LowestPH, HighestPH),
	)
	if err != nil {
		return err
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
	if err := decodeDetail(detail, &m, "make-line"); err != nil {
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
func decodeDetail(detail string, v any, what reason.Thing) error {
	d := json.NewDecoder(strings.NewReader(detail))
	d.DisallowUnknownFields()
	if d.Decode(v) != nil {
		return reason.Err(reason.Unreadable{What: what, Word: detail})
	}
	if _, err := d.Token(); err != io.EOF {
		return reason.Err(reason.Unreadable{What: what, Word: detail})
	}
	return nil
}
