package page

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/page/live"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/wheel"
)

// A phone shows one list of the day: all of a small book, a room or rack, a part of the
// day, or a page of these. What is too long for one is shown as what it consists of,
// to choose from.

const (
	fewCards  = 60   // of everything that's due, shown at once: our choice
	mostCards = 200  // of what was chosen, on one page
	mostTags  = 8000 // wheels on one page, which keeps it under 60 kB as it is sent
)

// chosenCookie keeps the list that was chosen on a phone: the query of its address. The
// round's script sets it.
const chosenCookie = "rindkeep-round"

// listQuery are the parts of an address that say which list a page shows.
var listQuery = []string{"room", "at", "share", "job", "page"}

// listOf is which list a query asks for, in the one way that boards are named by. A query
// that asks for none gets what was chosen on this phone; ?rooms gets all.
func listOf(r *http.Request) (list url.Values, chosen bool) {
	q := r.URL.Query()
	if list = partOf(q); len(list) > 0 || q.Has("rooms") {
		return list, false
	}
	if c, err := r.Cookie(chosenCookie); err == nil {
		raw, bad := url.QueryUnescape(c.Value)
		if q, err := url.ParseQuery(raw); err == nil && bad == nil {
			list = partOf(q)
		}
	}
	return list, len(list) > 0
}

// partOf is what a query says about the list.
func partOf(q url.Values) url.Values {
	list := url.Values{}
	for _, name := range listQuery {
		if v := strings.TrimSpace(q.Get(name)); v != "" {
			list.Set(name, v)
		}
	}
	return list
}

// address is where a list is, changed in pairs of name and value; "" leaves one out.
func address(list url.Values, change ...string) string {
	q := url.Values{}
	for k, v := range list {
		q[k] = v
	}
	for i := 0; i < len(change); i += 2 {
		q.Set(change[i], change[i+1])
	}
	for k := range q {
		if q.Get(k) == "" {
			q.Del(k)
		}
	}
	if len(q) == 0 {
		return "/?rooms"
	}
	return "/?" + q.Encode()
}

// cuts remembers how days were split: who does which racks stays the same while the
// day's minutes are being worked off.
type cuts struct {
	mu  sync.Mutex
	all map[string]cutOn
}

type cutOn struct {
	date string
	cut  *round.Cut
}

