package wheels

import (
	"cmp"
	"context"
	"strings"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/makes"
	"rindkeep/store/derive"
	"rindkeep/store/refusal"
	"rindkeep/store/register"
	"rindkeep/wheel"
)

// NewPlace asks to record that wheels were moved.
type NewPlace struct {
	What  []string // tags, lots, places
	Place string   // room, room/rack or room/rack/shelf
	Note  string
	Sure  bool // though they don't fit there
}

// WillSweat warns that a wheel carried from one room into another is colder than the
// other's dew point.
type WillSweat struct {
	From string           `json:"from"`
	Temp quantity.Celsius `json:"temp_c"`
	To   string           `json:"to"`
	Dew  quantity.Celsius `json:"dew_point_c"`
}

// NotHere refuses to send a wheel to another site that's at another, or on the way there.
type NotHere struct {
	Wheel  string `json:"wheel"`
	Site   string `json:"site"`
	Coming bool   `json:"coming"`
}

// AtHome refuses to send a wheel to the site that it's at.
type AtHome struct {
	Wheel string `json:"wheel"`
	Site  string `json:"site"`
}

// SiteLeft refuses to send a wheel to a site that would never hear of it.
type SiteLeft struct {
	Site string    `json:"site"`
	At   time.Time `json:"at"`
}

// OwnLaws notes that a country's law holds a wheel here which is sent to another site: that one
// holds only by the laws that it follows.
type OwnLaws struct {
	To     string   `json:"to"`
	By     string   `json:"by"` // the countries
	Source string   `json:"source"`
	Until  day.Date `json:"until"` // at the earliest; zero: until the milk or the rule is known
}

// The codes.
func (OwnLaws) Code() string   { return "other-site-keeps-own-laws" }
func (SiteLeft) Code() string  { return "site-left" }
func (WillSweat) Code() string { return "wheel-will-sweat" }
func (NotHere) Code() string   { return "wheel-not-here" }
func (AtHome) Code() string    { return "wheel-at-home" }

// Move records that wheels were moved to another place.
func Move(ctx context.Context, a *app.App, c app.Caller, q NewPlace) (d app.Did[Recorded], err error) {
	place, err := cave.ParsePlace(q.Place)
	if err != nil {
		return d, app.Misread("place", err)
	}
	return each(ctx, a, c, q.What, wheel.Entry{Kind: wheel.Moved, Note: q.Note}, q.move(place))
}

// move completes the entry of one wheel.
func (q NewPlace) move(place cave.Place) func(*app.Session, *Recorded, derive.WheelState, *wheel.Entry) error {
	fits := false
	return func(s *app.Session, d *Recorded, st derive.WheelState, e *wheel.Entry) (err error) {
		if place.Bound() != "" {
			e.Place = place
			if err := sendable(s, st, place.Bound()); err != nil {
				return err
			}
			return d.ownLaws(s, st, place.Bound())
		}
		if e.Place, err = makes.PlaceIn(s, place); err != nil {
			return err
		}
		if !fits {
			if err := q.fit(s, e.Place); err != nil {
				return err
			}
			fits = true
		}
		return d.sweats(s, st.Place, e.Place)
	}
}

// sendable refuses to send a wheel to another site that isn't here.
func sendable(s *app.Session, st derive.WheelState, to string) error {
	own, shared := s.Tx.Own()
	switch at := cmp.Or(st.Place.Site(), own.Name); {
	case !shared:
		return app.At("place", refusal.NotFound{Thing: "site", Name: to})
	case at != own.Name:
		return app.Refuse(NotHere{Wheel: st.Tag, Site: at, Coming: st.Place.Bound() != ""}).Of(st.Tag)
	case to == own.Name:
		return app.Refuse(AtHome{Wheel: st.Tag, Site: to}).Of(st.Tag)
	}
	if _, err := s.TakesPart(); err != nil {
		return err
	}
	all, err := s.Tx.Pacts()
	if at, left := register.LeftSince(all, to); left && err == nil {
		err = app.At("place", app.Refuse(SiteLeft{Site: to, At: at}))
	}
	return err
}

// ownLaws notes the countries' laws that hold a wheel which is sent to another site.
func (d *Recorded) ownLaws(s *app.Session, st derive.WheelState, to string) error {
	m, err := s.Tx.MakeFromLog(st.Make)
	if err != nil {
		return err
	}
	if held, err := s.HeldByLaw(m, st); !held || err != nil {
		return err
	}
	c, err := s.Tx.CaseAlone(st.Wheel)
	for _, h := range c.LawHolds(s.Time) {
		if len(h.By) > 0 {
			ends, _ := lawEnds(s.Today, c.Life, h).(EndsByDays)
			note(&d.Notes, OwnLaws{to, strings.Join(h.By, ", "), h.Rule.Cite(), ends.On})
		}
	}
	return err
}

// fit doubts wheels that come to a place where they don't fit.
func (q NewPlace) fit(s *app.Session, to cave.Place) error {
	ws, err := s.Named(q.What)
	if err != nil {
		return err
	}
	come := 0
	for _, w := range ws {
		if !w.Place.Within(to) {
			come++
		}
	}
	return makes.RoomFor(s, to, come, q.Sure)
}

// sweats notes that wheels sweat on the way, once for each room they come from.
func (d *Recorded) sweats(s *app.Session, from, to cave.Place) error {
	if from == "" || from.Room() == to.Room() {
		return nil
	}
	was, err := s.Tx.Room(from.Room())
	if err != nil {
		return nil // the room is no longer in the book
	}
	is, err := s.Tx.Room(to.Room())
	if err != nil || !air.Sweats(was.Temp, is.SetPoint()) {
		return err
	}
	note(&d.Notes, WillSweat{From: was.Name, Temp: was.Temp, To: is.Name, Dew: air.DewPoint(is.SetPoint())})
	return nil
}
