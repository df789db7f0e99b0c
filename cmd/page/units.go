package page

import (
	"context"
	"net/http"
	"sync"
	"time"

	"rindkeep/cave/quantity"
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
	defer b.mu.Unlock()
	rev, err := s.opt.Rev()
	if err != nil {
		return quantity.Metric // no book just now: whatever is asked will say so
	}
	if b.units == "" || rev != b.rev {
		u, err := s.opt.App.Units(context.WithoutCancel(r.Context()))
		if err != nil {
			return quantity.Metric
		}
		b.units, b.rev = u, rev
	}
	return b.units
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
