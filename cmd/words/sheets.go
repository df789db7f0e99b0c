package words

import (
	"rindkeep/cave/reason"
	"rindkeep/cmd/app/sheets"
)

// The sentences about printed sheets.
func init() {
	flats(map[reason.Flat]string{sheets.NobodyHere: "no wheel of those is here any more; name one by its tag"})
}
