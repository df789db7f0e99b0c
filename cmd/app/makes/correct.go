package makes

import (
	"context"
	"reflect"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/shape"
	"rindkeep/wheel/variety"
)

// Correction asks to correct what the book says of a make. Of New count the fields
// that are Given, by their names in a request; one that's given empty is emptied.
type Correction struct {
	Of string // lot
	New
	Given []string
	Drop  []string // tags of the wheels that were never made, where there are fewer
	Why   string
	Lifts bool // asked again whether safety holds may end with it
}

func (q Correction) has(field string) bool { return slices.Contains(q.Given, field) }

// Corrected is a make as it was corrected.
type Corrected struct {
	Schema  string   `json:"schema"`
	Lot     string   `json:"lot"`
	Make    Make     `json:"make"`
	Changes []Change `json:"changes"`
	Added   []string `json:"wheels_added"`
	Removed []string `json:"wheels_removed"`
	Planned []string `json:"wheels_on_another_plan"`
	Weights []string `json:"weights_moved"` // tags of the wheels whose green weight moved with the date
	Same    bool     `json:"no_change"`

	Plan string `json:"-"` // that they are on now
}

// InTheLog refuses to correct what the make's log says: a line of it counts for more
// than the make's record.
type InTheLog struct {
	Lot   string `json:"lot"`
	Field string `json:"field"`
}

// StrikeLine is the remedy for InTheLog.
type StrikeLine struct {
	Lot string `json:"lot"`
}

// NothingToCorrect refuses a correction of nothing.
const NothingToCorrect reason.Flat = "nothing-to-correct"

// The codes.

func (InTheLog) Code() string   { return "in-the-log" }
func (StrikeLine) Code() string { return "strike-the-line" }

// Correct corrects what the book says of a make. Its first record stays, and so do its
// lot code and its wheels' tags, which are on labels.
func Correct(ctx context.Context, a *app.App, c app.Caller, q Correction) (app.Did[Corrected], error) {
	if strings.TrimSpace(q.Why) == "" {
		return app.Did[Corrected]{}, app.Misuse("why", reason.Missing{What: "why"})
	}
	return app.Act(ctx, a, c, func(s *app.Session) (Corrected, error) { return q.correct(s) })
}

func (q Correction) correct(s *app.Session) (Corrected, error) {
	d := Corrected{
		Schema: app.Schema("make-correct"), Changes: []Change{}, Added: []string{}, Removed: []string{},
		Planned: []string{}, Weights: []string{},
	}
	if len(q.Given) == 0 && len(q.Drop) == 0 {
		return d, app.Misuse("", NothingToCorrect)
	}
	was, err := Lot(s, q.Of)
	if err == nil && was.Removed {
		err = app.Refuse(refusal.LotRemoved{Lot: was.Lot}).Of(was.Lot)
	}
	if err != nil {
		return d, err
	}
	now, err := q.record(s, was)
	if err != nil {
		return d, err
	}
	n, err := q.recount(s, was)
	if err != nil {
		return d, err
	}
	c, changed := wheel.CorrectionOf(was, now)
	if n.now != n.was {
		c.WheelsWas, c.WheelsNow = n.was, n.now
	}
	d.Lot, d.Same = was.Lot, !changed && n.now == n.was
	if !d.Same {
		// With another milk, date, law or name, or without a wheel, a hold may end.
		lift := app.Lift{Why: q.Why, Field: "why", Sure: q.Lifts}
		if err := loosened(s, lift, was, now, app.IDs(n.left)); err != nil {
			return d, err
		}
		if err := s.Keeping(lift, app.IDs(n.left), func() error { return q.put(s, &d, was, now, n, c) }); err != nil {
			return d, err
		}
	}
	shown, err := Gather(s, was.Lot)
	d.Make, d.Changes = shown.Make, ChangesOf(c, s.Zone)
	return d, err
}

