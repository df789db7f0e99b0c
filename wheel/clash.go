package wheel

import (
	"time"

	"rindkeep/cave"
)

// ClashKind is in what two entries of a wheel can't both be so.
type ClashKind string

// The kinds of clash. Within one site the book refuses the second entry; two sites that
// haven't heard of each other can write both.
const (
	LeftTwice     ClashKind = "left-twice"          // sold, sent or lost, and again
	MovedWhenGone ClashKind = "moved-after-leaving" // put somewhere after it left
	NeverSent     ClashKind = "received-unsent"     // at another site, and nobody sent it there
)

// Clash is two entries of a wheel that can't both be so; the second stands. Of a wheel that was
// never moved before the second, the first is zero.
type Clash struct {
	Kind          ClashKind
	First, Second Entry
	From          cave.Place // the room that it was in last before the second
}

// Clashes are those of a wheel's entries, in the order in which they happened. own is the site
// whose names have no site before them.
func (l Life) Clashes(own string) (out []Clash) {
	var left, moved *Entry
	at := l.Wheel.Place
	if len(l.Stays) > 0 {
		at = l.Stays[0].Place
	}
	from := at // the room that it was in last
	for i := range l.Entries {
		e := &l.Entries[i]
		switch e.Kind {
		case Sent, Lost, Voided:
			if left != nil {
				out = append(out, Clash{LeftTwice, *left, *e, from})
			}
			left = e
		case Moved:
			if left != nil {
				out = append(out, Clash{MovedWhenGone, *left, *e, from})
			}
			if neverSent(from, at, e.Place, own) {
				c := Clash{Kind: NeverSent, Second: *e, From: from}
				if moved != nil {
					c.First = *moved
				}
				out = append(out, c)
			}
			moved, at = e, e.Place
			if at.Bound() == "" {
				from = at
			}
		}
	}
	return out
}

// Sent is the room from which a wheel was sent that is on its way to another site, and when; zero
// of one that isn't.
func (l Life) Sent() (from cave.Place, at time.Time) {
	if l.Place.Bound() == "" {
		return "", at
	}
	for _, s := range l.Stays {
		if s.Place.Bound() != "" {
			at = s.From
		} else {
			from = s.Place
		}
	}
	return from, at
}

// neverSent says whether a wheel that was in a room and then at a place came to another site's
// room without having been sent there. A site may take back what it sent.
func neverSent(from, at, to cave.Place, own string) bool {
	site := func(p cave.Place) string {
		if s := p.Site(); s != "" || p == "" {
			return s
		}
		return own
	}
	switch {
	case at == "" || to.Bound() != "" || site(to) == site(from):
		return false
	case at.Bound() != "":
		return site(to) != at.Bound()
	}
	return true
}
