package layout

import (
	"bytes"
	"testing"

	"github.com/google/uuid"

	"rindkeep/cave"
)

func TestDueKeysSortByDateThenPlaceThenJob(t *testing.T) {
	in := []struct {
		s     Slot
		place string
	}{
		{Slot{Due: -3, Rank: 9}, "z"}, {Slot{Due: 0}, "b"}, {Slot{Due: 20418, Rank: 1}, ""},
		{Slot{Due: 20418, Rank: 5}, "cellar"}, {Slot{Due: 20418, Rank: 2}, "cellar/A/1"},
		{Slot{Due: 20418, Rank: 3}, "cellar/A/1"},
		{Slot{Due: 20418}, "fridge"}, {Slot{Due: 30000}, "a"},
	}
	wheel := uuid.MustParse("01932e4f-8c00-7000-8000-0000000000aa")
	var last []byte
	for _, x := range in {
		k := DueKey(x.s, cave.Place(x.place), wheel)
		if bytes.Compare(last, k) >= 0 {
			t.Errorf("%v does not sort after what came before", x)
		}
		last = k
		s, p, w, ok := SplitDueKey(k)
		if !ok || s != x.s || string(p) != x.place || w != wheel {
			t.Errorf("%v came back as %v %q %v", x, s, p, w)
		}
	}
}

func FuzzSplitDueKey(f *testing.F) {
	f.Add(DueKey(Slot{Due: 20418, Rank: 5}, "cellar", uuid.Max))
	f.Fuzz(func(t *testing.T, k []byte) {
		s, place, w, ok := SplitDueKey(k)
		if again := DueKey(s, cave.Place(place), w); ok && !bytes.Equal(again, k) {
			t.Errorf("%x came back as %x", k, again)
		}
	})
}
