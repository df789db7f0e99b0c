package wheels

import (
	"context"
	"math"
	"slices"
	"strings"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/makes"
	"rindkeep/schedule"
	"rindkeep/store/derive"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/verdict"
)

// Card is all that is known of one wheel. Its words are filled by cmd/words.
type Card struct {
	Schema string `json:"schema"`
	Row
	Title     string   `json:"variety_title"`
	Made      string   `json:"made"`
	Shape     string   `json:"shape"`          // in words
	MadeKnown bool     `json:"made_known"`     // false: it was made on that date or before
	Green     *float64 `json:"green_weight_g"` // null where it came, or was taken over, unweighed
	Began     *string  `json:"drying_began"`
	First     *float64 `json:"first_weight_g"` // from which its losses count
	LossSince *string  `json:"loss_since"`     // when that was
	// Before is by the drying model alone; null where First is the green weight.
	Before      app.Est           `json:"lost_before_pct"`
	Arrival     *makes.Arrival    `json:"arrival"` // null of one kept here from its make
	Tare        *float64          `json:"coat_g"`
	Composition Composition       `json:"composition"`
	Limits      []Limit           `json:"limits"`
	Holds       []string          `json:"holds"`
	HeldFor     []HeldFor         `json:"held_for"` // the same, with who, when and kind
	Law         []library.LawHold `json:"law"`
	AirBy       []app.AirEntered  `json:"air_entered"` // where a law counts warm days
	Labels      []library.Label   `json:"labels"`
	Dry         *drying.Wheel     `json:"dry"` // null where its plan has no gate
	Due         []Due             `json:"due"`
	Notes       []string          `json:"notes"` // in words
	NotesWhy    reason.List       `json:"notes_reasons"`
	Photos      []app.Shot        `json:"photos"` // of the entries, the oldest first
	Entries     []app.EntryDoc    `json:"entries"`
	app.Cautioned

	Of   app.Judged     `json:"-"`
	Now  wheel.Now      `json:"-"` // what Composition has
	Zone *time.Location `json:"-"`
}

// Waits says whether the wheel is here and waits for its coat.
func (d Card) Waits() bool { return d.Of.Gated && len(d.Of.Life.Coats) == 0 && d.Gone == nil }

// Last is the last entries, at most so many; 0: all.
func (d Card) Last(most int) []app.EntryDoc {
	if most <= 0 || most > len(d.Entries) {
		return d.Entries
	}
	return d.Entries[len(d.Entries)-most:]
}

// Composition is what a wheel is made of now.
type Composition struct {
	Moisture app.Est `json:"moisture_pct"`
	MFFB     app.Est `json:"mffb_pct"`
	FDM      app.Est `json:"fdm_pct"`
	SM       app.Est `json:"salt_in_moisture_pct"`
	AW       app.Est `json:"water_activity"`
}

// HeldFor is a hold set by hand.
type HeldFor struct {
	Kind   string `json:"kind"` // a wheel.HoldKind; "": not said
	Safety bool   `json:"safety"`
	Why    string `json:"why"`
	Since  string `json:"since"`
	By     string `json:"by"`

	Of wheel.Hold `json:"-"`
}

// LimitCode is how programs know what a limit is of.
type LimitCode string

// The limits.
const (
	MostMoisture LimitCode = "moisture-at-most"
	LeastFat     LimitCode = "fat-in-solids-at-least"
	LeastAge     LimitCode = "age-at-least"
	LawDays      LimitCode = "days-by-law"
	UsualAge     LimitCode = "usual-ripening" // information and no limit: always Met
)

// Limit is a limit of a standard or a law beside what the wheel has, for information:
// in percent or days.
type Limit struct {
	Limit  string    `json:"limit"` // in words
	Have   string    `json:"have"`  // in words
	Met    bool      `json:"met"`
	Source string    `json:"source"`
	Code   LimitCode `json:"code"`
	Bound  float64   `json:"bound"`
	Value  *float64  `json:"value"`

	Unread int           `json:"without_a_reading_days"` // of LawDays: those of the value that nobody read the air on
	Rule   holdrule.Rule `json:"-"`                      // of LawDays
	By     []string      `json:"-"`                      // the countries that follow it
}

