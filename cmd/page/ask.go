package page

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"

	"rindkeep/cmd/app"
	"rindkeep/cmd/words"
)

// call is one request to the book: who asks, and in which words and units they
// read the answer.
type call struct {
	ctx    context.Context
	app    *app.App
	caller app.Caller
	words  words.Printer
}

// callOf is the call that a request of the page makes.
func (s *Server) callOf(r *http.Request) call {
	p := words.Printer{For: words.Page}
	if forProgram(r) {
		p.For = words.API
	}
	return call{ctx: r.Context(), app: s.opt.App, caller: app.Caller{By: personOf(r).Name}, words: p}
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
func (c call) refusal(err error) (status int, said Refusal) {
	var m misread
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
	said = c.words.Said(r, where)
	return statusOf(said.Exit), said
}

// listed is where a program's author reads what may be sent.
const listed = "rindkeep page api lists what may be sent"

// answerWith sends what a call came to as JSON.
func (s *Server) answerWith(w http.ResponseWriter, c call, doc any, err error) {
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
func inTurn[R any](s *Server, c call, fn func() (R, error)) (r R, err error) {
	leave, err := s.gate.enter(c.ctx)
	if err != nil {
		return r, fmt.Errorf("waiting for a turn: %w", err)
	}
	defer leave()
	return fn()
}
