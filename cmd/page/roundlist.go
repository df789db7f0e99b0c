package page

import (
	"bytes"
	"context"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"strings"
	"sync"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/page/daylist"
	"rindkeep/cmd/page/live"
	"rindkeep/cmd/words"
)

// chosenCookie keeps the list that was chosen on a phone: the query of its address. The
// round's script sets it.
const chosenCookie = "rindkeep-round"

// listOf is which list a query asks for. A query that asks for none gets what was chosen
// on this phone; ?rooms gets all.
func listOf(r *http.Request) (list url.Values, chosen bool) {
	q := r.URL.Query()
	if list = daylist.Query(q); len(list) > 0 || q.Has("rooms") {
		return list, false
	}
	if c, err := r.Cookie(chosenCookie); err == nil {
		raw, bad := url.QueryUnescape(c.Value)
		if q, err := url.ParseQuery(raw); err == nil && bad == nil {
			list = daylist.Query(q)
		}
	}
	return list, len(list) > 0
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

// board is the list that a page shows, brought up to date.
func (s *Server) board(ctx context.Context, units quantity.Units, list url.Values) (live.Shown, error) {
	return s.boards.Show(string(units)+"?"+list.Encode(), s.opt.Now, func() ([]live.Part, any, error) {
		q := url.Values{"only": {list.Get("job")}}
		for k, v := range list {
			q[k] = v
		}
		a, err := daylist.Asked(q)
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
		b := daylist.Lay(t, p, list)
		if len(b.Tiles) > 0 && !list.Has("job") {
			err = s.done(ctx, func(d *round.Done) {
				for i := range b.Tiles {
					b.Tiles[i].Progress(d)
				}
			})
		}
		return b.Parts(), b, err
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
