// Package wheel models makes, wheels and what happens to them: entries, the
// stages that follow from them, weight loss across coats, cores and cuts, and
// composition as water leaves. Masses are grams, ratios fractions, days calendar
// dates in the given zone. It does no input or output and reads no clock.
package wheel

import (
	"cmp"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel/shape"
)

// Milk is what a make was made from. Fat and Protein are fractions of the milk's
// mass. Zero and "" mean unknown.
type Milk struct {
	Species   string            `json:"species,omitempty"`
	Litres    quantity.Litres   `json:"litres,omitempty"`
	Treatment Treatment         `json:"treatment,omitempty"`
	Fat       quantity.Fraction `json:"fat_fraction,omitempty"`
	Protein   quantity.Fraction `json:"protein_fraction,omitempty"`
}

// Treatment is the heat treatment of milk.
type Treatment string

// The heat treatments of milk.
const (
	Raw         Treatment = "raw"
	Thermised   Treatment = "thermised"
	Pasteurised Treatment = "pasteurised"
)

func (t Treatment) known() bool { return t == Raw || t == Thermised || t == Pasteurised }

func noTreatment(s string) error {
	return reason.Err(reason.Unknown{What: "milk-treatment", Word: s, Known: "raw, thermised, pasteurised"})
}

// ParseTreatment reads raw, thermised or pasteurised (either spelling).
func ParseTreatment(s string) (Treatment, error) {
	t := Treatment(strings.ReplaceAll(strings.ToLower(strings.TrimSpace(s)), "z", "s"))
	if !t.known() {
		return "", noTreatment(s)
	}
	return t, nil
}

// Composition is what a wheel consists of when drying starts, as fractions of its
// mass, wet basis. The SDs are one standard deviation of the uncertainty.
// Measured is false if the figures are the variety's.
type Composition struct {
	Moisture   quantity.Fraction `json:"moisture_fraction"`
	MoistureSD quantity.Fraction `json:"moisture_sd_fraction"`
	Fat        quantity.Fraction `json:"fat_fraction"`
	FatSD      quantity.Fraction `json:"fat_sd_fraction,omitempty"`
	Salt       quantity.Fraction `json:"salt_fraction"`
	SaltSD     quantity.Fraction `json:"salt_sd_fraction,omitempty"`
	PH         float64           `json:"ph,omitempty"`
	Measured   bool              `json:"measured"`
}

// LabSD is the standard deviation of a measured moisture that came without one:
// 0.5 points, as with an oven or balance. Common practice, no source.
const LabSD quantity.Fraction = 0.005

// The pH that a cheese can have as drying starts: our own bounds, wide ones.
const (
	LowestPH  = 3.5
	HighestPH = 8
)

// With replaces the figures that a lab has measured.
func (c Composition) With(m MakeLog) Composition {
	if m.Moisture > 0 {
		c.Moisture, c.MoistureSD, c.Measured = m.Moisture, LabSD, true
		if m.SD > 0 {
			c.MoistureSD = m.SD
		}
	}
	if m.Fat > 0 {
		c.Fat = m.Fat
	}
	if m.Salt > 0 {
		c.Salt = m.Salt
	}
	if m.PH > 0 {
		c.PH = m.PH
	}
	return c
}

// Check refuses figures out of range: our own bounds, wide ones.
func (c Composition) Check() error {
	return cmp.Or(
		reason.Within("moisture", c.Moisture, 0.15, 0.85), reason.Within("fat", c.Fat, 0, 0.6),
		reason.Within("salt", c.Salt, 0, 0.15), reason.Within("moisture-fat-salt", c.Moisture+c.Fat+c.Salt, 0, 0.98),
	)
}

// Make is one vat's production on one day. A zero wasn't recorded.
type Make struct {
	ID          uuid.UUID         `json:"id"`
	Lot         string            `json:"lot"`
	Date        day.Date          `json:"date"`
	Variety     string            `json:"variety"`
	Milk        Milk              `json:"milk"`
	Curd        quantity.Grams    `json:"curd_g,omitempty"`
	SetAside    quantity.Grams    `json:"set_aside_g,omitempty"`
	SetAsideFor string            `json:"set_aside_for,omitempty"`
	SaltMass    quantity.Grams    `json:"salt_g,omitempty"`
	SaltRate    quantity.Fraction `json:"salt_rate_fraction,omitempty"`
	SaltWhere   string            `json:"salt_where,omitempty"`
	Start       Composition       `json:"start"`
	Began       time.Time         `json:"began,omitzero"`        // milk into the vat; a plan's minutes_after start here
	SoldAs      string            `json:"sold_as,omitempty"`     // the name its wheels are sold under; "": not said
	Countries   string            `json:"countries,omitempty"`   // whose law its wheels follow, "CA US"; "": the book's
	MadeBefore  bool              `json:"made_before,omitempty"` // its date isn't known: Date is the latest it can be
	Shape       shape.Shape       `json:"shape,omitzero"`        // of all its wheels, in place of theirs; unknown: theirs
	Note        string            `json:"note,omitempty"`
	Written     time.Time         `json:"written"`
	By          string            `json:"by,omitempty"`
	Removed     bool              `json:"-"` // it was entered by mistake, as an entry says
	Lab         *Lab              `json:"-"` // of samples of it and of the lots whose curd it has; nil: there are none
}

