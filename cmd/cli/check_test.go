package cli

import "testing"

func TestAHandCheckTakesItsAnswersAsThePersonGivesThem(t *testing.T) {
	for _, c := range []struct{ line, found string }{
		{"--dry-to-touch --cracks no --weeping no --mould no", "dry to the touch, no weeping, no cracks, no mould"},
		{"--dry-to-touch=yes --cracks=no", "dry to the touch, no cracks"},
		{"--dry-to-touch no", "still damp"},
		{"--mites yes --cracks", "cracks, mites"},
		{"--cracks none --mites few", "no cracks, mites"},
	} {
		w := newWorld(t).kept()
		var before, after struct {
			Found  string
			Wheels []string
		}
		w.doc(&after, "check 261110A-01 "+c.line)
		same(t, "check TAG "+c.line, after.Found, c.found)
		w.doc(&before, "check "+c.line+" 261110A-02 261110A-03")
		same(t, "check "+c.line+" TAG TAG", before.Found, c.found)
		same(t, "the wheels of check "+c.line+" TAG TAG", before.Wheels, []string{"261110A-02", "261110A-03"})
	}
	w := newWorld(t).kept()
	w.want(exitUsage, "needs what was found", "check", "261110A-01")
	w.want(exitUsage, `"maybe" is no answer`, "check", "261110A-01", "--cracks=maybe")
}
