package page

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"html/template"
	"net/http"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/words"
	"strconv"
	"strings"
)

// pages are the templates, each on the common frame templates/frame.html, with
// the pieces several share in templates/part-*.html.
type pages struct {
	byUnits map[quantity.Units]map[string]*template.Template // in the words of either reader
}

func newPages(a *assets) (*pages, error) {
	p := &pages{byUnits: map[quantity.Units]map[string]*template.Template{}}
	for _, u := range []quantity.Units{quantity.Metric, quantity.Imperial} {
		named, err := templatesIn(words.Printer{Units: u, For: words.Page}, a)
		if err != nil {
			return nil, err
		}
		p.byUnits[u] = named
	}
	return p, nil
}

func templatesIn(p words.Printer, a *assets) (map[string]*template.Template, error) {
	named := map[string]*template.Template{}
	files, err := embedded.ReadDir("templates")
	if err != nil {
		return nil, err
	}
	for _, f := range files {
		if f.Name() == "frame.html" || strings.HasPrefix(f.Name(), "part-") {
			continue
		}
		t, err := template.New("frame.html").Funcs(funcs(p, a)).
			ParseFS(embedded, "templates/frame.html", "templates/part-*.html", "templates/"+f.Name())
		if err != nil {
			return nil, err
		}
		named[f.Name()] = t
	}
	return named, nil
}

// View is what the frame of every page is filled with.
type View struct {
	Template string
	Status   int // 0: 200

	Title string // of the document
	Here  string // which part of the page this is: round, wheels, rooms, ...
	Who   string // who is logged in; "" where nobody needs to be
	Reads bool   // the reader may look and not write
	Rev   uint64 // revision of the book the page was made from, as /live counts
	Back  string // the page's own address, to come back to
	Other string // the units that may be chosen instead
	Body  any    // what the page's own template shows
}

// show renders a page whole before it sends any of it.
func (s *Server) show(w http.ResponseWriter, r *http.Request, status int, name string, v View) {
	units := quantity.Metric
	if v.Here != "login" && v.Here != "refused" { // which say nothing of the book, and don't open it
		units = s.unitsOf(r)
	}
	t := s.pages.byUnits[units][name]
	if t == nil {
		s.fail(w, r, fmt.Errorf("no template %q", name))
		return
	}
	p := personOf(r)
	v.Who, v.Reads, v.Rev = p.Name, p.Role == Reader, noteOf(r).rev
	v.Back, v.Other = r.URL.RequestURI(), string(quantity.Imperial)
	if units == quantity.Imperial {
		v.Other = string(quantity.Metric)
	}
	var b bytes.Buffer
	if err := t.Execute(&b, v); err != nil {
		s.fail(w, r, err)
		return
	}
	h := w.Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Cache-Control", "no-store")
	h.Set("Vary", "Accept-Encoding")
	body := b.Bytes()
	// No page holds a secret that its length could tell of once packed.
	if takesGzip(r) {
		if small := packed(body, gzip.DefaultCompression); small != nil {
			h.Set("Content-Encoding", "gzip")
			body = small
		}
	}
	h.Set("Content-Length", strconv.Itoa(len(body)))
	w.WriteHeader(status)
	_, _ = w.Write(body)
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

// ask runs a command and decodes its document into doc. A refusal is shown to
// the reader as a page, and ok is false.
func (s *Server) ask(w http.ResponseWriter, r *http.Request, doc any, args ...string) (ok bool) {
	re := s.opt.Run(r.Context(), args)
	if re.Code != 0 {
		s.show(w, r, statusOf(re.Code), "refused.html", View{Title: "Refused", Body: onPage(re.Said)})
		return false
	}
	if err := json.Unmarshal(re.Doc, doc); err != nil {
		s.fail(w, r, fmt.Errorf("%s: %w", args[0], err))
		return false
	}
	return true
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
