// Package daylist lays the day's list out as the page shows it: as cards by room and shelf, or as tiles to choose from
// where there are too many cards. It has the addresses of the lists, and reads no book.
package daylist

import (
	"cmp"
	"net/url"
	"strings"

	"rindkeep/cave"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/round"
	"rindkeep/wheel"
)

// Link leads to another list.
type Link struct{ To, Words string }

// names are the parts of a query that say which list a page shows.
var names = []string{"room", "at", "share", "job", "page"}

// Query is what the query of an address says about the list, and nothing else that's in it: two addresses of one list
// give the same.
func Query(q url.Values) url.Values {
	list := url.Values{}
	for _, name := range names {
		if v := strings.TrimSpace(q.Get(name)); v != "" {
			list.Set(name, v)
		}
	}
	return list
}

// Address is that of a list, with parts of its query changed: pairs of a name and a value, "" to leave it out.
func Address(list url.Values, change ...string) string {
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

// Asked reads the day's work that a query asks for.
func Asked(q url.Values) (a round.Asked, err error) {
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

// PlaceOf is the place that a list is of; "" for every place.
func PlaceOf(list url.Values) cave.Place {
	return cave.Place(cmp.Or(list.Get("at"), list.Get("room")))
}

// Chosen says what a list is of, if it isn't of everything: "Only part 2 of 3, cellar".
func Chosen(list url.Values, page string) string {
	var w []string
	s := list.Get("share")
	nth, of, part := strings.Cut(s, "/")
	if part {
		w = append(w, "part "+nth+" of "+of)
	}
	if at := PlaceOf(list); at != "" {
		w = append(w, string(at))
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
func otherLists(list url.Values) (to []Link) {
	place, name := list.Get("at"), "at"
	if place == "" {
		place, name = list.Get("room"), "room"
	}
	if room := cave.Place(place).Room(); room != place {
		to = append(to, Link{Address(list, name, room, "page", ""), "All of " + room})
	}
	if s := list.Get("share"); s != "" && list.Get("at") != "" {
		to = append(to, Link{Address(list, "at", "", "page", ""), "All of part " + s})
	}
	if list.Has("share") || place != "" || list.Has("job") {
		to = append(to, Link{"/?rooms", "Everything due today"})
	}
	return to
}