// Due is a job that is due or will be.
type Due struct {
	Job     string      `json:"job"`
	Due     string      `json:"due"`
	Late    int         `json:"late_days"`
	Why     string      `json:"why"` // in words
	Reasons reason.List `json:"reasons"`
	Coat    string      `json:"coat"`

	On    day.Date `json:"-"`
	Today bool     `json:"-"` // it is on today's list
}

// SeeWheels is a remedy: list the wheels that a word names.
type SeeWheels struct {
	What string `json:"what"`
}

// Code implements reason.Reason.
func (SeeWheels) Code() string { return "see-wheels" }

// Show is one wheel, named by its tag.
func Show(ctx context.Context, a *app.App, c app.Caller, tag string) (Card, error) {
	return app.Ask(ctx, a, c, func(s *app.Session) (Card, error) { return Gather(s, tag) })
}

// Gather is Show in a transaction that is open.
func Gather(s *app.Session, tag string) (Card, error) {
	ws, err := s.Pick([]string{tag})
	if err != nil {
		return Card{}, err
	}
	if len(ws) != 1 || !strings.EqualFold(ws[0].Tag, tag) && !app.ShortTag(tag) {
		return Card{}, app.Misuse("wheel", OneWheel, SeeWheels{tag})
	}
	return cardOf(s, ws[0])
}

func cardOf(s *app.Session, st derive.WheelState) (Card, error) {
	row, err := rowOf(s, st, false)
	if err != nil {
		return Card{}, err
	}
	j, err := s.Judge(st, s.Time)
	if err != nil {
		return Card{}, err
	}
	others, err := s.HoldsOfLot(j.Life)
	if err != nil {
		return Card{}, err
	}
	if j.Life.GoneOn == day.None {
		j.Life.Holds = slices.Concat(j.Life.Holds, others)
	}
	l, now := j.Life, composition(j)
	d := Card{
		Schema: app.Schema("wheel"), Row: row, Title: j.Variety.Title, Made: l.Make.Date.String(),
		MadeKnown: !l.Make.MadeBefore, First: app.Grams(l.Chain.Green), Before: app.EstOf(quantity.Unknown()),
		Tare: app.Grams(l.Chain.Tare),
		Composition: Composition{
			app.PctEst(now.Moisture), app.PctEst(now.MFFB), app.PctEst(now.FDM), app.PctEst(now.SaltInMoisture),
			app.EstOf(now.WaterActivity),
		},
		Limits: limits(j, now, s.Time, s.Today), Holds: []string{}, HeldFor: []HeldFor{},
		Law:    library.LawHolds(j.LawDays(s.Time)),
		Labels: library.Labels(j.Labels()), Due: []Due{}, NotesWhy: l.Chain.Notes, Entries: []app.EntryDoc{},
		Of: j, Now: now, Zone: s.Zone,
	}
	d.count(s)
	if d.AirBy = []app.AirEntered{}; j.CountsWarm() {
		if d.AirBy, err = s.AirOf(l); err != nil {
			return d, err
		}
	}
	for _, h := range l.Holds {
		d.Holds = append(d.Holds, h.Why)
		d.HeldFor = append(d.HeldFor, HeldFor{string(h.Kind), h.Kind.Safety(), h.Why, h.On.String(), h.By, h})
	}
	if j.Gated {
		dry := drying.WheelOf(j)
		d.Dry = &dry
	}
	tasks, err := s.Tx.TasksOf(st.Wheel)
	if err != nil {
		return d, err
	}
	for _, t := range tasks {
		d.Due = append(d.Due, dueOf(t.Task, s.Today))
	}
	raw, err := s.RawMilk(l.Make, l.Make.Milk.Treatment)
	if err != nil {
		return d, err
	}
	d.WarnRaw(raw)
	if j.Gated && (j.Dry.Answer == verdict.DryEnough || j.Dry.Answer == verdict.CheckByHand) {
		d.Warn(app.HazardsOf(wheel.Coat, j.Coat, 0)...)
	}
	return d, d.history(s, st)
}

