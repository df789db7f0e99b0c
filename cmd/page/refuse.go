package page

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"

	"rindkeep/cmd/app"
	"rindkeep/cmd/page/tables"
	"rindkeep/cmd/words"
)

// Refusal is why something was not done, as the API says it.
type Refusal = words.Said

// badRequest is a request that the page itself refuses: the field at fault, and how.
type badRequest struct {
	where, why string
	status     int // 0: 400
}

// Error gives the sentence.
func (m badRequest) Error() string { return m.why }

func badRequestf(where, format string, a ...any) error {
	return badRequest{where: where, why: fmt.Sprintf(format, a...)}
}

// Where there is too much at once.
var (
	errCrowded = badRequest{why: "too many requests at once", status: http.StatusServiceUnavailable}
	errPages   = badRequest{why: "too many pages are open", status: http.StatusServiceUnavailable}
)

// listed is where a program's author reads what may be sent.
const listed = "rindkeep page api lists what may be sent"

// said is the refusal as it is answered.
func (m badRequest) said(r *http.Request) (status int, said Refusal) {
	status, said = cmp.Or(m.status, http.StatusBadRequest), Refusal{Error: m.why, Where: m.where, Exit: app.Misused.Exit()}
	switch {
	case status == http.StatusRequestEntityTooLarge:
		said.Exit = app.Refused.Exit()
	case status == http.StatusServiceUnavailable:
		said.Exit, said.Hint = app.Busy.Exit(), "try again in a moment"
	case forProgram(r) && r.Header.Get("Origin") == "": // browsers send one; their scripts know
		said.Hint = listed
	}
	return status, said
}

// refusal is why a request was refused, with its status.
func (s *Server) refusal(r *http.Request, err error) (status int, said Refusal) {
	var bad badRequest
	if errors.As(err, &bad) {
		return bad.said(r)
	}
	why := app.AsRefusal(err)
	said = s.callOf(r).words().Said(why, cmp.Or(why.At.Of, why.At.Field))
	if said.Sure && isDevice(r) {
		said.Sure, said.Hint = false, "if it is right, a person can record it"
	}
	return statusOf(said.Exit), said
}

// refuse answers with the reason in the form that suits the sender of the request.
func (s *Server) refuse(w http.ResponseWriter, r *http.Request, err error) {
	var bad tables.Faulty
	if errors.As(err, &bad) {
		sendDocument(w, http.StatusUnprocessableEntity, struct {
			Refusal
			tables.Faulty
		}{Refusal{Error: bad.Words, Where: "file", Exit: app.Refused.Exit(), Code: "faulty-table"}, bad}, "")
		return
	}
	status, said := s.refusal(r, err)
	s.turnAway(w, r, status, said)
}

// turnAway is refuse for a reason in words.
func (s *Server) turnAway(w http.ResponseWriter, r *http.Request, status int, said Refusal) {
	if forProgram(r) {
		s.say(w, status, said)
		return
	}
	s.show(w, r, status, "refused.html", View{Title: "Refused", Here: "refused", Body: said})
}

// forProgram says whether the answer is read by a program and not by a person.
func forProgram(r *http.Request) bool {
	p := r.URL.Path
	return strings.HasPrefix(p, "/api/") || p == "/live" || p == "/health" || r.Header.Get("Authorization") != ""
}

// say sends a refusal as JSON, on one line.
func (s *Server) say(w http.ResponseWriter, status int, said Refusal) {
	sendDocument(w, status, said, "")
}

// sendDocument sends a document as JSON, each level set in by indent.
func sendDocument(w http.ResponseWriter, status int, doc any, indent string) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", indent)
	if err := enc.Encode(doc); err != nil {
		panic(err) // a result that is no JSON is a bug, which is logged and answered
	}
	sendJSON(w, status, b.Bytes())
}

func sendJSON(w http.ResponseWriter, status int, doc []byte) {
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(doc)
}

// statusOf is the HTTP status that goes with an exit code of a command.
func statusOf(code int) int {
	switch code {
	case 0:
		return http.StatusOK
	case 1:
		return http.StatusUnprocessableEntity
	case 2:
		return http.StatusBadRequest
	case 3, 5, 130:
		return http.StatusServiceUnavailable
	case 4:
		return http.StatusNotFound
	}
	return http.StatusInternalServerError
}

// fail answers with a fault of our own: logged, and said in a sentence.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	s.opt.Log.Error().Err(err).Str("path", r.URL.Path).Msg("fault")
	s.sorry(w, r)
}

const fault = "Sorry, rindkeep hit a bug and stopped. Nothing was changed"

// sorry answers for a bug, with as little of the program as can be.
func (s *Server) sorry(w http.ResponseWriter, r *http.Request) {
	if forProgram(r) {
		s.say(w, http.StatusInternalServerError, Refusal{Error: fault, Exit: 70})
		return
	}
	http.Error(w, fault, http.StatusInternalServerError)
}