// loosened refuses, like MayLift, an earlier date or a country left out for wheels that a law
// holds: the hold then ends sooner, even if not at once.
func loosened(s *app.Session, lift app.Lift, was, now wheel.Make, here []uuid.UUID) error {
	before, err := s.Tx.MakeLaw(was)
	if err != nil {
		return err
	}
	after, err := s.Tx.MakeLaw(now)
	if err != nil {
		return err
	}
	left := slices.DeleteFunc(before.Countries, func(c string) bool { return slices.Contains(after.Countries, c) })
	if now.Date >= was.Date && len(left) == 0 {
		return nil
	}
	return s.MayLoosen(lift, here, app.ByLaw)
}

// put writes the correction, and what follows from it for the wheels.
func (q Correction) put(s *app.Session, d *Corrected, was, now wheel.Make, n recount, c wheel.Correction) error {
	greens, err := autoWeights(s, was)
	if err != nil {
		return err
	}
	if now.Date == was.Date {
		greens = nil
	}
	var strikes []wheel.Entry
	for _, e := range greens {
		strikes = append(strikes, s.Entry(wheel.Entry{
			Subject: e.Subject, Kind: wheel.Struck, At: s.Time, Target: e.ID, Note: q.Why,
		}))
		d.Weights = append(d.Weights, s.SubjectName(e.Subject))
	}
	if _, err := s.Write.Put(strikes...); err != nil {
		return err
	}
	fact := s.Entry(wheel.Entry{Subject: was.ID, Kind: wheel.Corrected, At: s.Time, Detail: c.Detail(), Note: q.Why})
	if _, err := s.Write.Put(fact); err != nil {
		return err
	}
	at := now.Date.Noon(s.Zone)
	if at.After(s.Time) {
		at = s.Time
	}
	for i, e := range greens {
		e.At = at
		greens[i] = s.Entry(e)
	}
	if _, err := s.Write.Put(greens...); err != nil {
		return err
	}
	if err := n.remove(s, q.Why); err != nil {
		return err
	}
	if d.Planned, d.Plan, err = q.replan(s, was, now); err != nil {
		return err
	}
	d.Removed = app.Tags(n.drop)
	d.Added, err = q.add(s, now, n)
	return err
}

// record is the make's record with what was given.
func (q Correction) record(s *app.Session, was wheel.Make) (wheel.Make, error) {
	now := was
	v, err := s.Tx.Variety(was.Variety)
	if err != nil && !q.has("variety") {
		return now, err
	}
	old := v
	if q.has("variety") {
		if v, err = s.Tx.Variety(q.Variety); err != nil {
			return now, app.At("variety", err)
		}
		now.Variety = v.Name
	}
	if err := q.when(s, &now); err != nil {
		return now, err
	}
	if q.has("country") {
		cs, err := app.Countries("country", q.Country)
		if err != nil {
			return now, err
		}
		now.Countries = holdrule.Joined(cs)
	}
	q.texts(&now)
	q.amounts(&now)
	if now.Start, err = q.start(was.Start, old, v); err != nil {
		return now, err
	}
	if q.Shape.Known() {
		now.Shape = q.Shape
	} else if old.Name != v.Name {
		if now.Shape, err = usualShape(s, was, old, v); err != nil {
			return now, err
		}
	}
	if err := now.Check(); err != nil {
		return now, err
	}
	if err := s.MayLeaveLaw(now, &was, q.Why, q.Lifts); err != nil {
		return now, err
	}
	return now, q.unlogged(s, was, now)
}

// when corrects the date and the hour a make began. Where only the date is given the
// hour stays.
func (q Correction) when(s *app.Session, now *wheel.Make) (err error) {
	if q.has("date") {
		if q.Date == "" {
			return app.Misuse("date", reason.Missing{What: "make-date"})
		}
		was := now.Date
		if now.Date, err = q.New.date(s); err != nil {
			return err
		}
		now.MadeBefore = false
		if !now.Began.IsZero() && now.Date != was {
			now.Began = wheel.OnDate(now.Began, now.Date, s.Zone)
		}
	}
	if q.has("start") {
		now.Began, err = q.New.began(s, now.Date)
	}
	return err
}