// count says from when the wheel's losses count, and how it came.
func (d *Card) count(s *app.Session) {
	l := d.Of.Life
	if l.Chain.Green > 0 {
		d.LossSince = app.OrNull(app.Instant(l.Chain.Began, s.Zone))
	}
	if l.Aged() {
		d.Before = app.PctEst(d.Of.Forecast.Before())
	} else {
		d.Green, d.Began = d.First, d.LossSince
	}
	if n := len(l.Arrivals); n > 0 {
		e, ok := l.Received()
		if !ok {
			e = l.Arrivals[n-1]
		}
		a := makes.ArrivalOf(e, s.Zone)
		d.Arrival = &a
	}
}

func (d *Card) history(s *app.Session, st derive.WheelState) error {
	all, err := s.Tx.History(st.Wheel)
	live := map[[16]byte]wheel.Entry{}
	for _, e := range wheel.Live(all) {
		live[e.ID] = e
	}
	for _, e := range all {
		l, counts := live[e.ID]
		if counts {
			e = l
		}
		d.Entries = append(d.Entries, s.EntryDoc(e, e.Kind != wheel.Struck && !counts))
	}
	d.Photos = app.Shots(d.Entries)
	return err
}

func dueOf(t schedule.Task, today day.Date) Due {
	d := Due{Job: string(t.Job), Due: t.Due.String(), Reasons: t.Why, Coat: t.Coat, On: t.Due}
	on, listed := t.On(today)
	if d.Today = listed; listed {
		d.Late = on.LateDays
	}
	return d
}

// composition is what a wheel is made of after the loss it was last weighed at, or
// after the one its curve gives where it never was.
func composition(j app.Judged) wheel.Now {
	loss := quantity.Fraction(0)
	if j.Dry.Weighings > 0 {
		loss = j.Dry.Loss
	} else if j.Dry.Present.Known() {
		loss = quantity.Fraction(j.Dry.Present.Best)
	}
	return j.Start(j.Forecast).After(loss)
}

// limits compares a wheel with what standards and laws ask of its kind.
func limits(j app.Judged, now wheel.Now, at time.Time, today day.Date) []Limit {
	l, age := j.Variety.LimitsOf(j.Life.Make.SoldAs), j.Life.Age(today)
	out := []Limit{}
	add := func(x Limit, value float64) {
		x.Value = app.Num(value)
		out = append(out, x)
	}
	if most := l.MaxMoisture; most > 0 {
		met := now.Moisture.Best <= float64(most)
		add(Limit{Code: MostMoisture, Bound: most.Percent(), Met: met, Source: l.Source}, 100*now.Moisture.Best)
	}
	if least := l.MinFatInSolids; least > 0 {
		met := now.FDM.Best >= float64(least)
		add(Limit{Code: LeastFat, Bound: least.Percent(), Met: met, Source: l.Source}, 100*now.FDM.Best)
	}
	if l.MinDays > 0 {
		met := age >= l.MinDays
		add(Limit{Code: LeastAge, Bound: float64(l.MinDays), Met: met, Source: l.Source}, float64(age))
	}
	if l.UsualDays > 0 {
		add(Limit{Code: UsualAge, Bound: float64(l.UsualDays), Met: true, Source: l.Source}, float64(age))
	}
	for _, h := range j.LawDays(at) {
		if !h.Rule.Holds() { // it asks only for the milk
			continue
		}
		add(Limit{
			Code: LawDays, Bound: float64(h.Days), Met: !h.Open(), Source: h.Rule.Cite(), Unread: h.UnreadDays(),
			Rule: h.Rule, By: h.By,
		},
			math.Floor(h.Have))
	}
	return out
}
