package page

import (
	"net/http"
	"net/url"
	"time"

	"rindkeep/cmd/page/live"
)

// openPage is a page that somebody has open.
type openPage struct {
	Who   string
	Shows string
	Since time.Time
}

// serveLive is the stream of changes of one page. ?list= is the query of the list that
// it shows, if it's a round.
func (s *Server) serveLive(w http.ResponseWriter, r *http.Request) {
	p := &live.Page{Who: personOf(r).Name, Since: s.opt.Now()}
	if q := r.URL.Query(); q.Has("list") {
		list, err := url.ParseQuery(q.Get("list"))
		if err != nil {
			s.refuse(w, r, badRequestf("list", "can't read the list"))
			return
		}
		list.Del("rooms")
		p.List = string(s.unitsOf(r)) + "?" + list.Encode()
	}
	if !s.live.Serve(w, r, p) {
		s.refuse(w, r, errPages)
	}
}
