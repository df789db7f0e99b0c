// Package makes has the questions and acts about makes: a vat's production on one
// day, its log, and its wheels as they come out of the press.
package makes

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/wheel"
	"rindkeep/wheel/shape"
)

// Make is a make in JSON.
type Make struct {
	Lot       string   `json:"lot"`
	Date      string   `json:"date"`
	DateKnown bool     `json:"date_known"` // false: it was made on that date or before
	Began     *string  `json:"began"`
	Countries []string `json:"countries"`
	SoldAs    string   `json:"sold_as"`
	Variety   string   `json:"variety"`
	Wheels    int      `json:"wheels"`
	Species   *string  `json:"milk_species"`
	Litres    *float64 `json:"milk_l"`
	Treatment *string  `json:"milk_treatment"`
	MilkFat   *float64 `json:"milk_fat_pct"`
	Protein   *float64 `json:"milk_protein_pct"`
	Curd      *float64 `json:"curd_g"`
	Aside     *float64 `json:"set_aside_g"`
	AsideFor  string   `json:"set_aside_for"`
	Salt      *float64 `json:"salt_g"`
	SaltRate  *float64 `json:"salt_rate_pct"`
	SaltWhere string   `json:"salt_where"`
	Moisture  *float64 `json:"start_moisture_pct"`
	Fat       *float64 `json:"start_fat_pct"`
	CheeseSt  *float64 `json:"start_salt_pct"`
	Measured  bool     `json:"start_measured"`
	Note      string   `json:"note"`
	By        string   `json:"by"`
	ID        string   `json:"id"`

	MoistureSD *float64     `json:"start_moisture_sd_pct"`
	PH         *float64     `json:"start_ph"`
	Shape      *shape.Shape `json:"shape"` // of all its wheels, where a correction said so
	Removed    bool         `json:"removed"`
}

func docOf(m wheel.Make, wheels int, zone *time.Location) Make {
	d := Make{
		Lot: m.Lot, Date: m.Date.String(), DateKnown: !m.MadeBefore,
		Countries: app.Filled(strings.Fields(m.Countries)), SoldAs: m.SoldAs, Variety: m.Variety,
		Wheels: wheels, Species: app.OrNull(m.Milk.Species), Litres: app.Some(float64(m.Milk.Litres)),
		Treatment: app.OrNull(string(m.Milk.Treatment)), MilkFat: app.Some(m.Milk.Fat.Percent()),
		Protein: app.Some(m.Milk.Protein.Percent()), Curd: app.Grams(m.Curd), Aside: app.Grams(m.SetAside),
		AsideFor: m.SetAsideFor, Salt: app.Grams(m.SaltMass), SaltRate: app.Some(m.SaltRate.Percent()),
		SaltWhere: m.SaltWhere, Moisture: app.PctNum(m.Start.Moisture),
		Fat: app.PctNum(m.Start.Fat), CheeseSt: app.PctNum(m.Start.Salt),
		Measured: m.Start.Measured, Note: m.Note, By: m.By, ID: m.ID.String(),
	}
	d.MoistureSD, d.PH, d.Removed = app.PctNum(m.Start.MoistureSD), app.Some(m.Start.PH), m.Removed
	if m.Shape.Known() {
		d.Shape = &m.Shape
	}
	if !m.Began.IsZero() {
		d.Began = app.OrNull(app.Instant(m.Began, zone))
	}
	return d
}

// NotALot: the word can't be a lot code.
const NotALot reason.Flat = "not-a-lot"

// LotsUnder refuses the lot code of a supplier under which several lots came.
type LotsUnder struct {
	Word string   `json:"lot"`
	Lots []string `json:"lots"`
}

// Code implements reason.Reason.
func (LotsUnder) Code() string { return "lots-under-code" }

// Lot finds a make by its lot code, by the tag of one of its wheels, or by the lot code
// of the supplier that its wheels came from.
func Lot(s *app.Session, word string) (wheel.Make, error) {
	if !app.Printable(word) {
		return wheel.Make{}, app.Refuse(NotALot).In("lot")
	}
	m, err := s.Tx.MakeByLot(word)
	if err == nil || !app.IsNotFound(err) {
		return m, err
	}
	if w, werr := s.Tx.WheelByTag(word); werr == nil {
		return s.Tx.Make(w.Make)
	}
	came, cerr := s.ReceivedAs(word)
	if cerr != nil || len(came) == 0 {
		return m, cmp.Or(cerr, app.About(word, err))
	}
	var lots []string
	for _, w := range came {
		if m, err = s.Tx.Make(w.Make); err != nil {
			return m, err
		}
		if !slices.Contains(lots, m.Lot) {
			lots = append(lots, m.Lot)
		}
	}
	if len(lots) > 1 {
		return m, app.Refuse(LotsUnder{word, lots}).In("lot")
	}
	return m, nil
}

// fromLog is a make as its log and the lots its curd came from tell of it.
func fromLog(s *app.Session, sheet wheel.MakeSheet) (wheel.Make, error) {
	m := sheet.FromLog()
	var err error
	m.Milk, err = s.Tx.MilkOf(m.ID)
	m.Lab = wheel.LabOf(sheet.Tests)
	return m, err
}

// Yield is a make's yield in JSON.
type Yield struct {
	Milk     *float64 `json:"milk_g"`
	Kept     *float64 `json:"curd_kept_pct"`
	Expected *float64 `json:"expected_g"`
	Got      *float64 `json:"got_g"`
	OfMilk   *float64 `json:"got_of_milk_pct"`
	Of       *float64 `json:"got_of_expected_pct"`
	Wheels   int      `json:"wheels"`
	Weighed  int      `json:"wheels_weighed"`
	Formula  string   `json:"formula"`
}

// Output is what the wheels of a make weigh out of the press, against its milk.
type Output struct {
	wheel.Green
	Yield      *Yield // nil where it can't be known
	wheelYield wheel.Yield
}

// Compared is the yield with its types; ok is false where it can't be known.
func (o Output) Compared() (y wheel.Yield, ok bool) { return o.wheelYield, o.Yield != nil }

// outputOf is a make's output, and the lives of its wheels as their own entries tell
// of them.
func outputOf(s *app.Session, mk wheel.Make, sheet wheel.MakeSheet) (o Output, lives []wheel.Life, err error) {
	ws, err := s.Tx.WheelsOf(mk.ID)
	if err != nil {
		return o, nil, err
	}
	for _, w := range ws {
		es, err := s.Tx.History(w.ID)
		if err != nil {
			return o, nil, err
		}
		l := wheel.NewLife(w, mk, es, s.Zone, nil)
		lives = append(lives, l)
		o.Add(l)
	}
	y, ok := sheet.YieldOf(o.Green)
	if o.wheelYield = y; ok {
		o.Yield = &Yield{
			app.Num(float64(y.Milk)), app.PctNum(y.Kept), app.Num(float64(y.Expected)), app.Grams(y.Got),
			app.Some(y.OfMilk.Percent()), app.Some(y.Of.Percent()), o.Wheels, o.Weighed, "Van Slyke, as in Mullan 2008",
		}
	}
	return o, lives, nil
}
