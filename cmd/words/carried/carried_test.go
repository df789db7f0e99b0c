package carried

import (
	"testing"

	"rindkeep/cmd/carrier"
)

func TestATroubleReads(t *testing.T) {
	const stick, log = "/media/stick", "nats://log.example:4222"
	for _, c := range []struct {
		is   carrier.Trouble
		want string
	}{
		{carrier.Trouble{Kind: carrier.Address, Place: "http://x"},
			`"http://x" is no address: give a folder, or servers like nats://log.example:4222`},
		{carrier.Trouble{Kind: carrier.Address, Place: log, What: "sink"},
			"nats://log.example:4222: the setting sink can't be used; there are creds, ca, cert with key, " +
				"sync=always and replicas=3"},
		{carrier.Trouble{Kind: carrier.Away, Place: stick}, "the folder /media/stick isn't there"},
		{carrier.Trouble{Kind: carrier.Away, Place: log, Detail: "nats: timeout"},
			"the servers at nats://log.example:4222 can't be reached (nats: timeout)"},
		{carrier.Trouble{Kind: carrier.Unprepared, Place: stick},
			"the folder /media/stick has no place for this book: is it the right stick or drive?"},
		{carrier.Trouble{Kind: carrier.Unprepared, Place: log},
			"the servers at nats://log.example:4222 have no stream for this book yet"},
		{carrier.Trouble{Kind: carrier.Refused, Place: stick, Detail: "read-only file system"},
			"there's no permission to write to /media/stick (read-only file system)"},
		{carrier.Trouble{Kind: carrier.Refused, Place: log, Detail: "nats: authorization violation"},
			"the servers at nats://log.example:4222 don't allow it (nats: authorization violation)"},
		{carrier.Trouble{Kind: carrier.Full, Place: stick}, "/media/stick is full"},
		{carrier.Trouble{Kind: carrier.Full, Place: log}, "the stream at nats://log.example:4222 is full"},
		{carrier.Trouble{Kind: carrier.Behind, Place: log},
			"another program sent bundles of this site to nats://log.example:4222 at the same time"},
		{carrier.Trouble{Kind: carrier.Failed, Place: log, Detail: "x\x1by"},
			"nats://log.example:4222 failed (x·y)"},
		{carrier.Trouble{Kind: carrier.Settings, Place: log, What: "max_age", Detail: "24h0m0s"},
			"the stream at nats://log.example:4222 may lose bundles: its max_age is 24h0m0s and should be 0"},
		{carrier.Trouble{Kind: carrier.Settings, Place: log, What: "sync_interval", Detail: "?"},
			"do the servers at nats://log.example:4222 sync each message? Set sync_interval: always there, and add " +
				"?sync=always to the address"},
		{carrier.Trouble{Kind: carrier.DamagedPart, Place: stick, What: "a.bundle", Detail: "100 of 321 bytes"},
			"a damaged bundle in /media/stick is left aside until it comes again: a.bundle (100 of 321 bytes)"},
		{carrier.Trouble{Kind: carrier.ForeignPart, Place: stick, What: "holiday.jpg"},
			"holiday.jpg in /media/stick is no bundle of this book: it's left alone"},
	} {
		if got := Trouble(c.is); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
}
