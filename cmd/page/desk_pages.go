package page

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/app/tasting"
)

// sheetful is how many rows of a long list a page shows at a time.
const sheetful = 100

// found is a list cut into pages.
type found struct {
	Find    string
	List    []wheelLine
	From    int // the first shown, counted from 0
	All     int
	Before  string // addresses of the pages before and after
	After   string
	Shelves []shelf // instead of a list that would be too long
	Room    string
	Refused *Refusal
	Rooms   []rooms.Room
	Makes   []makes.Make
	Looks   bool // something was asked for
}

// wheels finds wheels by tag, lot or place.
func (s *Server) wheels(w http.ResponseWriter, r *http.Request) {
	f := found{Find: strings.TrimSpace(r.URL.Query().Get("find"))}
	f.Looks = f.Find != ""
	c := s.callOf(r)
	all, err := rooms.All(c.ctx, c.app, c.caller)
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	f.Rooms = all.Rooms
	status := http.StatusOK
	if f.Looks {
		if f.whole(s, r); f.Shelves == nil {
			re := s.opt.Run(r.Context(), []string{"wheel", "list", "--", f.Find})
			if re.Code != 0 {
				said := onPage(re.Said)
				f.Refused, status = &said, statusOf(re.Code)
			} else {
				var d struct {
					Wheels []wheelLine `json:"wheels"`
				}
				if err := decode(re.Doc, &d); err != nil {
					s.fail(w, r, err)
					return
				}
				if len(d.Wheels) == 1 && d.Wheels[0].Wheel == f.Find {
					http.Redirect(w, r, wheelPage(f.Find), http.StatusSeeOther)
					return
				}
				f.cut(d.Wheels, r)
			}
		}
	}
	if f.List == nil && f.Shelves == nil {
		m, err := makes.All(c.ctx, c.app, c.caller, makes.Listed{Most: 60})
		if err != nil {
			s.refuse(w, r, err)
			return
		}
		f.Makes = m.Makes
	}
	s.show(w, r, status, "wheels.html", View{Title: "Wheels", Here: "wheels", Body: f})
}

// whole shows a room of many wheels, or all of a large book, by shelf and room:
// nobody reads a list of a hundred thousand.
func (f *found) whole(s *Server, r *http.Request) {
	i := slices.IndexFunc(f.Rooms, func(x rooms.Room) bool { return x.Name == strings.Trim(f.Find, "/") })
	if i < 0 || f.Rooms[i].Wheels <= 2*sheetful || r.URL.Query().Has("from") {
		return
	}
	c := s.callOf(r)
	d, err := rooms.Show(c.ctx, c.app, c.caller, f.Rooms[i].Name, rooms.WaterAsked{Without: true})
	if err == nil && len(d.Shelves) > 1 {
		f.Room, f.Shelves = d.Room.Name, shelves(d)
	}
}

// cut keeps the part of a list that the query asks for.
func (f *found) cut(all []wheelLine, r *http.Request) {
	f.All = len(all)
	f.From, _ = strconv.Atoi(r.URL.Query().Get("from"))
	f.From = max(0, min(f.From, max(0, len(all)-1)))
	to := min(len(all), f.From+sheetful)
	f.List = all[f.From:to]
	at := func(n int) string {
		return "/wheels?" + url.Values{"find": {f.Find}, "from": {strconv.Itoa(n)}}.Encode()
	}
	if f.From > 0 {
		f.Before = at(max(0, f.From-sheetful))
	}
	if to < len(all) {
		f.After = at(to)
	}
}

// wheel is one wheel's card.
func (s *Server) wheel(w http.ResponseWriter, r *http.Request) {
	tag := r.PathValue("name")
	var d struct {
		wheelDoc
		Tastings  []tasting.Tasting
		Places    []string
		Customers []string
		Curve     string
	}
	if !s.ask(w, r, &d.wheelDoc, "wheel", "show", "--", tag) {
		return
	}
	d.Tastings = tastingsOf(s.callOf(r), d.Wheel).Tastings
	if personOf(r).Role != Reader && d.Gone == nil {
		d.Places, d.Customers = places(s.callOf(r)), customerNames(s.callOf(r))
	}
	d.Curve = addressOf("wheel", d.Wheel, "curve.svg")
	s.show(w, r, http.StatusOK, "wheel.html", View{Title: d.Wheel, Here: "wheels", Body: d})
}

// addressOf is the address of a picture of one thing.
func addressOf(kind, name, file string) string {
	if name == "." || strings.Contains(name, "..") {
		return "" // no path can name it
	}
	return "/" + kind + "/" + url.PathEscape(name) + "/" + file
}

// tastingsOf are the tastings of a wheel or a lot: a page goes on without them.
func tastingsOf(c *call, of string) tasting.Shown {
	d, _ := inTurn(c, func(c *call) (tasting.Shown, error) { return tasting.Show(c.ctx, c.app, c.caller, []string{of}) })
	return d
}

// mostForecast is up to how many wheels a lot's page has each wheel's loss of
// today reckoned; above it the loss at the last weighing is shown.
const mostForecast = 60

// lotWheel is a wheel of a lot with its loss.
type lotWheel struct {
	wheelLine
	Now     est
	Verdict string
}

// lot is a make's sheet.
func (s *Server) lot(w http.ResponseWriter, r *http.Request) {
	var d struct {
		makes.Shown
		Facts            [][2]string
		Diary            []diaryLine
		Caution          string
		Here             []lotWheel
		Gone             []wheelLine
		Most             int // wheels left out of the list
		Reckoned         bool
		Taste            tasting.Shown
		Curve, Acidities string
	}
	c := s.callOf(r)
	m, err := inTurn(c, func(c *call) (makes.Shown, error) { return makes.Show(c.ctx, c.app, c.caller, c.name()) })
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	p := c.words()
	lot := m.Make.Lot
	d.Shown, d.Facts, d.Diary = m, p.MakeFacts(m), diary(p, m)
	if m.RawMilk != nil {
		d.Caution = p.RawMilk(m.RawMilk)
	}
	var list struct {
		Wheels []wheelLine `json:"wheels"`
	}
	s.look(r, &list, "wheel", "list", "--gone", "--", lot)
	var dry drying.Verdicts
	if d.Reckoned = len(list.Wheels) <= mostForecast; d.Reckoned {
		dry, _ = inTurn(c, func(c *call) (drying.Verdicts, error) { return verdicts(c, lot) })
	}
	by := map[string]drying.Wheel{}
	for _, x := range dry.Wheels {
		by[x.Wheel] = x
	}
	for _, x := range list.Wheels {
		switch {
		case x.Gone != nil:
			d.Gone = append(d.Gone, x)
		case len(d.Here) == 2*sheetful:
			d.Most++
		default:
			d.Here = append(d.Here, lotWheel{x, by[x.Wheel].Present, by[x.Wheel].Verdict})
		}
	}
	d.Gone = d.Gone[:min(len(d.Gone), 2*sheetful)]
	d.Taste = tastingsOf(c, lot)
	if len(d.Here) > 0 {
		d.Curve = addressOf("lot", lot, "curve.svg")
	}
	if soured(m) {
		d.Acidities = addressOf("lot", lot, "acidity.svg")
	}
	s.show(w, r, http.StatusOK, "lot.html", View{Title: "Lot " + lot, Here: "makes", Body: d})
}

// Words says which of how many the list shows.
func (f found) Words() string {
	if len(f.List) == f.All {
		return count(f.All, "wheel", "wheels")
	}
	return fmt.Sprintf("wheels %d to %d of %d", f.From+1, f.From+len(f.List), f.All)
}
