package words

import (
	"testing"
	"time"

	"rindkeep/cmd/carrier"
)

func TestThePageSaysHowTheExchangeStands(t *testing.T) {
	now := time.Date(2026, 11, 25, 8, 30, 0, 0, time.UTC)
	away := carrier.Trouble{Kind: carrier.Away, Place: "/media/stick"}
	for _, c := range []struct {
		state carrier.State
		want  string
	}{
		{carrier.State{}, "Exchanging with other sites over stick"},
		{carrier.State{Last: now}, "All exchanged with other sites over stick, less than a minute ago"},
		{carrier.State{Last: now.Add(-time.Minute)}, "All exchanged with other sites over stick, 1 minute ago"},
		{carrier.State{Since: now.Add(-3 * time.Hour), Err: away},
			"No exchange with other sites for 3 hours: the folder /media/stick isn't there"},
		{carrier.State{Last: now.Add(-99 * time.Hour), Since: now.Add(-72 * time.Hour), Err: away},
			"No exchange with other sites for 3 days: the folder /media/stick isn't there"},
	} {
		if got := (Printer{}).Exchange("stick", c.state, now); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
}