// MoreAside is more curd set aside than there was.
type MoreAside struct {
	Lot   string         `json:"lot"`
	Aside quantity.Grams `json:"aside_g"`
	Was   quantity.Grams `json:"was_g"`
}

// Code is more-curd-aside.
func (MoreAside) Code() string { return "more-curd-aside" }

// Check refuses a make that contradicts itself. The years are our choice, as
// day.MaxDate.
func (m Make) Check() error {
	if err := cave.CheckSited("lot", m.Lot); err != nil {
		return err
	}
	if m.Date < 0 || m.Date > day.MaxDate {
		return reason.Err(reason.Missing{What: "make-date"})
	}
	if m.SetAside > 0 && m.Curd > 0 && m.SetAside > m.Curd {
		return reason.Err(MoreAside{m.Lot, m.SetAside, m.Curd})
	}
	if !m.Began.IsZero() && (m.Began.Unix() < 0 || m.Began.Year() > 9999) {
		return reason.Err(reason.Outside[int]{What: "year", Value: m.Began.Year(), Low: 1970, High: 9999})
	}
	for _, text := range []string{m.SoldAs, m.Note} {
		if err := CheckNote(text); err != nil {
			return err
		}
	}
	return m.Start.Check()
}

// Wheel is one cheese as it came into the book. Its tag, place and plan may change
// later, through its entries.
type Wheel struct {
	ID      uuid.UUID   `json:"id"`
	Make    uuid.UUID   `json:"make"`
	Number  int         `json:"number"`
	Tag     string      `json:"tag"`
	Place   cave.Place  `json:"place,omitempty"`
	Plan    string      `json:"plan"`
	Shape   shape.Shape `json:"shape"`
	Since   time.Time   `json:"since"` // when the book began to keep it; nothing was due before
	Written time.Time   `json:"written"`
	By      string      `json:"by,omitempty"`
}

// Check refuses a wheel that can't be one by itself.
func (w Wheel) Check() error {
	switch {
	case w.ID == uuid.Nil || w.Make == uuid.Nil:
		return reason.Err(reason.Missing{What: "id"})
	case w.Number < 1 || w.Number > math.MaxInt32:
		return reason.Err(reason.Outside[int]{What: "number", Value: w.Number, Low: 1, High: math.MaxInt32})
	case w.Since.Unix() < 0 || w.Written.Unix() < 0:
		year := min(w.Since.Year(), w.Written.Year()) // as times are kept from 1970 to 9999: our choice
		return reason.Err(reason.Outside[int]{What: "year", Value: year, Low: 1970, High: 9999})
	}
	if w.By != "" {
		if err := cave.CheckName("person", w.By); err != nil {
			return err
		}
	}
	if w.Shape.Known() {
		if err := w.Shape.Check(); err != nil {
			return err
		}
	}
	return cmp.Or(cave.CheckSited("tag", w.Tag), cave.CheckName("plan", w.Plan), w.checkPlace())
}

func (w Wheel) checkPlace() error {
	if w.Place == "" {
		return nil
	}
	return checkPlace(w.Place)
}

// checkPlace refuses a place that isn't spelt as one.
func checkPlace(p cave.Place) error {
	q, err := cave.ParsePlace(string(p))
	if err == nil && p != q {
		err = reason.Err(reason.Unreadable{What: "place", Word: string(p)})
	}
	return err
}

// MaxNote is the longest note, in bytes: our choice.
const MaxNote = 2000

// CheckNote refuses free text that is longer than MaxNote bytes, invalid, or not
// printable apart from line breaks and tabs.
func CheckNote(s string) error {
	return cave.CheckText("note", s, MaxNote, "\n\t")
}

// DefaultLot is the lot code of a make on date d: yymmdd, the code of a site if it has one, and the
// first letter that isn't taken. AA follows Z, the 26th by definition.
func DefaultLot(d day.Date, site string, taken func(lot string) bool) string {
	y, m, dd := d.Civil()
	for i := 0; ; i++ {
		letters := ""
		for n := i; ; n = n/26 - 1 {
			letters = string(rune('A'+n%26)) + letters
			if n < 26 {
				break
			}
		}
		if lot := fmt.Sprintf("%02d%02d%02d%s%s", y%100, int(m), dd, site, letters); !taken(lot) {
			return lot
		}
	}
}

// DefaultTag is the tag of the n-th wheel (from 1) in a lot of the given size:
// lot, dash, number. Numbers are padded so that a lot's tags sort.
func DefaultTag(lot string, n, size int) string {
	return fmt.Sprintf("%s-%0*d", lot, max(2, len(fmt.Sprint(size))), n)
}
