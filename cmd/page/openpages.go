package page

import (
	"cmp"
	"context"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"

	"rindkeep/cave"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/page/daylist"
	"rindkeep/cmd/page/format"
	"rindkeep/cmd/page/live"
	"rindkeep/cmd/words"
)

// serveLive is the stream of changes of one page. ?list= is the query of the list that
// it shows, if it's a round.
func (s *Server) serveLive(w http.ResponseWriter, r *http.Request) {
	p := &live.Page{Who: personOf(r).Name, Since: s.opt.Now()}
	if q := r.URL.Query(); q.Has("list") {
		list, err := url.ParseQuery(q.Get("list"))
		if err != nil {
			s.refuse(w, r, badRequestf("list", "can't read the list"))
			return
		}
		p.List = string(s.unitsOf(r)) + "?" + daylist.Query(list).Encode()
	}
	if !s.live.Serve(w, r, p) {
		s.refuse(w, r, errPages)
	}
}

// rounds are the pages that show a round, with the query of their list.
func (s *Server) rounds(each func(p live.Page, list url.Values)) {
	for _, p := range s.live.Pages() {
		if _, raw, ok := strings.Cut(p.List, "?"); ok {
			list, _ := url.ParseQuery(raw)
			each(p, list)
		}
	}
}

// name is who has a page open.
func name(who string) string { return cmp.Or(who, "not logged in") }

// openHere says on each tile who has it open, or a part of it.
func (s *Server) openHere(tiles []daylist.Tile) {
	s.rounds(func(p live.Page, list url.Values) {
		for i := range tiles {
			tiles[i].Open(name(p.Who), list)
		}
	})
}

// doneToday keeps count of what was done today.
type doneToday struct {
	mu sync.Mutex
	round.Done
}

// done reads from what was done today.
func (s *Server) done(ctx context.Context, read func(*round.Done)) error {
	s.doneToday.mu.Lock()
	defer s.doneToday.mu.Unlock()
	if err := s.doneToday.Update(ctx, s.opt.App, app.Caller{}); err != nil {
		return err
	}
	read(&s.doneToday.Done)
	return nil
}

// personNow is what somebody is at.
type personNow struct {
	Who, Shows, Since, Last string
	Jobs                    int
}

// roomNow is how far a room is.
type roomNow struct {
	Href, Name         string
	Left, Did, Percent int
	Minutes            string
	Who                []string
}

// whoPage shows who is where, and how far each room is.
func whoPage(c *call) (View, error) {
	t, err := kept(c, "who", func() (round.Today, error) {
		return round.ListDay(c.ctx, c.app, c.caller, round.Asked{Together: true})
	})
	if err != nil {
		return View{}, err
	}
	p := c.words()
	b := struct {
		Sum, Done string
		People    []personNow
		Rooms     []roomNow
	}{Sum: p.DaySum(t)}
	err = c.s.done(c.ctx, func(d *round.Done) {
		b.People = c.s.peopleNow(d, t)
		left := map[string][]round.Line{}
		var order []string
		for _, r := range t.List.ByRoom() {
			order = append(order, r.Room)
			for _, sh := range r.Shelves {
				left[r.Room] = append(left[r.Room], sh.Lines...)
			}
		}
		for _, rack := range slices.Sorted(maps.Keys(d.Jobs)) {
			if room := rack.Room(); !slices.Contains(order, room) {
				order = append(order, room)
			}
		}
		for _, name := range order {
			l := round.ListOf(left[name])
			x := roomNow{Name: words.RoomHeading(name), Href: daylist.Address(url.Values{}, "room", name), Left: l.WheelJobs(),
				Minutes: format.Lasting(&l.Minutes)}
			x.Did = d.At(cave.Place(name))
			x.Percent = percent(x.Did, x.Left)
			b.Rooms = append(b.Rooms, x)
		}
		b.Done = words.ShareDone(d.At(""), t.List.WheelJobs())
	})
	c.s.rounds(func(p live.Page, list url.Values) {
		for i := range b.Rooms {
			if daylist.PlaceOf(list).Room() == b.Rooms[i].Name && !slices.Contains(b.Rooms[i].Who, name(p.Who)) {
				b.Rooms[i].Who = append(b.Rooms[i].Who, name(p.Who))
			}
		}
	})
	return View{Template: "who.html", Title: "Who is where", Here: "round-desk", Body: b}, err
}

// peopleNow are those who have a round open, and those who recorded something today.
func (s *Server) peopleNow(d *round.Done, t round.Today) (all []personNow) {
	last := func(x *personNow, who string) {
		if l, ok := d.Latest[who]; ok {
			x.Last, x.Jobs = words.LatestEntry(l), l.Jobs
		}
	}
	open := map[string]bool{}
	s.rounds(func(p live.Page, list url.Values) {
		x := personNow{Who: name(p.Who), Shows: cmp.Or(daylist.Chosen(list, ""), "Everything due today"),
			Since: p.Since.In(t.Zone).Format("15:04")}
		open[p.Who] = true
		last(&x, p.Who)
		all = append(all, x)
	})
	for _, who := range slices.Sorted(maps.Keys(d.Latest)) {
		if !open[who] {
			x := personNow{Who: cmp.Or(who, "nobody named")}
			last(&x, who)
			all = append(all, x)
		}
	}
	return all
}

// percent is the whole percentage that is done of all there was; never 100 with any left.
func percent(done, left int) int {
	if done <= 0 || done+left == 0 {
		return 0
	}
	return done * 100 / (done + left)
}
