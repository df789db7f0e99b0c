package live

import (
	"errors"
	"fmt"
	"html/template"
	"sync/atomic"
	"testing"
	"time"
)

func TestTooManyOpenPagesAreToldSo(t *testing.T) {
	h := New(func() (uint64, error) { return 1, nil })
	defer h.Stop()
	var last *Page
	for range Most {
		last = &Page{}
		if _, ok := h.Join(last); !ok {
			t.Fatal("sent away too early")
		}
	}
	if _, ok := h.Join(&Page{}); ok {
		t.Error("one more is taken")
	}
	h.Leave(last)
	if _, ok := h.Join(&Page{}); !ok {
		t.Error("after one left none is taken")
	}
}

// heard waits for what a page is told; 0 if nothing comes.
func heard(p *Page, patience time.Duration) uint64 {
	select {
	case rev := <-p.changes:
		return rev
	case <-time.After(patience):
		return 0
	}
}

func TestOnlyPagesWhoseListChangedAreTold(t *testing.T) {
	var rev, cellar atomic.Uint64
	rev.Store(1)
	var later atomic.Bool
	var asked atomic.Int64
	h := New(func() (uint64, error) { return rev.Load(), nil })
	h.Look = time.Hour // only when nudged
	h.Version = func(list string) (uint64, error) {
		asked.Add(1)
		switch {
		case later.Load():
			return 0, ErrLater
		case list == "cellar":
			return cellar.Load(), nil
		}
		return 0, errors.New("no such room")
	}
	defer h.Stop()
	join := func(list string) *Page {
		p := &Page{List: list}
		if _, ok := h.Join(p); !ok {
			t.Fatal("not taken")
		}
		return p
	}
	desk, one, two, gone := join(""), join("cellar"), join("cellar"), join("gone")
	change := func(n uint64) {
		rev.Store(n)
		h.Nudge()
	}
	change(2) // what the pages show isn't known yet: all are told
	for name, p := range map[string]*Page{"the desk": desk, "one": one, "two": two, "a room that's gone": gone} {
		if got := heard(p, 5*time.Second); got != 2 {
			t.Fatalf("%s hears %d", name, got)
		}
	}
	n := asked.Load()
	change(3) // of another room
	if got := heard(desk, 5*time.Second); got != 3 {
		t.Errorf("the desk hears %d", got)
	}
	if got := heard(gone, 5*time.Second); got != 3 {
		t.Errorf("a room that's gone hears %d", got)
	}
	cellar.Store(1)
	later.Store(true)
	change(4)
	if got := heard(desk, 5*time.Second); got != 4 {
		t.Errorf("the desk hears %d", got)
	}
	if got := heard(one, 20*time.Millisecond); got != 0 {
		t.Errorf("one hears %d of a list that's not read yet, or that didn't change", got)
	}
	later.Store(false)
	h.Nudge()
	if a, b := heard(one, 5*time.Second), heard(two, 5*time.Second); a != 4 || b != 4 {
		t.Errorf("they hear %d and %d", a, b)
	}
	if d := asked.Load() - n; d > 8 {
		t.Errorf("the lists were read %d times", d)
	}
}

func TestAPartIsMadeIntoHTMLOnlyWhereItDiffers(t *testing.T) {
	now := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	var rev uint64 = 1
	var made []string
	reads := 0
	bs := Boards{Rev: func() (uint64, error) { return rev, nil }, Render: func(_ string, p any) (template.HTML, error) {
		made = append(made, p.(string))
		return template.HTML("<p>" + p.(string)), nil
	}}
	parts := map[string]string{"A": "one", "B": "two"}
	names := []string{"A", "B"}
	show := func() Shown {
		t.Helper()
		s, err := bs.Show("cellar", func() time.Time { return now }, func() (out []Part, rest any, err error) {
			reads++
			for _, n := range names {
				out = append(out, Part{Name: n, Content: parts[n]})
			}
			return out, len(names), nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	same := func(s Shown, have string) (out string) {
		for _, p := range s.Parts {
			out += fmt.Sprint(p.Name, s.Same(p, have), " ")
		}
		return out
	}
	first := show()
	again := show()
	if reads != 1 || again.Have != first.Have {
		t.Errorf("read %d times, %s then %s", reads, first.Have, again.Have)
	}
	rev, parts["B"] = 2, "three"
	second := show()
	if got := fmt.Sprint(made); got != "[one two three]" {
		t.Errorf("made %s", got)
	}
	for have, want := range map[string]string{
		first.Have: "Atrue Bfalse ", second.Have: "Atrue Btrue ", "none": "Afalse Bfalse ", "": "Afalse Bfalse ",
		"0123456789ab.9": "Afalse Bfalse ", second.Have + "9": "Afalse Bfalse ", // of another board, and of the future
	} {
		if got := same(second, have); got != want {
			t.Errorf("to who has %q: %s", have, got)
		}
	}
	rev = 3 // another room's change
	if third := show(); third.Version() != second.Version() || reads != 3 {
		t.Errorf("version %d, then %d; read %d times", second.Version(), third.Version(), reads)
	}
	names = names[1:]
	rev = 4
	if fourth := show(); fourth.Version() == second.Version() || same(fourth, second.Have) != "Btrue " {
		t.Errorf("a shelf less: %s", same(fourth, second.Have))
	}
	now = now.Add(15 * time.Minute)
	if show(); reads != 5 {
		t.Error("another day may have begun")
	}
}
