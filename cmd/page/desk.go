package page

import (
	"context"
	"net/http"
	"net/url"
	"path"
	"strings"
	"time"

	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/trade"
)

// deskRoutes are the pages to read and write at a desk: wheels, lots, rooms, the
// days ahead, the trace, a new make.
func (s *Server) deskRoutes(m *http.ServeMux) {
	m.HandleFunc("GET /wheels", s.page(findWheels))
	m.HandleFunc("GET /wheel", named("tag", s.page(wheelPageOf))) // for tags no path can hold
	m.HandleFunc("GET /wheel/{name}", s.page(wheelPageOf))
	m.HandleFunc("GET /wheel/{name}/curve.svg", s.file(svg, "", curvePicture))
	m.HandleFunc("GET /wheel/{name}/card.pdf", s.file(pdf, "card.pdf", wheelSheet))
	m.HandleFunc("GET /lot", named("lot", s.page(lotPageOf)))
	m.HandleFunc("GET /lot/{name}", s.page(lotPageOf))
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
	m.HandleFunc("GET /start", s.page(formFor(startPage)))
	m.HandleFunc("GET /makes/new", s.page(formFor(newMake)))
	m.HandleFunc("GET /makes/receive", s.page(formFor(receivePage)))
	m.HandleFunc("GET /makes/take-over", s.page(formFor(takeOverPage)))
	m.HandleFunc("GET /kinds", s.page(kindsPage))
	m.HandleFunc("GET /kind/{name}", s.page(textPage(library.Variety, "kind of cheese")))
	m.HandleFunc("GET /plan/{name}", s.page(textPage(library.Plan, "rind plan")))
	m.HandleFunc("GET /import", s.page(importPage))
	m.HandleFunc("GET /rooms/new", s.page(formFor(newRoom)))
	m.HandleFunc("GET /trace", s.page(tracePageOf))
	m.HandleFunc("GET /trace/recall.csv", s.file(csv, "recall.csv", traceFile(trade.Trace.Recall)))
	m.HandleFunc("GET /trace/fsma.csv", s.file(csv, "fsma.csv", traceFile(fsmaTable)))
	m.HandleFunc("GET /trace/recall.pdf", s.file(pdf, "recall.pdf", recallSheet))
	m.HandleFunc("GET /stock", patient(s.page(stockPage)))
	m.HandleFunc("GET /held", patient(s.page(heldPage)))
	m.HandleFunc("GET /held/held.pdf", patient(s.file(pdf, "held.pdf", heldSheet)))
	m.HandleFunc("GET /customers", s.page(customersPage))
	m.HandleFunc("GET /find", patient(s.page(foundPage)))
	m.HandleFunc("GET /log", patient(s.page(logPage)))
	m.HandleFunc("GET /sites", s.page(sitesPage))
	m.HandleFunc("GET /print", s.page(printPage))
	m.HandleFunc("GET /print/today.pdf", s.file(pdf, "today.pdf", daySheet))
	m.HandleFunc("GET /print/labels.pdf", s.file(pdf, "labels.pdf", labelSheet))
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
		_ = http.NewResponseController(w).SetReadDeadline(end) // a table comes slowly from afar
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
