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

// bookSays remembers what every page needs to know of the book.
type bookSays struct {
	mu     sync.Mutex
	rev    uint64         // of the book it was read from
	units  quantity.Units // it's read in where its reader chose none
	shared bool           // several sites share it
}

// unitsOf are the units in which who asks reads figures, and types bare numbers.
func (s *Server) unitsOf(r *http.Request) quantity.Units {
	if c, err := r.Cookie(unitsCookie); err == nil {
		if u, err := quantity.ParseUnits(c.Value); err == nil {
			return u
		}
	}
	b := &s.says
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
	s.says.mu.Lock()
	units := s.says.units
	s.says.mu.Unlock()
	if _, err := r.Cookie(unitsCookie); err == nil || units == "" {
		return s.unitsOf(r)
	}
	return units
}

// shared says whether several sites share the book, as it was when it was last opened.
func (s *Server) shared() bool {
	s.says.mu.Lock()
	defer s.says.mu.Unlock()
	return s.says.shared
}

// opened notes what a book says that was opened just now, and still is.
func (b *bookSays) opened(tx *store.ReadTx, rev func() (uint64, error)) {
	_, shared := tx.Own()
	u, err := quantity.ParseUnits(tx.Settings().Units)
	if err != nil {
		u = quantity.Metric
	}
	if n, err := rev(); err == nil {
		b.mu.Lock()
		defer b.mu.Unlock()
		b.units, b.shared, b.rev = u, shared, n
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
