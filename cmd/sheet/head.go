package sheet

import (
	"cmp"
	"path/filepath"
	"strings"

	"rindkeep/cmd/app"
)

// HeadOf is the head of a sheet of the open book, named after its file where it has no name.
func HeadOf(s *app.Session, paper Paper, large bool) Head {
	file := filepath.Base(s.Book)
	name := cmp.Or(s.Tx.Settings().Name, strings.TrimSuffix(file, filepath.Ext(file)))
	return Head{Book: name, Printed: s.Time.In(s.Zone), Paper: paper, Large: large}
}