func (q Correction) texts(now *wheel.Make) {
	for _, x := range []struct {
		field string
		to    *string
		text  string
	}{
		{"sold_as", &now.SoldAs, q.SoldAs}, {"note", &now.Note, q.Note},
		{"milk", &now.Milk.Species, strings.ToLower(q.Milk.Species)}, {"set_aside_for", &now.SetAsideFor, q.SetAsideFor},
		{"salt_where", &now.SaltWhere, q.SaltWhere},
	} {
		if q.has(x.field) {
			*x.to = x.text
		}
	}
	if q.has("treatment") {
		now.Milk.Treatment = q.Milk.Treatment
	}
}

// amounts corrects weights and shares. A dose of salt that was worked out of the curd
// is worked out again.
func (q Correction) amounts(now *wheel.Make) {
	workedOut := now.SaltMass == wheel.SaltFor(now.Curd-now.SetAside, now.SaltRate)
	set(q, "litres", &now.Milk.Litres, q.Milk.Litres)
	set(q, "milk_fat", &now.Milk.Fat, q.Milk.Fat)
	set(q, "milk_protein", &now.Milk.Protein, q.Milk.Protein)
	set(q, "curd", &now.Curd, q.Curd)
	set(q, "set_aside", &now.SetAside, q.SetAside)
	set(q, "salt_rate", &now.SaltRate, q.SaltRate)
	if q.has("salt") {
		now.SaltMass = q.Salt
	} else if now.SaltRate > 0 && workedOut {
		now.SaltMass = wheel.SaltFor(now.Curd-now.SetAside, now.SaltRate)
	}
}

func set[T any](q Correction, field string, to *T, v T) {
	if q.has(field) {
		*to = v
	}
}

// start corrects the composition as drying starts. A figure that was the old variety's
// becomes the new one's.
func (q Correction) start(was wheel.Composition, old, v variety.Variety) (wheel.Composition, error) {
	usual, err := New{}.composition(v)
	if err != nil {
		return was, err
	}
	of, _ := New{}.composition(old)
	now := was
	if !was.Measured || q.has("moisture") {
		now.Moisture, now.MoistureSD, now.Measured = usual.Moisture, usual.MoistureSD, false
	}
	if was.Fat == of.Fat || q.has("fat") {
		now.Fat = usual.Fat
	}
	if was.Salt == of.Salt || q.has("cheese_salt") {
		now.Salt = usual.Salt
	}
	if was.PH == of.PH || q.has("ph") {
		now.PH = usual.PH
	}
	return q.New.measured(now)
}

// usualShape is the new variety's shape for a make whose wheels have the old one's,
// else what the make has.
func usualShape(s *app.Session, m wheel.Make, old, v variety.Variety) (shape.Shape, error) {
	ws, err := s.Tx.WheelsOf(m.ID)
	if err != nil || m.Shape.Known() && m.Shape != old.Shape {
		return m.Shape, err
	}
	usual := map[shape.Shape]bool{old.Shape: true}
	for _, w := range ws {
		c, err := s.Tx.CaseAlone(w.ID)
		if err != nil {
			return m.Shape, err
		}
		if g := c.Life.Chain.Green; g > 0 {
			usual[old.Shape.ForWeight(g, shape.CheeseDensity)] = true
		}
	}
	if slices.ContainsFunc(ws, func(w wheel.Wheel) bool { return !usual[w.Shape] }) {
		return m.Shape, nil
	}
	return v.Shape, nil
}

// unlogged refuses to correct in the record what the log says otherwise.
func (q Correction) unlogged(s *app.Session, was, now wheel.Make) error {
	sheet, err := s.Tx.MakeSheet(was.ID)
	if err != nil {
		return err
	}
	sheet.Make = now
	c, _ := wheel.CorrectionOf(was, now)
	asked := map[string]bool{}
	for _, x := range ChangesOf(c, s.Zone) {
		asked[x.Field] = true
	}
	told, _ := wheel.CorrectionOf(now, sheet.FromLog())
	for _, x := range ChangesOf(told, s.Zone) {
		if asked[x.Field] {
			return app.Refuse(InTheLog{was.Lot, x.Field}, StrikeLine{was.Lot})
		}
	}
	return nil
}

