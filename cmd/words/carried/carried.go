// Package carried has the sentences about what carries bundles between sites.
package carried

import (
	"fmt"
	"strconv"
	"strings"

	"rindkeep/cmd/carrier"
	"rindkeep/cmd/text"
)

const mostShown = 160 // characters of a name or of what a server said

func shown(s string) string { return text.Cut(text.Safe(s), mostShown) }

// Trouble is what is wrong with a carrier, or with one thing in it.
func Trouble(t carrier.Trouble) string {
	place, what, detail := shown(t.Place), shown(t.What), shown(t.Detail)
	servers := strings.Contains(place, "://")
	on := func(folder, server string) string {
		s := folder
		if servers {
			s = server
		}
		if detail != "" {
			s += " (" + detail + ")"
		}
		return s
	}
	switch t.Kind {
	case carrier.Address:
		if what != "" {
			return fmt.Sprintf("%s: the setting %s can't be used; there are creds, ca, cert with key, "+
				"sync=always and replicas=3", place, what)
		}
		return strconv.Quote(place) + " is no address: give a folder, or servers like nats://log.example:4222"
	case carrier.Away:
		return on("the folder "+place+" isn't there", "the servers at "+place+" can't be reached")
	case carrier.Unprepared:
		return on("the folder "+place+" has no place for this book: is it the right stick or drive?",
			"the servers at "+place+" have no stream for this book yet")
	case carrier.Refused:
		return on("there's no permission to write to "+place, "the servers at "+place+" don't allow it")
	case carrier.Full:
		return on(place+" is full", "the stream at "+place+" is full")
	case carrier.Behind:
		return "another program sent bundles of this site to " + place + " at the same time"
	case carrier.Settings:
		return setting(place, what, detail)
	case carrier.DamagedPart:
		damaged := "a damaged bundle in " + place + " is left aside until it comes again: " + what
		return on(damaged, damaged)
	case carrier.ForeignPart:
		return fmt.Sprintf("%s in %s is no bundle of this book: it's left alone", what, place)
	}
	return on(place+" failed", place+" failed")
}

// wanted is what the settings of a stream should be.
var wanted = map[string]string{
	"storage": "file", "retention": "limits", "max_age": "0", "discard": "new", "max_msgs_per_subject": "-1",
	"max_msg_size": "-1", "num_replicas": "3",
}

// setting is a setting with which a stream may lose bundles.
func setting(place, what, value string) string {
	if what == "sync_interval" {
		return "do the servers at " + place + " sync each message? Set sync_interval: always there, and add " +
			"?sync=always to the address"
	}
	return fmt.Sprintf("the stream at %s may lose bundles: its %s is %s and should be %s", place, what, value,
		wanted[what])
}
