package page

import (
	"context"
	"net/http"
	"sync"
	"time"

	"rindkeep/cave/quantity"
	"rindkeep/store"
)

// unitsCookie keeps the units a browser's person chose to read.
const unitsCookie = "rindkeep-units"

// bookUnits remembers the units a book is read in where its reader chose none.
type bookUnits struct {
	mu    sync.Mutex
	rev   uint64 // of the book they were read from
	units quantity.Units
}

// unitsOf are the units in which who asks reads figures, and types bare numbers.
func (s *Server) unitsOf(r *http.Request) quantity.Units {
	if c, err := r.Cookie(unitsCookie); err == nil {
		if u, err := quantity.ParseUnits(c.Value); err == nil {
			return u
		}
	}
	b := &s.units
	b.mu.Lock()
	units, of := b.units, b.rev
	b.mu.Unlock()
	rev, err := s.opt.Rev()
	if err != nil {
		return quantity.Metric // no book just now: whatever is asked will say so
	}
	if units != "" && rev == of {
		return units
	}
	if units, err = s.opt.App.Units(context.WithoutCancel(r.Context())); err != nil {
		return quantity.Metric
	}
	return units
}

// likelyUnits are unitsOf as the book was when it was last opened, without opening it.
func (s *Server) likelyUnits(r *http.Request) quantity.Units {
	s.units.mu.Lock()
	units := s.units.units
	s.units.mu.Unlock()
	if _, err := r.Cookie(unitsCookie); err == nil || units == "" {
		return s.unitsOf(r)
	}
	return units
}

// opened notes the units of a book that was opened just now, and still is.
func (b *bookUnits) opened(set store.Settings, rev func() (uint64, error)) {
	u, err := quantity.ParseUnits(set.Units)
	if err != nil {
		u = quantity.Metric
	}
	if n, err := rev(); err == nil {
		b.mu.Lock()
		defer b.mu.Unlock()
		b.units, b.rev = u, n
	}
}

// chooseUnits keeps the units chosen, and goes back to the page they were chosen on.
func (s *Server) chooseUnits(w http.ResponseWriter, r *http.Request) {
	u, err := quantity.ParseUnits(r.PostFormValue("units"))
	if err != nil {
		s.turnAway(w, r, http.StatusBadRequest, Refusal{Error: "choose metric or imperial", Where: "units", Exit: 2})
		return
	}
	http.SetCookie(w, &http.Cookie{
		Name: unitsCookie, Value: string(u), Path: "/", MaxAge: int(5 * 365 * 24 * time.Hour / time.Second),
		HttpOnly: true, Secure: s.secure(r), SameSite: http.SameSiteLaxMode,
	})
	http.Redirect(w, r, within(r.PostFormValue("back")), http.StatusSeeOther)
}
