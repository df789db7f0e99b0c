package page

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"net/http"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/words"
)

// call is one request to the book: who asks, in which words they read the answer.
type call struct {
	s      *Server
	r      *http.Request
	ctx    context.Context
	app    *app.App
	caller app.Caller
	units  quantity.Units // "": not asked for yet
}

// callOf is the call that a request of the page makes.
func (s *Server) callOf(r *http.Request) *call {
	return &call{s: s, r: r, ctx: r.Context(), app: s.opt.App, caller: app.Caller{By: personOf(r).Name}}
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

// saved is what an act came to: its result, in words, or that it was in the book
// before.
func saved[R any](d app.Did[R], err error, fill func(*R)) (any, error) {
	if err != nil {
		return nil, err
	}
	if d.Known != nil {
		return d.Known, nil
	}
	if fill != nil {
		fill(&d.Result)
	}
	return d.Result, nil
}

// refusal is why a call was refused, with its status.
func (c *call) refusal(err error) (status int, said Refusal) {
	var m badRequest
	switch {
	case errors.Is(err, errCrowded):
		return http.StatusServiceUnavailable, Refusal{Error: err.Error(), Exit: app.Busy.Exit(), Hint: "try again in a moment"}
	case errors.As(err, &m):
		return http.StatusBadRequest, Refusal{Error: m.why, Where: m.where, Exit: app.Misused.Exit(), Hint: listed}
	}
	r := app.AsRefusal(err)
	where := r.At.Of
	if where == "" {
		where = r.At.Field
	}
	said = c.words().Said(r, where)
	return statusOf(said.Exit), said
}

// listed is where a program's author reads what may be sent.
const listed = "rindkeep page api lists what may be sent"

// answerWith sends what a call came to as JSON.
func (s *Server) answerWith(w http.ResponseWriter, c *call, doc any, err error) {
	if err != nil {
		status, said := c.refusal(err)
		s.say(w, status, said)
		return
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(doc); err != nil {
		panic(err) // a result that is no JSON is a bug, which is logged and answered
	}
	sendJSON(w, http.StatusOK, b.Bytes())
}

// inTurn lets a call at the book when it is its turn.
func inTurn[R any](s *Server, c *call, fn func() (R, error)) (r R, err error) {
	leave, err := s.gate.enter(c.ctx)
	if err != nil {
		return r, err
	}
	defer leave()
	return fn()
}
