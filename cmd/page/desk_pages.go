package page

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
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
	Rooms   []roomLine
	Makes   []makeDoc
	Looks   bool // something was asked for
}

// wheels finds wheels by tag, lot or place.
func (s *Server) wheels(w http.ResponseWriter, r *http.Request) {
	f := found{Find: strings.TrimSpace(r.URL.Query().Get("find"))}
	f.Looks = f.Find != ""
	var rooms struct {
		Rooms []roomLine `json:"rooms"`
	}
	if !s.ask(w, r, &rooms, "room", "list") {
		return
	}
	f.Rooms = rooms.Rooms
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
		var m struct {
			Makes []makeDoc `json:"makes"`
		}
		if !s.ask(w, r, &m, "make", "list", "--most=60") {
			return
		}
		f.Makes = m.Makes
	}
	s.show(w, r, status, "wheels.html", View{Title: "Wheels", Here: "wheels", Body: f})
}

// whole shows a room of many wheels, or all of a large book, by shelf and room:
// nobody reads a list of a hundred thousand.
func (f *found) whole(s *Server, r *http.Request) {
	i := slices.IndexFunc(f.Rooms, func(x roomLine) bool { return x.Name == strings.Trim(f.Find, "/") })
	if i < 0 || f.Rooms[i].Wheels <= 2*sheetful || r.URL.Query().Has("from") {
		return
	}
	var d roomDoc
	if s.look(r, &d, "room", "show", "--no-water", "--", f.Rooms[i].Name) && len(d.Shelves) > 1 {
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

// shelf is a place with how many wheels lie there and how many could.
type shelf struct {
	Place  string
	Wheels int
	Each   int // 0: not known
}

func shelves(d roomDoc) []shelf {
	out := []shelf{}
	for _, x := range d.Shelves {
		sh := shelf{Place: x.Place, Wheels: x.Wheels}
		if parts := strings.Split(x.Place, "/"); len(parts) == 3 {
			for _, k := range d.Room.Racks {
				if k.Rack == parts[1] {
					sh.Each = k.Each
				}
			}
		}
		out = append(out, sh)
	}
	return out
}

// mostPlaces is how many places a field offers.
const mostPlaces = 400

// places are the shelves of all rooms, for a field to offer.
func (s *Server) places(r *http.Request) (out []string) {
	var d struct {
		Rooms []roomLine `json:"rooms"`
	}
	if !s.look(r, &d, "room", "list") {
		return nil
	}
	for _, m := range d.Rooms {
		out = append(out, m.Name)
		for _, k := range m.Racks {
			for n := 1; n <= k.Shelves && len(out) < mostPlaces; n++ {
				out = append(out, fmt.Sprintf("%s/%s/%d", m.Name, k.Rack, n))
			}
		}
	}
	return out
}

// wheel is one wheel's card.
func (s *Server) wheel(w http.ResponseWriter, r *http.Request) {
	tag := r.PathValue("name")
	var d struct {
		wheelDoc
		Tastings  []tasting
		Places    []string
		Customers []string
		Curve     string
	}
	if !s.ask(w, r, &d.wheelDoc, "wheel", "show", "--", tag) {
		return
	}
	var t tasteDoc
	if slices.ContainsFunc(d.Entries, func(e entry) bool { return e.What == "tasted" }) && s.look(r, &t, "taste", "show", "--", d.Wheel) {
		d.Tastings = t.Tastings
	}
	if personOf(r).Role != Reader && d.Gone == nil {
		d.Places, d.Customers = s.places(r), customerNames(s.callOf(r))
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

type tasting struct {
	Wheel      string   `json:"wheel"`
	At         string   `json:"at"`
	Age        int      `json:"age_days"`
	By         string   `json:"by"`
	Appearance *float64 `json:"appearance"`
	Colour     *float64 `json:"colour"`
	Texture    *float64 `json:"texture"`
	Flavour    *float64 `json:"flavour"`
	Faults     []string `json:"faults"`
	Note       string   `json:"note"`
}

type score struct {
	Mean  *float64 `json:"mean"`
	Low   *float64 `json:"low"`
	High  *float64 `json:"high"`
	Count int      `json:"count"`
}

type tasteDoc struct {
	ByAge []struct {
		Age      int `json:"age_days"`
		Tastings int `json:"tastings"`
		Wheels   int `json:"wheels"`
		Scores   struct {
			Appearance *score `json:"appearance"`
			Colour     *score `json:"colour"`
			Texture    *score `json:"texture"`
			Flavour    *score `json:"flavour"`
		} `json:"scores"`
	} `json:"by_age"`
	Faults []struct {
		Fault string `json:"fault"`
		Of    string `json:"said_of"`
		Count int    `json:"count"`
	} `json:"faults"`
	Tastings []tasting `json:"tastings"`
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
		lotDoc
		Here             []lotWheel
		Gone             []wheelLine
		Most             int // wheels left out of the list
		Reckoned         bool
		Taste            tasteDoc
		Curve, Acidities string
	}
	if !s.ask(w, r, &d.lotDoc, "make", "show", "--", r.PathValue("name")) {
		return
	}
	lot := d.Make.Lot
	var list struct {
		Wheels []wheelLine `json:"wheels"`
	}
	s.look(r, &list, "wheel", "list", "--gone", "--", lot)
	var dry struct {
		Wheels []dryDoc `json:"wheels"`
	}
	if d.Reckoned = len(list.Wheels) <= mostForecast; d.Reckoned {
		s.look(r, &dry, "dry", "--", lot)
	}
	by := map[string]dryDoc{}
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
			d.Here = append(d.Here, lotWheel{x, by[x.Wheel].Now, by[x.Wheel].Verdict})
		}
	}
	d.Gone = d.Gone[:min(len(d.Gone), 2*sheetful)]
	s.look(r, &d.Taste, "taste", "show", "--", lot)
	if len(d.Here) > 0 {
		d.Curve = addressOf("lot", lot, "curve.svg")
	}
	if n := slices.IndexFunc(d.Log, func(l logLine) bool { return l.PH != nil || l.Acid != nil }); n >= 0 {
		d.Acidities = addressOf("lot", lot, "acidity.svg")
	}
	s.show(w, r, http.StatusOK, "lot.html", View{Title: "Lot " + lot, Here: "makes", Body: d})
}

func (s *Server) rooms(w http.ResponseWriter, r *http.Request) {
	var d struct {
		Rooms []roomLine `json:"rooms"`
	}
	if !s.ask(w, r, &d, "room", "list") {
		return
	}
	var alarms struct {
		Alarms []struct {
			Room string `json:"room"`
			What string `json:"what"`
		} `json:"alarms"`
	}
	s.look(r, &alarms, "today", "--only=weigh")
	s.show(w, r, http.StatusOK, "rooms.html", View{Title: "Rooms", Here: "rooms", Body: struct {
		Rooms  []roomLine
		Alarms any
	}{d.Rooms, alarms.Alarms}})
}

// room is one room: its air, its shelves, its water.
func (s *Server) room(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	q := r.URL.Query()
	var d struct {
		roomDoc
		Air     airDoc
		Places  []shelf
		Picture string
		Days    string
		Volume  string
		Changes string
	}
	args := []string{"room", "show"}
	for _, f := range [][2]string{{"volume", "--volume="}, {"air-change", "--air-change="}, {"outside-temp", "--outside-temp="}, {"outside-rh", "--outside-rh="}} {
		if v := q.Get(f[0]); v != "" {
			args = append(args, f[1]+v)
		}
	}
	// The water takes a forecast of each wheel: of a full warehouse's it comes
	// only when it is asked for.
	if len(args) == 2 && !q.Has("water") && s.crowded(r, name) {
		args = append(args, "--no-water")
	}
	if !s.ask(w, r, &d.roomDoc, append(args, "--", name)...) {
		return
	}
	d.Days, d.Volume, d.Changes = days(r, "14"), q.Get("volume"), q.Get("air-change")
	if !s.ask(w, r, &d.Air, "air", "show", "--no-water", "--days="+d.Days, "--", d.Room.Name) {
		return
	}
	d.Places = shelves(d.roomDoc)
	d.Picture = addressOf("room", d.Room.Name, "air.svg")
	s.show(w, r, http.StatusOK, "room.html", View{Title: "Room " + d.Room.Name, Here: "rooms", Body: d})
}

// mostWater is up to how many wheels a room's page reckons their water.
const mostWater = 1000

func (s *Server) crowded(r *http.Request, room string) bool {
	var d struct {
		Rooms []roomLine `json:"rooms"`
	}
	s.look(r, &d, "room", "list")
	return slices.ContainsFunc(d.Rooms, func(x roomLine) bool { return x.Name == room && x.Wheels > mostWater })
}

// aheadArgs are the flags of ahead that a query asks for.
func aheadArgs(r *http.Request) []string {
	q := r.URL.Query()
	args := []string{"ahead", "--days=" + days(r, "14")}
	if v := q.Get("room"); v != "" {
		args = append(args, "--room="+v)
	}
	if v := q.Get("rest"); v != "" {
		args = append(args, "--rest="+v)
	}
	return args
}

// aheadCell is a room's work on a day.
type aheadCell struct {
	aheadRoom
	None bool
}

// ahead is the days to come.
func (s *Server) ahead(w http.ResponseWriter, r *http.Request) {
	var d struct {
		aheadDoc
		Names    []string
		Cells    [][]aheadCell // a row a day, a column a room
		Most     *float64      // the fullest room and day
		Ask      string
		Rest     string
		Only     string
		AllRooms []roomLine
		Calendar string
	}
	args := aheadArgs(r)
	if !s.ask(w, r, &d.aheadDoc, args...) {
		return
	}
	for _, day := range d.Days {
		for _, x := range day.Rooms {
			if !slices.Contains(d.Names, x.Room) {
				d.Names = append(d.Names, x.Room)
			}
			if x.Minutes != nil && (d.Most == nil || *x.Minutes > *d.Most) {
				d.Most = x.Minutes
			}
		}
	}
	for _, day := range d.Days {
		row := make([]aheadCell, len(d.Names))
		for i, n := range d.Names {
			row[i].None = true
			for _, x := range day.Rooms {
				if x.Room == n {
					row[i] = aheadCell{aheadRoom: x}
				}
			}
		}
		d.Cells = append(d.Cells, row)
	}
	q := r.URL.Query()
	d.Ask, d.Rest, d.Only = days(r, "14"), q.Get("rest"), q.Get("room")
	d.Calendar = "/ahead/cave.ics?" + url.Values{"days": {d.Ask}, "rest": {d.Rest}, "room": {d.Only}}.Encode()
	var rooms struct {
		Rooms []roomLine `json:"rooms"`
	}
	s.look(r, &rooms, "room", "list")
	d.AllRooms = rooms.Rooms
	s.show(w, r, http.StatusOK, "ahead.html", View{Title: "The days ahead", Here: "ahead", Body: d})
}

func (s *Server) aheadCalendar(w http.ResponseWriter, r *http.Request) {
	s.raw(w, r, "text/calendar; charset=utf-8", "cave.ics", append(aheadArgs(r), "--ics=-")...)
}

func (s *Server) makes(w http.ResponseWriter, r *http.Request) {
	var d struct {
		Makes []makeDoc `json:"makes"`
		More  bool
		All   bool
	}
	d.All = r.URL.Query().Has("all")
	most := "--most=" + strconv.Itoa(sheetful)
	if d.All {
		most = "--most=0"
	}
	if !s.ask(w, r, &d, "make", "list", most) {
		return
	}
	d.More = !d.All && len(d.Makes) == sheetful
	s.show(w, r, http.StatusOK, "makes.html", View{Title: "Makes", Here: "makes", Body: d})
}

func (s *Server) makeNew(w http.ResponseWriter, r *http.Request) {
	var d struct {
		Varieties []varietyLine `json:"varieties"`
		Places    []string
		Today     string
		Plans     struct {
			Plans []struct {
				Name  string `json:"name"`
				Title string `json:"title"`
			} `json:"plans"`
		}
	}
	if !s.ask(w, r, &d, "variety", "list") {
		return
	}
	s.look(r, &d.Plans, "plan", "list")
	d.Places, d.Today = s.places(r), s.opt.Now().Format("2006-01-02")
	s.show(w, r, http.StatusOK, "makenew.html", View{Title: "A new make", Here: "makes", Body: d})
}

func (s *Server) stock(w http.ResponseWriter, r *http.Request) {
	var d stockDoc
	q := r.URL.Query()
	args := []string{"stock"}
	for _, k := range []string{"room", "variety", "on"} {
		if v := q.Get(k); v != "" {
			args = append(args, "--"+k+"="+v)
		}
	}
	if !s.ask(w, r, &d, args...) {
		return
	}
	var rooms struct {
		Rooms []roomLine `json:"rooms"`
	}
	s.look(r, &rooms, "room", "list")
	s.show(w, r, http.StatusOK, "stock.html", View{Title: "Stock", Here: "stock", Body: struct {
		stockDoc
		Rooms []roomLine
		Room  string
		On    string
	}{d, rooms.Rooms, q.Get("room"), q.Get("on")}})
}

// Words says which of how many the list shows.
func (f found) Words() string {
	if len(f.List) == f.All {
		return count(f.All, "wheel", "wheels")
	}
	return fmt.Sprintf("wheels %d to %d of %d", f.From+1, f.From+len(f.List), f.All)
}

// roomNames are what a field offers: the page goes on without them.
func roomNames(c *call) (out []string) {
	var d struct {
		Rooms []roomLine `json:"rooms"`
	}
	c.s.look(c.r, &d, "room", "list")
	for _, m := range d.Rooms {
		out = append(out, m.Name)
	}
	return out
}
