package page

import (
	"bytes"
	"cmp"
	"compress/gzip"
	"fmt"
	"html/template"
	"net/http"
	"strconv"
	"strings"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/page/access"
	"rindkeep/cmd/page/format"
	"rindkeep/cmd/words"
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
	own := template.FuncMap{
		"asset": a.url, "wheelPage": wheelPage, "lotPage": lotPage, "roomPage": roomPage, "findPage": findPage,
		"tracePage": tracePage, "ofPage": subjectPage, "search": searchPage, "keeps": keeps,
		"card":      func(tag string) string { return addressOf("wheel", tag, "card.pdf") },
		"makeSheet": func(lot string) string { return addressOf("lot", lot, "sheet.pdf") },
	}
	files, err := embedded.ReadDir("templates")
	if err != nil {
		return nil, err
	}
	for _, f := range files {
		if f.Name() == "frame.html" || strings.HasPrefix(f.Name(), "part-") {
			continue
		}
		t, err := template.New("frame.html").Funcs(format.Funcs(p)).Funcs(own).
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
	Status   int    // 0: 200
	Part     string // a template of it, instead of the whole page

	Title  string // of the document
	Here   string // which part of the page this is: round, wheels, rooms, ...
	Who    string // who is logged in; "" where nobody needs to be
	Reads  bool   // the reader may look and not write
	Rev    uint64 // revision of the book the page was made from, as /live counts
	Back   string // the page's own address, to come back to
	Now    int64  // the server's time, Unix ms: a phone's clock may be off
	Other  string // the units that may be chosen instead
	Saved  string // when the book was last backed up
	Shared bool   // several sites share the book
	Waits  string // what of them waits for somebody here
	Body   any    // what the page's own template shows
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
	v.Who, v.Reads, v.Rev = p.Name, p.Role == access.Reader, noteOf(r).rev
	v.Now = s.opt.Now().UnixMilli()
	v.Back, v.Other = r.URL.RequestURI(), string(quantity.Imperial)
	if units == quantity.Imperial {
		v.Other = string(quantity.Metric)
	}
	if v.Here != "login" && v.Here != "refused" {
		if s.opt.Backup != nil {
			v.Saved = s.opt.Backup()
		}
		if v.Shared = s.shared(); v.Shared {
			v.Waits = waits(s.callOf(r))
		}
	}
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, cmp.Or(v.Part, "frame.html"), v); err != nil {
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