// autoWeights are the green weights that came with the make when only its date was
// known, and so stand at noon of it.
func autoWeights(s *app.Session, m wheel.Make) ([]wheel.Entry, error) {
	ws, err := s.Tx.WheelsOf(m.ID)
	if err != nil {
		return nil, err
	}
	var out []wheel.Entry
	for _, w := range ws {
		es, err := s.Tx.History(w.ID)
		if err != nil {
			return nil, err
		}
		out = slices.AppendSeq(out, func(yield func(wheel.Entry) bool) {
			for _, e := range wheel.Live(es) {
				if isGreen(e) && e.At.Equal(m.Date.Noon(s.Zone)) && !yield(e) {
					return
				}
			}
		})
	}
	return out, nil
}

func isGreen(e wheel.Entry) bool { return e.Kind == wheel.Weighed && e.Note == greenNote }

// replan puts the wheels that follow the old variety's plan on the new one's.
func (q Correction) replan(s *app.Session, was, now wheel.Make) (tags []string, plan string, err error) {
	if was.Variety == now.Variety {
		return []string{}, "", nil
	}
	v, err := s.Tx.Variety(now.Variety)
	if err != nil {
		return nil, "", err
	}
	old, err := s.Tx.Variety(was.Variety)
	if err != nil && !app.IsNotFound(err) {
		return nil, "", err
	}
	here, err := s.WheelsHere(was.ID)
	if err != nil {
		return nil, "", err
	}
	var entries []wheel.Entry
	for _, st := range here {
		if st.Plan == old.Plan && old.Plan != v.Plan {
			tags = append(tags, st.Tag)
			entries = append(entries, s.Entry(wheel.Entry{
				Subject: st.Wheel, Kind: wheel.Planned, At: s.Time, Plan: v.Plan, Note: q.Why,
			}))
		}
	}
	_, err = s.Write.Put(entries...)
	return app.Filled(tags), v.Plan, err
}

// Said is a correction of a make, or its removal, as the make's card tells of it.
type Said struct {
	Mark    string   `json:"mark"`
	At      string   `json:"at"`
	By      string   `json:"by"`
	Why     string   `json:"why"`
	Removed bool     `json:"removed"`
	Changes []Change `json:"changes"`

	Entry wheel.Entry `json:"-"`
}

// saidOf are a make's corrections that count, in the order they were written.
func saidOf(es []wheel.Entry, zone *time.Location) []Said {
	out := []Said{}
	for _, e := range wheel.Corrections(es) {
		c, _ := wheel.ParseCorrection(e.Detail) // a removal has none
		out = append(out, Said{
			Mark: e.Mark(), At: app.Instant(e.At, zone), By: e.By, Why: e.Note, Removed: e.Kind == wheel.Voided,
			Changes: ChangesOf(c, zone), Entry: e,
		})
	}
	return out
}

// Change is one field of a make's document that a correction changed.
type Change struct {
	Field string `json:"field"`
	Was   any    `json:"was"`
	Now   any    `json:"now"`
}

// ChangesOf are the fields of a make's document that a correction changed, in the
// document's order, and the number of its wheels.
func ChangesOf(c wheel.Correction, zone *time.Location) []Change {
	out := []Change{}
	was, _ := c.Before(wheel.Make{})
	now, _ := c.Of(wheel.Make{})
	before, after := reflect.ValueOf(docOf(was, c.WheelsWas, zone)), reflect.ValueOf(docOf(now, c.WheelsNow, zone))
	for i := range before.NumField() {
		w, n := plain(before.Field(i)), plain(after.Field(i))
		if !reflect.DeepEqual(w, n) {
			out = append(out, Change{before.Type().Field(i).Tag.Get("json"), w, n})
		}
	}
	return out
}

// plain is a field's value without its pointer; nil where there is none.
func plain(v reflect.Value) any {
	if v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return nil
		}
		v = v.Elem()
	}
	return v.Interface()
}
