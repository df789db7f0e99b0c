package page

import (
	"cmp"
	"context"
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/sheet"
	"rindkeep/cmd/words"
)

// call is one request to the book: who asks, what, and in whose words.
type call struct {
	s      *Server
	r      *http.Request
	ctx    context.Context
	app    *app.App
	caller app.Caller
	q      url.Values     // the query
	units  quantity.Units // "": not asked for yet
}

// callOf is the call that a request of the page makes.
func (s *Server) callOf(r *http.Request) *call {
	c := &call{s: s, r: r, ctx: r.Context(), app: s.opt.App, q: r.URL.Query()}
	c.caller = app.Caller{By: personOf(r).Name}
	return c
}

// words are those of the reader.
func (c *call) words() words.Printer {
	p := words.Printer{For: words.Page}
	if forProgram(c.r) {
		p.For = words.API
	}
	if c.units == "" {
		c.units = c.s.unitsOf(c.r)
	}
	p.Units = c.units
	return p
}

// text is a word of the query.
func (c *call) text(name string) string { return strings.TrimSpace(c.q.Get(name)) }

// name is what the address names: a tag, a lot, a room, a customer.
func (c *call) name() string { return c.r.PathValue("name") }

// number is a whole number of the query.
func (c *call) number(name string, otherwise int) (int, error) {
	w := c.text(name)
	if w == "" {
		return otherwise, nil
	}
	n, err := strconv.Atoi(w)
	if err != nil {
		return 0, badRequestf(name, "%s wants a whole number, not %q", name, short(w))
	}
	return n, nil
}

// saved is what an act came to: its result, in words, or that it was in the book
// before.
func saved[R any](d app.Did[R], err error, fill func(*R)) (any, error) {
	if err != nil {
		return nil, err
	}
	if d.Known != nil {
		return d.Known, nil
	}
	return filled(d.Result, nil, fill)
}

// record does an act whose figures are in the request; in is nil where there are none.
func record[Q, R any](c *call, in *figures, act app.Deed[Q, R], q Q, fill func(*R)) (any, error) {
	if in != nil && in.err != nil {
		return nil, in.err
	}
	d, err := act(c.ctx, c.app, c.caller, q)
	return saved(d, err, fill)
}

// filled is the answer to a question, in words.
func filled[R any](doc R, err error, fill func(*R)) (any, error) {
	if err != nil {
		return nil, err
	}
	if fill != nil {
		fill(&doc)
	}
	return doc, nil
}

// inTurn lets a call at the book when it is its turn.
func inTurn[R any](c *call, fn func(*call) (R, error)) (r R, err error) {
	leave, err := c.gate().enter(c.ctx)
	if err != nil {
		return r, err
	}
	defer leave()
	return fn(c)
}

// gate is where a call waits for its turn.
func (c *call) gate() *gate {
	switch c.r.URL.Path {
	case "/ahead", "/ahead/cave.ics", "/stock", "/log", "/find", "/api/ahead", "/api/stock", "/api/find":
		return c.s.long
	}
	if c.r.Method == http.MethodPost {
		return c.s.writes
	}
	return c.s.reads
}

// answer sends what a call came to as JSON.
func (s *Server) answer(w http.ResponseWriter, r *http.Request, doc any, err error) {
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	if x, ok := doc.(interface{ Warnings() app.Cautions }); ok && len(x.Warnings()) > 0 {
		s.callOf(r).words().FillCautions(doc)
	}
	sendDocument(w, http.StatusOK, doc, "  ") // as the command line prints it
}

// elsewhere sends the reader on to another page.
type elsewhere string

// Error is for logs.
func (e elsewhere) Error() string { return "see " + string(e) }

// page answers with a page of the book.
func (s *Server) page(fill func(*call) (View, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		c := s.callOf(r)
		v, err := inTurn(c, fill)
		var to elsewhere
		switch {
		case errors.As(err, &to):
			http.Redirect(w, r, string(to), http.StatusSeeOther)
		case err != nil:
			s.refuse(w, r, err)
		default:
			s.show(w, r, cmp.Or(v.Status, http.StatusOK), v.Template, v)
		}
	}
}

// file answers with a file made of the book.
func (s *Server) file(kind, name string, fill func(*call) ([]byte, error)) http.HandlerFunc {
	picture := strings.HasPrefix(kind, "image/")
	return func(w http.ResponseWriter, r *http.Request) {
		c := s.callOf(r)
		body, err := inTurn(c, fill)
		var to elsewhere
		switch {
		case errors.As(err, &to):
			http.Redirect(w, r, string(to), http.StatusSeeOther)
			return
		case err != nil && picture:
			status, said := s.refusal(r, err)
			http.Error(w, said.Error, status)
			return
		case err != nil:
			s.refuse(w, r, err)
			return
		}
		h := w.Header()
		h.Set("Content-Type", kind)
		h.Set("Cache-Control", "no-store")
		if picture {
			// A picture opened by itself has its own style and may do nothing else.
			h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; sandbox")
		}
		if name != "" {
			h.Set("Content-Disposition", `attachment; filename="`+name+`"`)
		}
		_, _ = w.Write(body)
	}
}

// sheet prints a sheet, on A4 unless the query has another paper: what it shows is gathered from the book, and laid out
// once the book is closed. c.words is not for gather: it may open the book.
func (c *call) sheet(gather func(*app.Session, sheet.Head) (func() (sheet.Doc, error), error)) ([]byte, error) {
	paper, ok := sheet.FindPaper(cmp.Or(c.text("paper"), sheet.A4.Name))
	if !ok {
		return nil, badRequestf("paper", "no paper %q; papers are a4 and letter", short(c.text("paper")))
	}
	draw, err := app.Ask(c.ctx, c.app, c.caller, func(s *app.Session) (func() (sheet.Doc, error), error) {
		return gather(s, sheet.HeadOf(s, paper, c.q.Has("large")))
	})
	if err != nil {
		return nil, err
	}
	d, err := draw()
	return d.PDF, err
}

// size is that of a picture, in CSS pixels.
type size struct{ w, h int }

// picture draws a chart, narrow where a phone asks.
func (c *call) picture(ch plot.Chart, wide, narrow size) []byte {
	if c.q.Has("narrow") {
		wide = narrow
	}
	return []byte(ch.SVG(wide.w, wide.h))
}
