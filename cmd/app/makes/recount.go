package makes

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/derive"
	"rindkeep/wheel"
)

// recount is how many wheels a make was said to have, how many it had, and what that
// comes to.
type recount struct {
	was, now int
	all      []wheel.Wheel
	left     []derive.WheelState // that weren't removed, by number
	drop     []derive.WheelState // that were never made
}

// OtherCount refuses a number of wheels that isn't what is left without those named.
type OtherCount struct {
	Lot   string `json:"lot"`
	Has   int    `json:"has"`
	Named int    `json:"named"`
	Given int    `json:"given"`
}

// NotOfLot refuses a wheel of another make, or one that was removed before.
type NotOfLot struct {
	Wheel string `json:"wheel"`
	Lot   string `json:"lot"`
}

// WereHandled refuses to take wheels for never made that something was recorded of.
type WereHandled struct {
	Lot  string `json:"lot"`
	Tags string `json:"tags"` // separated by spaces
}

// NameWheels is the remedy for WereHandled.
type NameWheels struct {
	Lot string `json:"lot"`
}

// The codes.

func (OtherCount) Code() string  { return "other-count-of-wheels" }
func (NotOfLot) Code() string    { return "wheel-not-of-lot" }
func (WereHandled) Code() string { return "wheels-were-handled" }
func (NameWheels) Code() string  { return "name-wheels" }

// recount finds what the number of wheels comes to.
func (q Correction) recount(s *app.Session, m wheel.Make) (r recount, err error) {
	if r.all, err = s.Tx.WheelsOf(m.ID); err != nil {
		return r, err
	}
	for _, w := range r.all {
		st, voided, err := voidedOf(s, w)
		if err != nil {
			return r, err
		}
		if !voided {
			r.left = append(r.left, st)
		}
	}
	r.was = len(r.left)
	r.now = r.was - len(q.Drop)
	if q.has("wheels") {
		if q.Wheels == nil {
			return r, app.Misuse("wheels", reason.Missing{What: "wheels"})
		}
		r.now = *q.Wheels
	}
	switch {
	case r.now < 0 || r.now > MaxWheels:
		return r, app.Misuse("wheels", reason.Outside[int]{What: "wheels", Value: r.now, Low: 0, High: MaxWheels})
	case len(q.Drop) > 0 && r.now != r.was-len(q.Drop):
		return r, app.Misuse("wheels", OtherCount{m.Lot, r.was, len(q.Drop), r.now})
	case r.now >= r.was:
		return r, nil
	}
	if r.drop, err = q.dropped(r, m); err != nil {
		return r, err
	}
	return r, unhandled(s, m, r.drop)
}

func voidedOf(s *app.Session, w wheel.Wheel) (st derive.WheelState, voided bool, err error) {
	if st, err = s.Tx.State(w.ID); err != nil || st.Here() {
		return st, false, err
	}
	es, err := s.Tx.History(w.ID)
	return st, wheel.IsVoid(wheel.Live(es)), err
}

// dropped are the wheels named, or else the last ones.
func (q Correction) dropped(r recount, m wheel.Make) ([]derive.WheelState, error) {
	if len(q.Drop) == 0 {
		return r.left[r.now:], nil
	}
	var out []derive.WheelState
	for _, tag := range q.Drop {
		is := func(st derive.WheelState) bool { return strings.EqualFold(st.Tag, tag) }
		i := slices.IndexFunc(r.left, is)
		if i < 0 || slices.ContainsFunc(out, is) {
			return nil, app.Refuse(NotOfLot{tag, m.Lot}).In("void")
		}
		out = append(out, r.left[i])
	}
	return out, nil
}

// unhandled refuses wheels of which more is recorded than came with them.
func unhandled(s *app.Session, m wheel.Make, ws []derive.WheelState) error {
	var tags []string
	for _, st := range ws {
		w, err := s.Tx.Wheel(st.Wheel)
		if err != nil {
			return err
		}
		es, err := s.Tx.History(st.Wheel)
		if err != nil {
			return err
		}
		if slices.ContainsFunc(wheel.Live(es), func(e wheel.Entry) bool { return !automatic(s, m, w, e) }) {
			tags = append(tags, st.Tag)
		}
	}
	if len(tags) > 0 {
		return app.Refuse(WereHandled{m.Lot, strings.Join(tags, " ")}, NameWheels{m.Lot}).In("wheels")
	}
	return nil
}

// automatic says whether an entry of a wheel came with the make, or with a correction
// or a sister's fault, and so doesn't show that there is such a wheel.
func automatic(s *app.Session, m wheel.Make, w wheel.Wheel, e wheel.Entry) bool {
	return e.Kind == wheel.Asked || e.Kind == wheel.Planned || e.Kind == wheel.Received || e.Kind == wheel.TakenOver ||
		isGreen(e) && (e.Written.Equal(w.Written) || e.At.Equal(m.Date.Noon(s.Zone)))
}

// remove removes the wheels that were never made.
func (r recount) remove(s *app.Session, why string) error {
	entries := app.Each(r.drop, func(st derive.WheelState) wheel.Entry {
		return s.Entry(wheel.Entry{Subject: st.Wheel, Kind: wheel.Voided, At: s.Time, Note: why})
	})
	_, err := s.Write.Put(entries...)
	return err
}

// add adds wheels with the next numbers. They are like the last one and lie where it
// does, unless a place is given.
func (q Correction) add(s *app.Session, m wheel.Make, r recount) ([]string, error) {
	tags := []string{}
	n := r.now - r.was
	if n <= 0 {
		return tags, nil
	}
	v, err := s.Tx.Variety(m.Variety)
	if err != nil {
		return nil, err
	}
	b, since, last := Batch{Place: q.Place, Shape: m.Shape}, s.Time, 0
	for _, w := range r.all {
		last = max(last, w.Number)
	}
	if len(r.left) > 0 {
		like := r.left[len(r.left)-1]
		w, err := s.Tx.Wheel(like.Wheel)
		if err != nil {
			return nil, err
		}
		b.Plan, since = like.Plan, w.Since
		b.Place = cmp.Or(q.Place, string(like.Place))
		if !b.Shape.Known() {
			b.Shape = w.Shape
		}
	} else if s.Today-m.Date <= YoungDays {
		since = earlier(m.Date.Noon(s.Zone), s.Time)
	}
	ws, err := b.wheels(s, m, v, n, since)
	if err != nil {
		return nil, err
	}
	for i := range ws {
		ws[i].ID = s.NextID() // so that striking the correction finds them
		ws[i].Number += last
		ws[i].Tag = wheel.DefaultTag(m.Lot, ws[i].Number, last+n)
		tags = append(tags, ws[i].Tag)
	}
	return tags, s.Write.AddWheels(ws)
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}
