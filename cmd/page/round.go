package page

import (
	"net/http"
	"net/url"
	"strings"

	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/page/daylist"
	"rindkeep/cmd/page/live"
)

func (s *Server) roundRoutes(m *http.ServeMux) {
	m.HandleFunc("GET /{$}", s.roundPage)
	m.HandleFunc("GET /sw.js", s.worker)
	m.HandleFunc("POST /phone", s.announced)
	m.HandleFunc("GET /before", s.before)
	m.HandleFunc("GET /who", s.page(whoPage))
}

// before is what the pad shows of wheels before a weight is typed. It's no part of the
// API.
func (s *Server) before(w http.ResponseWriter, r *http.Request) {
	c := s.callOf(r)
	doc, err := inTurn(c, func(c *call) (any, error) {
		tags := strings.Split(r.URL.Query().Get("tags"), ",")
		doc, err := drying.BeforeWeighing(c.ctx, c.app, c.caller, tags)
		return filled(doc, err, c.words().FillBefore)
	})
	s.answer(w, r, doc, err)
}

func showToday(c *call) (any, error) {
	q, err := daylist.Asked(c.q)
	if err == nil {
		err = c.listed(&q.Narrow, &q.Most)
	}
	if err != nil {
		return nil, err
	}
	t, err := round.ListDay(c.ctx, c.app, c.caller, q)
	return filled(t, err, c.words().FillToday)
}

// roundPage is the day's round, or the part of it that this phone shows. A page that has
// it says as of when, in X-Round, and gets what changed since.
func (s *Server) roundPage(w http.ResponseWriter, r *http.Request) {
	c := s.callOf(r)
	list, chosen := listOf(r)
	ask := func() (shown live.Shown, err error) {
		units := s.likelyUnits(r)
		for range 2 { // again if the book's people read other units since
			shown, err = inTurn(c, func(c *call) (live.Shown, error) { return s.board(c.ctx, units, list) })
			if now := s.likelyUnits(r); err != nil || now == units {
				break
			} else {
				units = now
			}
		}
		return shown, err
	}
	shown, err := ask()
	if err != nil && chosen { // a room that's gone since: choose another
		list = url.Values{}
		shown, err = ask()
	}
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	b := daylist.Since(shown, r.Header.Get("X-Round"))
	s.openHere(b.Tiles)
	v := View{Template: "round.html", Title: "The round", Here: "round", Body: &b}
	if r.Header.Get("X-Round") != "" {
		v.Part = "changes"
	}
	s.show(w, r, http.StatusOK, v.Template, v)
}
