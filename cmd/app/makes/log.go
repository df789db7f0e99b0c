package makes

import (
	"context"
	"errors"
	"slices"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/wheel"
)

// Line is a line of a make's log.
type Line struct {
	Mark      string   `json:"mark"`
	At        string   `json:"at"`
	By        string   `json:"by"`
	What      string   `json:"what"`
	Stage     string   `json:"stage"`
	Source    string   `json:"source"`
	Name      string   `json:"name"`
	Kind      string   `json:"kind"`
	Lot       string   `json:"lot"`
	Species   string   `json:"species"`
	Litres    *float64 `json:"milk_l"`
	Treatment string   `json:"treatment"`
	HeatTemp  *float64 `json:"heat_temp_c"`
	HeatFor   *float64 `json:"heat_s"`
	Fat       *float64 `json:"fat_pct"`
	Protein   *float64 `json:"protein_pct"`
	Amount    string   `json:"amount"`
	PH        *float64 `json:"ph"`
	Acid      *float64 `json:"acid_pct"`
	Temp      *float64 `json:"temp_c"`
	Weight    *float64 `json:"weight_g"`
	Where     string   `json:"where"`
	Rate      *float64 `json:"rate_pct"`
	Curd      *float64 `json:"of_curd_g"`
	Computed  *float64 `json:"computed_g"`
	For       string   `json:"for"`
	ToLot     string   `json:"to_lot"`
	FromLot   string   `json:"from_lot"`
	Load      *float64 `json:"load_g"`
	Lever     *float64 `json:"lever_ratio"`
	Diameter  *float64 `json:"diameter_cm"`
	Pressure  *float64 `json:"pressure_kpa"`
	Turned    *bool    `json:"turned"`
	Moisture  *float64 `json:"moisture_pct"`
	SD        *float64 `json:"moisture_sd_pct"`
	Salt      *float64 `json:"salt_pct"`
	Note      string   `json:"note"`

	Log   wheel.MakeLog `json:"-"`
	Dose  wheel.Dose    `json:"-"` // of salt
	Press wheel.Press   `json:"-"` // lever and mould as the lines before have them
}

func lineOf(sheet wheel.MakeSheet, i int, zone *time.Location) Line {
	e, m := sheet.Lines[i].Entry, sheet.Lines[i].Log
	d := Line{
		Mark: e.Mark(), At: app.Instant(e.At, zone), By: e.By, What: string(m.What), Stage: m.Stage, Source: m.Source,
		Name: m.Name, Kind: m.Kind, Lot: m.Lot, Species: m.Species,
		Litres: app.Some(float64(m.Litres)), Treatment: string(m.Treatment),
		HeatTemp: app.Some(float64(m.HeatTemp)), HeatFor: app.Some(m.HeatFor), Fat: app.Some(m.Fat.Percent()),
		Protein: app.Some(m.Protein.Percent()), Amount: m.Amount, PH: app.Some(m.PH), Acid: app.Some(m.Acid.Percent()),
		Weight: app.Grams(m.Weight), Where: m.Where, Rate: app.Some(m.Rate.Percent()), For: m.For, ToLot: m.ToLot,
		FromLot: m.FromLot, Load: app.Grams(m.Load), Diameter: app.Some(m.Diameter.Centimetres()),
		Moisture: app.Some(m.Moisture.Percent()), SD: app.Some(m.SD.Percent()), Salt: app.Some(m.Salt.Percent()),
		Note: e.Note, Log: m,
	}
	if m.Temp != nil {
		d.Temp = app.Num(*m.Temp)
	}
	switch m.What {
	case wheel.LogSalt:
		d.Dose = sheet.DoseAt(i)
		d.Curd, d.Computed = app.Grams(d.Dose.Curd), app.Grams(d.Dose.Computed)
	case wheel.LogPress:
		d.Press = sheet.PressAt(i)
		d.Lever, d.Turned = app.Num(d.Press.Lever), &m.Turned
		d.Pressure = app.Some(d.Press.Pressure().In(quantity.KilopascalPa))
	}
	return d
}

// NewLine asks to write a line of a make's log.
type NewLine struct {
	Lot  string
	Line wheel.MakeLog
	Note string
}

// Logged is the line as it is in the log now.
type Logged struct {
	Schema string `json:"schema"`
	Lot    string `json:"lot"`
	Line   Line   `json:"line"`
	Same   bool   `json:"no_change"`
	app.Cautioned

	When time.Time `json:"-"` // in the book's zone
	Into string    `json:"-"` // the lot that curd went into
}

// SaltMissing refuses a salting without the dose that was given. Computed is what
// the rate comes to, 0 where the curd isn't known.
type SaltMissing struct {
	Lot      string            `json:"lot"`
	Rate     quantity.Fraction `json:"rate_fraction"`
	Curd     quantity.Grams    `json:"of_curd_g"`
	Computed quantity.Grams    `json:"computed_g"`
}

// WeighSalt is the remedy for SaltMissing.
type WeighSalt SaltMissing

// IntoItself refuses curd set aside into its own lot.
type IntoItself struct {
	Lot string `json:"lot"`
}

// IntoEarlier refuses curd set aside into a lot that was made before.
type IntoEarlier struct {
	Lot  string   `json:"lot"`
	Made day.Date `json:"made"`
	From string   `json:"from_lot"`
}

// MakeFirst is a remedy: the make isn't in the book yet.
type MakeFirst struct {
	Lot string `json:"lot"`
}

