package daylist

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"rindkeep/cave"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/page/live"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

// A phone shows one list of the day: all of a small book, a room or rack, a part of the
// day, or a page of these. What is too long for one is shown as what it consists of,
// to choose from.

const (
	fewCards  = 60   // of everything that's due, shown at once: our choice
	mostCards = 200  // of what was chosen, on one page
	mostTags  = 8000 // wheels on one page, which keeps it under 60 kB as it is sent
)

// Tile is a part of the day to choose.
type Tile struct {
	Href, Name, Words string
	Late, Done        string
	Who               []string // who has it open

	list  url.Values
	place cave.Place // "" if it isn't one place
	left  int        // its jobs, counted by wheel
}

// Progress says how much of a place is done.
func (x *Tile) Progress(d *round.Done) {
	if x.place != "" && x.list.Get("share") == "" {
		x.Done = words.ShareDone(d.At(x.place), x.left)
	}
}

// Open adds a person who has a list open, if it's the tile's or a part of it.
func (x *Tile) Open(who string, list url.Values) {
	at, here := PlaceOf(list), PlaceOf(x.list)
	if list.Get("share") == x.list.Get("share") && (here == "" || at == here || at.Within(here)) &&
		(x.list.Get("page") == "" || x.list.Get("page") == list.Get("page")) && !slices.Contains(x.Who, who) {
		x.Who = append(x.Who, who)
	}
}

// tileOf is the tile of some lines, on a list changed so.
func tileOf(name string, lines []round.Line, p words.Printer, list url.Values, change ...string) Tile {
	l := round.ListOf(lines)
	x := Tile{Name: name, Words: p.ListSum(l), left: l.WheelJobs(), Href: Address(list, change...)}
	x.list, _ = url.ParseQuery(strings.TrimPrefix(x.Href, "/?"))
	if late := lateOf(lines); late > 0 {
		x.Late = text.Count(late, "job") + " late"
	}
	return x
}

// Lay lays out the list that was asked for: its cards, or where these are too many
// what it consists of.
func Lay(t round.Today, p words.Printer, list url.Values) *Body {
	whole := t.List
	asked := list.Has("room") || list.Has("at") || list.Has("share") || oneOf(whole.Lines, room)
	pages := pagesOf(whole.Lines)
	page, _ := strconv.Atoi(list.Get("page"))
	var tiles []Tile
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
	b := Cards(t, p)
	b.Sum, b.Lines, b.Tiles = p.ListSum(whole), len(whole.Lines), tiles
	b.Late = lateOf(whole.Lines)
	b.Room, b.Job = list.Get("room"), list.Get("job")
	b.List = list.Encode()
	at := ""
	if page > 0 && tiles == nil && len(pages) > 1 {
		page = min(page, len(pages))
		at = fmt.Sprintf("page %d of %d", page, len(pages))
		if page > 1 {
			b.Before = Address(list, "page", strconv.Itoa(page-1))
		}
		if page < len(pages) {
			b.After = Address(list, "page", strconv.Itoa(page+1))
		}
	}
	b.Chosen, b.Others = Chosen(list, at), otherLists(list)
	b.MayShare = list.Get("share") == "" && len(whole.Lines) > 1
	return &b
}

// With is the address of the list with a part of its query changed, or without it.
func (b Body) With(name, value string) string {
	list, _ := url.ParseQuery(b.List)
	return Address(list, name, value)
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
func placeTiles(l round.List, p words.Printer, list url.Values) (tiles []Tile) {
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
func pageTiles(pages [][]round.Line, p words.Printer, list url.Values) (tiles []Tile) {
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
func shareTiles(t round.Today, p words.Printer, list url.Values) (tiles []Tile) {
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

// Parts takes the shelves out of the list.
func (b *Body) Parts() (parts []live.Part) {
	for i := range b.Rooms {
		for j := range b.Rooms[i].Shelves {
			sh := &b.Rooms[i].Shelves[j]
			parts = append(parts, live.Part{Name: b.Rooms[i].Name + "\x00" + sh.Place, Content: *sh})
			*sh = Shelf{Place: sh.Place}
		}
	}
	return parts
}

// Since is the list of a page that shows a board of it. A page that has it as of have gets
// only the shelves that changed since.
func Since(shown live.Shown, have string) Body {
	b := *shown.Rest.(*Body)
	b.At, b.Have = shown.AsOf.UnixMilli(), shown.Have
	b.Rooms, b.Tiles = slices.Clone(b.Rooms), slices.Clone(b.Tiles)
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
