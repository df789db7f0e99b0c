package live

import (
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"html/template"
	"maps"
	"reflect"
	"strconv"
	"strings"
	"sync"
	"time"
)

// Part is a part of a list that changes by itself: a shelf.
type Part struct {
	Name    string
	Content any           // what HTML is made of; it's made again only where this differs
	HTML    template.HTML // of the whole part
	since   uint64        // the version in which it last changed
}

// Board is a list as phones show it, kept from one change of the book to the next.
type Board struct {
	mu      sync.Mutex
	id      string // no other board's, of this process or another
	version uint64
	rev     uint64 // of the book it was made from
	quarter time.Time
	made    time.Time
	cost    time.Duration // it took to make
	asked   time.Time
	parts   []Part
	rest    any
}

// Shown is a board as one request finds it.
type Shown struct {
	Have  string // names what it shows: a page that has this asks for what changed since
	Parts []Part
	Rest  any       // all else about the list
	AsOf  time.Time // what was in the book by then is in it

	id      string
	version uint64
}

// Boards are the lists that are shown.
type Boards struct {
	Rev    func() (uint64, error) // of the book
	Render func(list string, part any) (template.HTML, error)

	mu  sync.Mutex
	all map[string]*Board
}

// mostBoards bounds what a reader may have kept by asking for lists in many ways.
const mostBoards = 128

// A list that takes as long as slow to make, of a whole book, rests idle times as long
// before it's looked at for its pages again: it may keep a twentieth of one core busy.
const (
	slow = 100 * time.Millisecond
	idle = 20
)

func (bs *Boards) board(list string, now time.Time) *Board {
	bs.mu.Lock()
	defer bs.mu.Unlock()
	b := bs.all[list]
	if b == nil {
		if bs.all == nil {
			bs.all = map[string]*Board{}
		}
		if len(bs.all) >= mostBoards {
			maps.DeleteFunc(bs.all, func(_ string, b *Board) bool { return now.Sub(b.asked) > time.Minute })
		}
		if len(bs.all) >= mostBoards {
			clear(bs.all)
		}
		var id [6]byte
		_, _ = rand.Read(id[:])
		b = &Board{id: hex.EncodeToString(id[:])}
		bs.all[list] = b
	}
	b.asked = now
	return b
}

// Show is a list as the book is now. It's read again only where the book is another, and
// of what was read only the parts that differ become HTML. Who asks meanwhile waits for
// the same reading. At midnight another day begins, everywhere at a full quarter of an
// hour.
func (bs *Boards) Show(list string, now func() time.Time, read func() ([]Part, any, error)) (Shown, error) {
	b := bs.board(list, now())
	b.mu.Lock()
	defer b.mu.Unlock()
	at := now()
	rev, noBook := bs.Rev() // then reading it says so
	quarter := at.Truncate(15 * time.Minute)
	if noBook == nil && b.version > 0 && b.rev == rev && b.quarter.Equal(quarter) {
		return b.shown(at), nil
	}
	parts, rest, err := read()
	if err == nil {
		err = b.take(parts, rest, func(x any) (template.HTML, error) { return bs.Render(list, x) })
	}
	if err != nil {
		return Shown{}, err
	}
	b.rev, b.quarter, b.made, b.cost = rev, quarter, at, now().Sub(at)
	return b.shown(at), nil
}

// Rests says whether a list was read so lately that its pages can wait.
func (bs *Boards) Rests(list string, now time.Time) bool {
	bs.mu.Lock()
	b := bs.all[list]
	bs.mu.Unlock()
	if b == nil {
		return false
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	since := now.Sub(b.made)
	return b.cost >= slow && since >= 0 && since < idle*b.cost && since < time.Minute
}

// take takes a newer reading.
func (b *Board) take(parts []Part, rest any, render func(any) (template.HTML, error)) (err error) {
	next := b.version + 1
	old := make(map[string]*Part, len(b.parts))
	for i := range b.parts {
		old[b.parts[i].Name] = &b.parts[i]
	}
	changed := b.version == 0 || len(parts) != len(b.parts) || !reflect.DeepEqual(rest, b.rest)
	for i := range parts {
		p := &parts[i]
		if was := old[p.Name]; was != nil && reflect.DeepEqual(was.Content, p.Content) {
			p.HTML, p.since = was.HTML, was.since
		} else if p.HTML, err = render(p.Content); err != nil {
			return err
		} else {
			p.since, changed = next, true
		}
		changed = changed || p.Name != b.parts[i].Name
	}
	if changed {
		b.version = next
	}
	b.parts, b.rest = parts, rest
	return nil
}

func (b *Board) shown(at time.Time) Shown {
	return Shown{Have: fmt.Sprintf("%s.%d", b.id, b.version), Parts: b.parts, Rest: b.rest, AsOf: at,
		id: b.id, version: b.version}
}

// Same says whether a page that has what is named have has this part as it is.
func (s Shown) Same(p Part, have string) bool {
	id, n, _ := strings.Cut(have, ".")
	v, err := strconv.ParseUint(n, 10, 64)
	return err == nil && id == s.id && v <= s.version && p.since <= v
}

// Version is a number that changes with what is shown.
func (s Shown) Version() uint64 { return s.version }
