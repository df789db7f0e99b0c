// Package page is the web page of the book: the round on a phone, the desk, and
// the same as documents for scales and loggers. It knows neither the book nor
// the domain: whatever it shows or writes it asks of the program's own commands,
// so that page, API and command line say the same in the same words.
//
// Everything it serves is in the binary; a page asks nothing of any other host.
package page

import (
	"context"
	"net/http"
	"time"

	"github.com/rs/zerolog"
)

// Run runs one command of the program, given as on the command line without the
// program's name and without --book and --json. Whatever a person typed comes
// as --flag=value or behind "--", so that it cannot become a flag.
type Run func(ctx context.Context, args []string) Reply

// Raw runs a command whose output is no document but a picture, a table or a
// sheet; Reply.Doc holds it as it was printed.
type Raw = Run

// Reply is what came of a command: its document, or why there is none.
type Reply struct {
	Code int     // exit code; 0: done
	Doc  []byte  // the JSON document, where Code is 0
	Said Refusal // why not, where it is not
}

// Refusal is a command's refusal, as its --json has it.
type Refusal struct {
	Error string `json:"error"`
	Where string `json:"where"`
	Hint  string `json:"hint,omitempty"`
	Exit  int    `json:"exit"`
	Sure  bool   `json:"sure,omitempty"` // --sure gets it done all the same
}

// Options are what a page is served with.
type Options struct {
	Run     Run
	Raw     Raw
	Rev     func() (uint64, error) // a number that changes with the book; an error: no book there
	Now     func() time.Time
	Log     zerolog.Logger
	Version string
}

// Server serves the page of one book.
type Server struct {
	opt    Options
	assets *assets
	pages  *pages
	live   *live
}

// New makes a server; it opens nothing yet.
func New(o Options) (*Server, error) {
	a, err := newAssets()
	if err != nil {
		return nil, err
	}
	p, err := newPages(a)
	if err != nil {
		return nil, err
	}
	return &Server{opt: o, assets: a, pages: p, live: newLive(o.Rev)}, nil
}

// Close lets go of the pages that listen for changes.
func (s *Server) Close() { s.live.stop() }

// Handler is everything the server answers.
func (s *Server) Handler() http.Handler {
	m := http.NewServeMux()
	s.assets.routes(m)
	s.roundRoutes(m)
	s.deskRoutes(m)
	s.apiRoutes(m)
	m.HandleFunc("GET /live", s.serveLive)
	return m
}
