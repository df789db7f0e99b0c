package console

import (
	"bytes"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rindkeep/cmd/app/drying"
)

func TestTheTimeLeftFollowsThePace(t *testing.T) {
	var out bytes.Buffer
	morning := time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)
	now := morning
	env := Env{Err: &out, OutTTY: true, Now: func() time.Time { return now }}
	c := &Console{Env: env, Log: zerolog.Nop()}
	p := Pace{C: c, Of: "weights"}
	p.Tell(drying.Recording, 0, 0)
	for _, x := range []struct {
		after time.Duration
		done  int64
		want  string
	}{
		{100 * time.Millisecond, 10, ""},
		{800 * time.Millisecond, 100, "\rrecorded 100 of 10000 weights\x1b[K"},
		{2 * time.Second, 1000, "\rrecorded 1000 of 10000 weights, 19 s left\x1b[K"},
		{40 * time.Second, 2000, "\rrecorded 2000 of 10000 weights, 3 min left\x1b[K"},
		{41 * time.Second, 10000, "\rrecorded 10000 of 10000 weights\x1b[K"},
	} {
		out.Reset()
		now = morning.Add(x.after)
		p.Tell(drying.Recording, x.done, 10000)
		if out.String() != x.want {
			t.Errorf("after %v: %q, want %q", x.after, out.String(), x.want)
		}
	}
}
