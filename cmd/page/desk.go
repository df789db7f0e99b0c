package page

import (
	"context"
	"net/http"
	"net/url"
	"path"
	"regexp"
	"strings"
	"time"

	"rindkeep/cmd/app/trade"
)

// deskRoutes are the pages to read and write at a desk: wheels, lots, rooms, the
// days ahead, the trace, a new make.
func (s *Server) deskRoutes(m *http.ServeMux) {
	m.HandleFunc("GET /wheels", s.wheels)
	m.HandleFunc("GET /wheel", named("tag", s.wheel)) // for tags no path can hold
	m.HandleFunc("GET /wheel/{name}", s.wheel)
	m.HandleFunc("GET /wheel/{name}/curve.svg", s.file(svg, "", curvePicture))
	m.HandleFunc("GET /wheel/{name}/card.pdf", s.wheelSheet)
	m.HandleFunc("GET /lot", named("lot", s.lot))
	m.HandleFunc("GET /lot/{name}", s.lot)
	m.HandleFunc("GET /lot/{name}/curve.svg", s.file(svg, "", curvePicture))
	m.HandleFunc("GET /lot/{name}/acidity.svg", s.file(svg, "", acidityPicture))
	m.HandleFunc("GET /lot/{name}/sheet.pdf", s.file(pdf, "make.pdf", makeSheet))
	m.HandleFunc("GET /rooms", s.page(allRooms))
	m.HandleFunc("GET /room", named("room", s.page(oneRoom)))
	m.HandleFunc("GET /room/{name}", patient(s.page(oneRoom)))
	m.HandleFunc("GET /room/{name}/air.svg", s.file(svg, "", airPicture))
	m.HandleFunc("GET /ahead", patient(s.page(aheadPage)))
	m.HandleFunc("GET /ahead/cave.ics", patient(s.file("text/calendar; charset=utf-8", "cave.ics", calendar)))
	m.HandleFunc("GET /makes", s.page(makesPage))
	m.HandleFunc("GET /makes/new", s.page(newMake))
	m.HandleFunc("GET /trace", s.page(tracePageOf))
	m.HandleFunc("GET /trace/recall.csv", s.file(csv, "recall.csv", traceFile(trade.Trace.Recall)))
	m.HandleFunc("GET /trace/fsma.csv", s.file(csv, "fsma.csv", traceFile(fsmaTable)))
	m.HandleFunc("GET /trace/recall.pdf", s.file(pdf, "recall.pdf", recallSheet))
	m.HandleFunc("GET /stock", patient(s.page(stockPage)))
	m.HandleFunc("GET /customers", s.page(customersPage))
}

// Media types of the files the page gives.
const (
	csv = "text/csv; charset=utf-8"
	pdf = "application/pdf"
	svg = "image/svg+xml"
)

// patience is how long a page that forecasts every wheel of a full warehouse may
// take: a minute and more for tens of thousands.
const patience = 5 * time.Minute

// patient lets a page take longer than others; past it the command is
// interrupted, and the page says so.
func patient(h http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		ctx, cancel := context.WithTimeout(r.Context(), patience)
		defer cancel()
		// Where the server sets no time, there is none to move.
		end, _ := ctx.Deadline()
		_ = http.NewResponseController(w).SetWriteDeadline(end.Add(time.Minute))
		h(w, r.WithContext(ctx))
	}
}

// named takes the name of what is asked for from the query.
func named(key string, h http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		r.SetPathValue("name", r.URL.Query().Get(key))
		h(w, r)
	}
}

// pageOf is the address of a page about one thing. A name that a path cannot hold,
// . and .. , goes in the query.
func pageOf(kind, key, name string) string {
	if path.Clean("/"+name) == "/" || strings.Contains(name, "..") {
		return "/" + kind + "?" + url.Values{key: {name}}.Encode()
	}
	return "/" + kind + "/" + url.PathEscape(name)
}

func wheelPage(tag string) string  { return pageOf("wheel", "tag", tag) }
func lotPage(lot string) string    { return pageOf("lot", "lot", lot) }
func roomPage(room string) string  { return pageOf("room", "room", room) }
func findPage(what string) string  { return "/wheels?" + url.Values{"find": {what}}.Encode() }
func tracePage(what string) string { return "/trace?" + url.Values{"what": {what}}.Encode() }

// raw sends what a command prints as it is: a picture, a table, a sheet.
func (s *Server) raw(w http.ResponseWriter, r *http.Request, kind, file string, args ...string) {
	re := s.opt.Raw(r.Context(), args)
	if re.Code != 0 {
		if strings.HasPrefix(kind, "image/") {
			http.Error(w, re.Said.Error, statusOf(re.Code))
			return
		}
		s.show(w, r, statusOf(re.Code), "refused.html", View{Title: "Refused", Body: onPage(re.Said)})
		return
	}
	h := w.Header()
	h.Set("Content-Type", kind)
	h.Set("Cache-Control", "no-store")
	if strings.HasPrefix(kind, "image/") {
		// A picture opened by itself has its own style and may do nothing else.
		h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; sandbox")
	}
	if file != "" {
		h.Set("Content-Disposition", `attachment; filename="`+file+`"`)
	}
	_, _ = w.Write(re.Doc)
}

func (s *Server) wheelSheet(w http.ResponseWriter, r *http.Request) {
	s.raw(w, r, "application/pdf", "card.pdf", "sheet", "wheel", "--out=-", "--", r.PathValue("name"))
}

// look runs a command whose refusal does not end the page: what it would have
// shown is left out.
func (s *Server) look(r *http.Request, doc any, args ...string) bool {
	re := s.opt.Run(r.Context(), args)
	return re.Code == 0 && decode(re.Doc, doc) == nil
}

var (
	// inBrackets is what a hint says in brackets to who types commands.
	inBrackets = regexp.MustCompile(`\s*\([^()]*--[a-z][^()]*\)`)
	// forTyping is a command or a flag.
	forTyping = regexp.MustCompile(`\brindkeep [a-z]|(^|\s)--[a-z]`)
	// pageWords are flags that are a field of the page's own forms.
	pageWords = strings.NewReplacer("say why with --override", "say why", "with --note", "in the note", ": --fault-own ", ", it has its own field: ")
)

// onPage is the refusal without what its hint says for the command line alone.
// That --sure gets it recorded stays, for who asks by program.
func onPage(f Refusal) Refusal {
	var keep []string
	for part := range strings.SplitSeq(pageWords.Replace(inBrackets.ReplaceAllString(f.Hint, "")), "; ") {
		if part == "if it is right, repeat with --sure" || !forTyping.MatchString(part) {
			keep = append(keep, part)
		}
	}
	f.Hint = strings.Join(keep, "; ")
	return f
}
