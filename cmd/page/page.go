// Package page is the web page of the book: the round on a phone, the desk, and
// the same as documents for scales and loggers. It turns forms and JSON into requests
// of the use cases in cmd/app, and their results into HTML and JSON with the words of
// cmd/words, so that page, API and command line say the same.
//
// Everything it serves is in the binary; a page asks nothing of any other host.
package page

import (
	"context"
	"net/http"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"

	"rindkeep/cmd/app"
	"rindkeep/cmd/page/access"
	"rindkeep/cmd/page/live"
	"rindkeep/store"
)

// Options are what a page is served with.
type Options struct {
	App       *app.App               // answers for the book
	Rev       func() (uint64, error) // a number that changes with the book; an error: no book there
	Access    *access.List           // who may use the page; nil: everybody
	Names     []string               // host names of the page, besides localhost and addresses
	Proxy     string                 // IP address of a proxy whose X-Forwarded-For is believed; "": none
	Beyond    bool                   // it listens beyond this machine: nobody is answered unasked who they are
	Authority func() []byte          // the made authority, in DER; nil: none
	Backup    func() string          // says when the book was last backed up; nil: that isn't shown
	Now       func() time.Time
	Log       zerolog.Logger
}

// Server serves the page of one book.
type Server struct {
	opt       Options
	reads     *gate
	long      *gate // of what takes long, which keeps only itself waiting
	writes    *gate
	kept      keeper
	assets    *assets
	pages     *pages
	live      *live.Hub
	boards    live.Boards
	cuts      cuts
	doneToday doneToday
	limits    limits
	tries     *access.Tries
	guesses   *access.Turns
	pause     func(context.Context, time.Duration) error
	says      bookSays
	health    health
	wasClosed atomic.Bool
}

// New makes a server; it opens nothing yet.
func New(o Options) (*Server, error) { return newServer(o, usualLimits()) }

func newServer(o Options, lim limits) (*Server, error) {
	a, err := newAssets()
	if err != nil {
		return nil, err
	}
	p, err := newPages(a)
	if err != nil {
		return nil, err
	}
	g := func(at int) *gate { return newGate(at, lim.waiting, lim.wait) }
	s := &Server{opt: o, reads: g(lim.commands), long: g(1), writes: g(lim.commands), assets: a, pages: p,
		live: live.New(o.Rev), limits: lim, tries: access.NewTries(), guesses: access.NewTurns(mostGuesses, lim.waiting),
		pause: pauseFor}
	if o.Rev != nil {
		a, was := *o.App, o.App.Opened
		a.Opened = func(tx *store.ReadTx) {
			s.says.opened(tx, o.Rev)
			if was != nil {
				was(tx)
			}
		}
		s.opt.App = &a
	}
	s.boards.Rev, s.boards.Render = o.Rev, s.renderShelf
	s.live.Version, s.live.StillIn = s.version, s.stillIn
	return s, nil
}

// Close lets go of the pages that listen for changes.
func (s *Server) Close() { s.live.Stop() }

// Handler is everything the server answers.
func (s *Server) Handler() http.Handler {
	m := http.NewServeMux()
	s.assets.routes(m)
	s.loginRoutes(m)
	s.accountRoutes(m)
	s.roundRoutes(m)
	s.deskRoutes(m)
	s.apiRoutes(m)
	m.HandleFunc("GET /live", s.serveLive)
	m.HandleFunc("POST /units", s.chooseUnits)
	m.HandleFunc("GET /health", s.serveHealth)
	m.HandleFunc("GET /authority.crt", s.serveAuthority)
	m.HandleFunc("/", s.noSuchPage)
	return s.guarded(m)
}

// noSuchPage answers for an address that is no page, or is one to be looked at
// only.
func (s *Server) noSuchPage(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		w.Header().Set("Allow", "GET, HEAD")
		s.turnAway(w, r, http.StatusMethodNotAllowed, Refusal{Error: "nothing can be sent to " + short(r.URL.Path), Exit: 2})
		return
	}
	s.turnAway(w, r, http.StatusNotFound, Refusal{Error: "there is no page at " + short(r.URL.Path), Exit: 4})
}