// MilkIntoVat is a remedy: milk is logged with the time it went into the vat.
const MilkIntoVat reason.Flat = "milk-into-vat"

// The codes.

func (SaltMissing) Code() string { return "salt-missing" }
func (WeighSalt) Code() string   { return "weigh-salt" }
func (IntoItself) Code() string  { return "curd-into-itself" }
func (IntoEarlier) Code() string { return "curd-into-earlier" }
func (MakeFirst) Code() string   { return "make-first" }

// Log writes a line of a make's log. Curd set aside into another lot is written on
// both.
func Log(ctx context.Context, a *app.App, c app.Caller, q NewLine) (app.Did[Logged], error) {
	return app.Act(ctx, a, c, func(s *app.Session) (Logged, error) { return logged(s, q.Lot, q.Line, q.Note) })
}

func logged(s *app.Session, lot string, m wheel.MakeLog, note string) (Logged, error) {
	d := Logged{Schema: app.Schema("make-log")}
	mk, err := Lot(s, lot)
	if err != nil {
		return d, err
	}
	d.Lot = mk.Lot
	when, _, err := s.Moment()
	if err != nil {
		return d, err
	}
	d.When = when.In(s.Zone)
	if m.What == wheel.LogSalt && m.Weight == 0 && m.Rate > 0 {
		return d, saltMissing(s, mk, m, when)
	}
	if err := m.Check(); err != nil {
		return d, app.Misread("", err)
	}
	var other wheel.Make
	if m.ToLot != "" {
		if other, err = intoLot(s, mk, m.ToLot); err != nil {
			return d, err
		}
		m.ToLot, d.Into = other.Lot, other.Lot
	}
	line := func(of wheel.Make, l wheel.MakeLog) wheel.Entry {
		return s.Entry(wheel.Entry{Subject: of.ID, Kind: wheel.Logged, At: when, Note: note, Detail: l.Detail()})
	}
	entries := []wheel.Entry{line(mk, m)}
	if m.ToLot != "" {
		came := wheel.MakeLog{What: wheel.LogFrom, Weight: m.Weight, For: m.For, FromLot: mk.Lot}
		entries = append(entries, line(other, came))
	}
	res, err := s.Write.Put(entries...)
	if err != nil {
		if day.At(when, s.Zone) < mk.Date && m.What == wheel.LogMilk {
			r := app.AsRefusal(err)
			r.Remedy = reason.List{MilkIntoVat}
			return d, r
		}
		return d, err
	}
	sheet, err := s.Tx.MakeSheet(mk.ID)
	if err != nil {
		return d, err
	}
	if err := sheet.Check(); err != nil {
		return d, err
	}
	i := slices.IndexFunc(sheet.Lines, func(l wheel.MakeLine) bool { return l.Entry.Same(entries[0]) })
	if i < 0 {
		return d, errors.New("the line is not in the log of lot " + mk.Lot)
	}
	d.Line, d.Same = lineOf(sheet, i, s.Zone), res.Written == 0
	d.hazards(m)
	return d, d.caution(s, mk, other, sheet, entries[0])
}

// hazards adds what can hurt somebody at a line's work.
func (d *Logged) hazards(m wheel.MakeLog) {
	switch {
	case m.Treatment == wheel.Pasteurised && m.HeatFor > 0 && !m.Pasteurises():
		d.Warn(app.CoolMilk)
	case m.What == wheel.LogPress:
		d.Warn(app.PressArm)
	case m.What == wheel.LogSalt && m.Where == "brine":
		d.Warn(app.Brine)
	}
}

// caution adds the caution of raw milk, where the log didn't tell of it already.
func (d *Logged) caution(s *app.Session, mk, other wheel.Make, sheet wheel.MakeSheet, e wheel.Entry) error {
	of, milk := mk, d.Line.Log.Treatment
	if d.Into != "" {
		m, err := s.Tx.MilkOf(other.ID)
		if err != nil {
			return err
		}
		of, milk = other, m.Treatment
	} else if slices.ContainsFunc(sheet.Lines, func(l wheel.MakeLine) bool {
		return l.Log.Treatment == wheel.Raw && !l.Entry.Same(e)
	}) {
		return nil
	}
	raw, err := s.RawMilk(of, milk)
	d.WarnRaw(raw)
	return err
}

func saltMissing(s *app.Session, mk wheel.Make, m wheel.MakeLog, when time.Time) error {
	sheet, err := s.Tx.MakeSheet(mk.ID)
	if err != nil {
		return err
	}
	d := sheet.DoseThen(when, m)
	why := SaltMissing{mk.Lot, m.Rate, d.Curd, d.Computed}
	return app.Misuse("weight", why, WeighSalt(why))
}

// intoLot is the lot that curd of another went into.
func intoLot(s *app.Session, mk wheel.Make, lot string) (wheel.Make, error) {
	other, err := Lot(s, lot)
	switch {
	case app.IsNotFound(err):
		r := app.AsRefusal(err)
		r.At, r.Remedy = app.Place{Field: "into"}, reason.List{MakeFirst{lot}}
		return other, r
	case err != nil:
		return other, app.At("into", err)
	case other.ID == mk.ID:
		return other, app.Misuse("into", IntoItself{mk.Lot})
	case other.Date < mk.Date:
		return other, app.Refuse(IntoEarlier{other.Lot, other.Date, mk.Lot}).In("into")
	}
	return other, nil
}
