package wheels

import (
	"context"
	"maps"
	"slices"
	"strings"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/trade"
	"rindkeep/store/derive"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// Sending asks to record that wheels, or a piece of each, were sold or sent away.
type Sending struct {
	What     []string       // tags, lots, places
	To       string         // customer
	Weight   quantity.Grams // of each; 0: nobody weighed it
	Part     bool           // a piece of it, the rest stays; Weight is then the piece's
	Document string         // reference of the delivery note
	Country  string         // ISO codes of where they go: the law there counts as well
	Override string         // why they go although they are held
	Note     string
	Sure     bool
	Lifts    bool // asked again whether it goes despite a safety hold; Sure says so too
}

// NoSemicolon refuses a document's reference with a semicolon: older books use it as
// a separator.
const NoSemicolon reason.Flat = "document-with-semicolon"

// HeldBack refuses to send a wheel that is held, by hand or by law.
type HeldBack struct {
	Wheel string      `json:"wheel"`
	Why   reason.List `json:"why"`
}

// LiftHold is the remedy: release the wheel, or say why it goes nevertheless.
type LiftHold struct {
	Wheel string `json:"wheel"`
}

// SayMilk is the remedy where a law asks how the milk of a lot was treated.
type SayMilk struct {
	Lot string `json:"lot"`
}

// NewCustomer notes that a customer isn't in the book.
type NewCustomer struct {
	Name string `json:"name"`
}

// LabelDuty is what a food law asks of the label of a wheel that leaves.
type LabelDuty library.Label

// The codes.

func (HeldBack) Code() string    { return "held-back" }
func (LiftHold) Code() string    { return "release-or-override" }
func (SayMilk) Code() string     { return "say-milk-treatment" }
func (NewCustomer) Code() string { return "customer-not-saved" }
func (LabelDuty) Code() string   { return "label-duty" }

// Send records that wheels left. One that is held goes only with an override.
func Send(ctx context.Context, a *app.App, c app.Caller, q Sending) (d app.Did[Recorded], err error) {
	countries, err := q.check()
	if err != nil {
		return d, err
	}
	e := wheel.Entry{Kind: wheel.Sent, To: q.To, Weight: q.Weight, Note: q.Note}
	if q.Part {
		e.Kind = wheel.SentPart
	}
	return each(ctx, a, c, q.What, e,
		func(s *app.Session, d *Recorded, st derive.WheelState, e *wheel.Entry) error {
			return q.send(s, d, st, countries, e)
		})
}

// check refuses what can be seen to be wrong without the book, and reads the
// countries.
func (q Sending) check() ([]string, error) {
	if err := missing("to", q.To, "to"); err != nil {
		return nil, err
	}
	if q.Part && q.Weight == 0 {
		return nil, app.Misuse("weight", reason.Needs{What: "part", Other: "weight"})
	}
	if err := cave.CheckName("customer", q.To); err != nil {
		return nil, app.At("to", err)
	}
	if q.Document != "" {
		if err := cave.CheckName("document", q.Document); err != nil {
			return nil, app.At("document", err)
		}
	}
	if strings.Contains(q.Document, ";") {
		return nil, app.Misuse("document", NoSemicolon)
	}
	return app.Countries("country", q.Country)
}

// send completes the entry of one wheel.
func (q Sending) send(s *app.Session, d *Recorded, st derive.WheelState, countries []string, e *wheel.Entry) error {
	held, safety, c, err := heldBack(s, st, countries)
	if err != nil {
		return err
	}
	var known bool
	if e.To, known, err = trade.Addressee(s, q.To, q.Sure); err != nil {
		return err
	}
	if !known {
		note(&d.Notes, NewCustomer{q.To})
	}
	if odd := c.Life.OddSending(q.Weight, q.Part); odd != nil && !q.Sure {
		return app.Unsure(app.WeightsClash{Wheel: st.Tag, Why: odd}, app.ScaleAgain).Of(st.Tag)
	}
	sending := wheel.Sending{Document: q.Document}
	if len(held) > 0 {
		if strings.TrimSpace(q.Override) == "" {
			return app.Refuse(HeldBack{st.Tag, held}, remedies(st.Tag, c.Life.Make.Lot, held)...).Of(st.Tag)
		}
		if err := s.MayLift(app.Lift{
			Of: st.Tag, Holds: safety, Why: q.Override, Field: "override", Sure: q.Sure || q.Lifts, Knows: app.PeopleOf(c.Life),
		}); err != nil {
			return err
		}
		sending.Held, sending.Override = held, q.Override
	}
	e.Detail = sending.Detail()
	d.duties(c)
	return nil
}

// remedies are what to do about what holds a wheel.
func remedies(tag, lot string, held reason.List) (out reason.List) {
	asked := func(r reason.Reason) bool { _, milk := r.(verdict.MilkUnknown); return milk }
	if slices.ContainsFunc(held, asked) {
		out = append(out, SayMilk{lot})
	}
	if slices.ContainsFunc(held, func(r reason.Reason) bool { return !asked(r) }) {
		out = append(out, LiftHold{tag})
	}
	return out
}

// heldBack is why a wheel may not leave, empty where it may: holds set by hand, and
// the days that laws ask, including those of the countries it goes to. Those for
// safety, which laws' are, come again in their own list.
func heldBack(
	s *app.Session, st derive.WheelState, countries []string,
) (why, safety reason.List, c verdict.Case, err error) {
	when, _, err := s.Moment()
	if err != nil {
		return nil, nil, c, err
	}
	if c, err = s.CaseAt(st, when); err != nil {
		return nil, nil, c, err
	}
	if len(countries) > 0 {
		law, err := s.Tx.MakeLaw(c.Life.Make, countries...)
		if err != nil {
			return nil, nil, c, err
		}
		if c, err = s.Tx.Follow(c, law, when.Add(time.Millisecond)); err != nil {
			return nil, nil, c, err
		}
	}
	others, err := s.HoldsOfLot(c.Life)
	if err != nil {
		return nil, nil, c, err
	}
	c.Life.Holds = slices.Concat(c.Life.Holds, others)
	at := map[string]bool{}
	for _, h := range c.Life.Holds {
		at[app.HoldKey(h)], why = true, append(why, h.Reason())
	}
	safety = app.SafetyHolds(c.Life.Holds)
	for _, h := range c.LawHolds(when) {
		at[app.LawKey(h)], why, safety = true, append(why, h.Reason()), append(safety, h.Reason())
	}
	if !when.Before(s.Time) {
		return why, safety, c, nil
	}
	// Nobody gets round a hold by saying that the wheel left before.
	later, err := s.Safety(st.Wheel)
	for _, key := range slices.Sorted(maps.Keys(later)) {
		if !at[key] {
			why, safety = append(why, later[key]), append(safety, later[key])
		}
	}
	return why, safety, c, err
}

// NoLaw notes that cheese of milk that may be raw leaves a book that follows no law.
const NoLaw reason.Flat = "no-law-followed"

// duties notes what laws ask of a wheel's label, and that the book follows none.
func (d *Recorded) duties(c verdict.Case) {
	for _, l := range library.Labels(c.Labels()) {
		note(&d.Duties, LabelDuty(l))
	}
	milk := c.Life.Make.Milk.Treatment
	if len(c.Law.Countries) == 0 && milk != wheel.Pasteurised {
		note(&d.Duties, NoLaw)
	}
}

// note adds a reason to a list once.
func note(l *reason.List, r reason.Reason) {
	if !slices.Contains(*l, r) {
		*l = append(*l, r)
	}
}
