package words

import (
	"fmt"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app/sheets"
)

// sheetWords has the sentences about printed sheets.
func sheetWords(_ Printer, r reason.Reason) (string, bool) {
	switch r := r.(type) {
	case reason.TooLong:
		if r.What == "labels" {
			const most = "that is %d labels, and at most %d are laid out at once; name a lot or a place"
			return fmt.Sprintf(most, r.Has, r.Most), true
		}
	case reason.Flat:
		if r == sheets.NobodyHere {
			return "no wheel of those is here any more; name one by its tag", true
		}
	}
	return "", false
}
