package page

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"rindkeep/cmd/app"
	"rindkeep/cmd/page/access"
)

// A token is in a scale's memory, where anybody may read it. So its holder can
// record only as that device, can confirm nothing that looks wrong, and can't rewrite
// what is long past.

// deviceReach is how far back a device can record: a logger that lost the network on
// Friday evening can send all it has on Monday.
const deviceReach = 72 * time.Hour

func isDevice(r *http.Request) bool { return personOf(r).Role == access.Device }

// impersonates refuses what a device may not say.
func (v values) impersonates(device string) (Refusal, bool) {
	switch by := v.text("by"); {
	case by != "" && !strings.EqualFold(by, device):
		return Refusal{
			Error: fmt.Sprintf("%s is a device and records only as itself, not as %s; nothing was saved", device, short(by)),
			Where: "by", Exit: app.Refused.Exit(), Hint: "leave by out",
		}, true
	case v.truth("sure"):
		return Refusal{
			Error: "a device can't be sure; nothing was saved", Where: "sure", Exit: app.Refused.Exit(),
			Hint: "if it is right, a person can record it",
		}, true
	}
	return Refusal{}, false
}