// day lists a part of a day that may have been split before.
func (c *cuts) day(q round.Asked, list func(round.Asked) (round.Today, error)) (round.Today, error) {
	if q.Share.Of == 0 || len(q.Only) > 0 { // the minutes of one job aren't the day's
		return list(q)
	}
	key := fmt.Sprint(q.Room, " ", q.Share.Of)
	c.mu.Lock()
	was := c.all[key]
	c.mu.Unlock()
	q.Cut = was.cut
	t, err := list(q)
	if err == nil && was.cut != nil && t.Date != was.date {
		q.Cut = nil
		t, err = list(q)
	}
	if err != nil || q.Cut != nil {
		return t, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.all == nil || len(c.all) >= mostCuts {
		c.all = map[string]cutOn{}
	}
	c.all[key] = cutOn{t.Date, t.Cut}
	return t, nil
}

// mostCuts bounds what a reader may have kept by splitting a day in many ways.
const mostCuts = 100

// askedFor reads the day's work that a query asks for.
func askedFor(q url.Values) (a round.Asked, err error) {
	text := func(name string) string { return strings.TrimSpace(q.Get(name)) }
	a.Room, a.At = text("room"), text("at")
	for w := range strings.SplitSeq(text("only"), ",") {
		if strings.TrimSpace(w) == "" {
			continue
		}
		j, err := wheel.ParseJob(w)
		if err != nil {
			return a, app.Misread("only", err)
		}
		a.Only = append(a.Only, j)
	}
	if s := text("share"); s != "" {
		if a.Share, err = round.ParseShare(s); err != nil {
			return a, app.Misread("share", err)
		}
	}
	return a, nil
}

// board is the list that a page shows, brought up to date.
func (s *Server) board(ctx context.Context, units quantity.Units, list url.Values) (live.Shown, error) {
	return s.boards.Show(string(units)+"?"+list.Encode(), s.opt.Now, func() ([]live.Part, any, error) {
		q := url.Values{"only": {list.Get("job")}}
		for k, v := range list {
			q[k] = v
		}
		a, err := askedFor(q)
		if err != nil {
			return nil, nil, err
		}
		a.Together = true
		t, err := s.cuts.day(a, func(a round.Asked) (round.Today, error) {
			return round.ListDay(ctx, s.opt.App, app.Caller{}, a)
		})
		if err != nil {
			return nil, nil, err
		}
		p := words.Printer{For: words.Page, Units: units}
		p.FillToday(&t)
		b := listBody(t, p, list)
		if len(b.Tiles) > 0 && !list.Has("job") {
			err = s.done(ctx, func(d *round.Done) {
				for i := range b.Tiles {
					b.Tiles[i].progress(d)
				}
			})
		}
		return partsOf(b), b, err
	})
}

// version brings a list up to date for those who have it open, and numbers it.
func (s *Server) version(list string) (uint64, error) {
	units, raw, _ := strings.Cut(list, "?")
	q, err := url.ParseQuery(raw)
	if err != nil {
		return 0, err
	}
	if s.boards.Rests(list, s.opt.Now()) {
		return 0, live.ErrLater
	}
	shown, err := s.board(context.Background(), quantity.Units(units), q)
	return shown.Version(), err
}

// renderShelf makes HTML of one shelf.
func (s *Server) renderShelf(list string, shelf any) (template.HTML, error) {
	units, _, _ := strings.Cut(list, "?")
	var b bytes.Buffer
	err := s.pages.byUnits[quantity.Units(units)]["round.html"].ExecuteTemplate(&b, "shelf", shelf)
	return template.HTML(b.String()), err
}

// partsOf takes the shelves out of a list's body.
func partsOf(b *roundBody) (parts []live.Part) {
	for i := range b.Rooms {
		for j := range b.Rooms[i].Shelves {
			sh := &b.Rooms[i].Shelves[j]
			parts = append(parts, live.Part{Name: b.Rooms[i].Name + "\x00" + sh.Place, Content: *sh})
			*sh = shelfCards{Place: sh.Place}
		}
	}
	return parts
}

// bodyFrom is the body of a page that shows a board. A page that has it as of have gets
// only the shelves that changed since.
func bodyFrom(shown live.Shown, have string) roundBody {
	b := *shown.Rest.(*roundBody)
	b.At, b.Have = shown.AsOf.UnixMilli(), shown.Have
	b.Rooms = slices.Clone(b.Rooms)
	n := 0
	for i := range b.Rooms {
		b.Rooms[i].Shelves = slices.Clone(b.Rooms[i].Shelves)
		for j := range b.Rooms[i].Shelves {
			sh := &b.Rooms[i].Shelves[j]
			if sh.Same = have != "" && shown.Same(shown.Parts[n], have); !sh.Same {
				sh.HTML = shown.Parts[n].HTML
			}
			n++
		}
	}
	return b
}

// tile is a part of the day to choose.
type tile struct {
	Href, Name, Words string
	Late, Done        string
	Who               []string // who has it open

	list  url.Values
	place cave.Place // "" if it isn't one place
	left  int        // its jobs, counted by wheel
}

// progress says how much of a place is done.
func (x *tile) progress(d *round.Done) {
	if x.place != "" && x.list.Get("share") == "" {
		x.Done = words.ShareDone(d.At(x.place), x.left)
	}
}

// tileOf is the tile of some lines, on a list changed so.
func tileOf(name string, lines []round.Line, p words.Printer, list url.Values, change ...string) tile {
	l := round.ListOf(lines)
	x := tile{Name: name, Words: p.ListSum(l), left: l.WheelJobs(), Href: address(list, change...)}
	x.list, _ = url.ParseQuery(strings.TrimPrefix(x.Href, "/?"))
	if late := lateOf(lines); late > 0 {
		x.Late = text.Count(late, "job") + " late"
	}
	return x
}

// listBody lays out the list that was asked for: its cards, or where these are too many
// what it consists of.
func listBody(t round.Today, p words.Printer, list url.Values) *roundBody {
	whole := t.List
	asked := list.Has("room") || list.Has("at") || list.Has("share") || oneOf(whole.Lines, room)
	pages := pagesOf(whole.Lines)
	page, _ := strconv.Atoi(list.Get("page"))
	var tiles []tile
	switch {
	case len(t.Shares) > 0:
		tiles = shareTiles(t, p, list)
	case len(pages) == 1 && (asked || len(whole.Lines) <= fewCards):
	case page > 0:
		t.List.Lines = pages[min(page, len(pages))-1]
	default:
		if tiles = placeTiles(whole, p, list); tiles == nil {
			tiles = pageTiles(pages, p, list)
		}
	}
	if tiles != nil {
		t.List.Lines = nil
	}
	b := bodyOf(t, p)
	b.Sum, b.Lines, b.Tiles = p.ListSum(whole), len(whole.Lines), tiles
	b.Late = lateOf(whole.Lines)
	b.Room, b.Job = list.Get("room"), list.Get("job")
	b.List = list.Encode()
	at := ""
	if page > 0 && tiles == nil && len(pages) > 1 {
		page = min(page, len(pages))
		at = fmt.Sprintf("page %d of %d", page, len(pages))
		if page > 1 {
			b.Before = address(list, "page", strconv.Itoa(page-1))
		}
		if page < len(pages) {
			b.After = address(list, "page", strconv.Itoa(page+1))
		}
	}
	b.Chosen, b.Others = chosenWords(list, at), otherLists(list)
	b.MayShare = list.Get("share") == "" && len(whole.Lines) > 1
	return &b
}

// With is the address of the list with a part of its query changed, or without it.
func (b roundBody) With(name, value string) string {
	list, _ := url.ParseQuery(b.List)
	return address(list, name, value)
}

func lateOf(lines []round.Line) (late int) {
	for _, n := range lines {
		if n.LateDays > 0 {
			late++
		}
	}
	return late
}

// pagesOf cuts lines into pages, between shelves where these aren't too long.
func pagesOf(lines []round.Line) (pages [][]round.Line) {
	var page []round.Line
	tags := 0
	flush := func() {
		if len(page) > 0 {
			pages = append(pages, page)
		}
		page, tags = nil, 0
	}
	for i := 0; i < len(lines); {
		j, more := i, 0
		for j < len(lines) && lines[j].Place == lines[i].Place {
			more += len(lines[j].Tags)
			j++
		}
		if len(page)+j-i > mostCards || tags+more > mostTags {
			flush()
		}
		for ; i < j; i++ {
			if len(page) >= mostCards || tags > 0 && tags+len(lines[i].Tags) > mostTags {
				flush()
			}
			page = append(page, lines[i])
			tags += len(lines[i].Tags)
		}
	}
	flush()
	if pages == nil {
		pages = [][]round.Line{nil}
	}
	return pages
}

// placeTiles are the rooms of a list, or the racks of one room; nil if all of it is at one
// rack.
func placeTiles(l round.List, p words.Printer, list url.Values) (tiles []tile) {
	at := room
	if oneOf(l.Lines, at) {
		at = cave.Place.Rack
	}
	if oneOf(l.Lines, at) {
		return nil
	}
	name := "room"
	if list.Get("share") != "" {
		name = "at"
	}
	var order []cave.Place
	of := map[cave.Place][]round.Line{}
	for _, n := range l.Lines {
		u := at(n.Place)
		if of[u] == nil {
			order = append(order, u)
		}
		of[u] = append(of[u], n)
	}
	for _, u := range order {
		x := tileOf(cmp.Or(string(u), words.RoomHeading("")), of[u], p, list, name, string(u), "page", "")
		x.place = u
		tiles = append(tiles, x)
	}
	return tiles
}

func room(p cave.Place) cave.Place { return cave.Place(p.Room()) }

func oneOf(lines []round.Line, at func(cave.Place) cave.Place) bool {
	for _, n := range lines {
		if at(n.Place) != at(lines[0].Place) {
			return false
		}
	}
	return true
}

// pageTiles are the pages of a rack.
func pageTiles(pages [][]round.Line, p words.Printer, list url.Values) (tiles []tile) {
	for i, lines := range pages {
		name := fromTo(string(lines[0].Place), string(lines[len(lines)-1].Place))
		tiles = append(tiles, tileOf(name, lines, p, list, "page", strconv.Itoa(i+1)))
	}
	return tiles
}

func fromTo(from, to string) string {
	if from == to {
		return cmp.Or(from, words.RoomHeading(""))
	}
	return from + " to " + to
}

// shareTiles are the parts that a day was split into.
func shareTiles(t round.Today, p words.Printer, list url.Values) (tiles []tile) {
	for _, part := range t.Shares {
		nth, of, _ := strings.Cut(part.Share, "/")
		name := "Part " + nth + " of " + of
		if part.Tasks > 0 {
			name += ": " + fromTo(part.From, part.To)
		}
		tiles = append(tiles, tileOf(name, part.List.Lines, p, list, "share", part.Share, "page", ""))
	}
	return tiles
}

// chosenWords say what a list is of, if it isn't of everything: "Only part 2 of 3, cellar".
func chosenWords(list url.Values, page string) string {
	var w []string
	s := list.Get("share")
	nth, of, part := strings.Cut(s, "/")
	if part {
		w = append(w, "part "+nth+" of "+of)
	}
	if at := placeOf(list); at != "" {
		w = append(w, at)
	}
	if job := list.Get("job"); job != "" {
		w = append(w, job)
	}
	if page != "" {
		w = append(w, page)
	}
	switch {
	case s != "" && !part:
		return strings.Join(append([]string{"Which part is yours?"}, w...), " ")
	case len(w) > 0:
		return "Only " + strings.Join(w, ", ")
	}
	return ""
}

// otherLists lead to what a list is a part of.
func otherLists(list url.Values) (to []link) {
	place, name := list.Get("at"), "at"
	if place == "" {
		place, name = list.Get("room"), "room"
	}
	if room := cave.Place(place).Room(); room != place {
		to = append(to, link{address(list, name, room, "page", ""), "All of " + room})
	}
	if s := list.Get("share"); s != "" && list.Get("at") != "" {
		to = append(to, link{address(list, "at", "", "page", ""), "All of part " + s})
	}
	if list.Has("share") || place != "" || list.Has("job") {
		to = append(to, link{"/?rooms", "Everything due today"})
	}
	return to
}
