package care

import (
	"bufio"
	"bytes"
	"context"
	"io"
	"os"

	"rindkeep/cmd/app"
	"rindkeep/cmd/workbook"
	"rindkeep/store"
	"rindkeep/store/archive"
)

// IsWorkbook refuses a workbook where an export is wanted.
type IsWorkbook struct {
	File string `json:"file"`
}

// IsTable refuses a table of text where an export is wanted.
type IsTable struct {
	File string `json:"file"`
}

// The codes.

func (IsWorkbook) Code() string { return "is-a-workbook" }
func (IsTable) Code() string    { return "is-a-table" }

// Import makes the book from an export, which is called name. What is wrong with a
// line of it is a *lines.Error. A history that was altered or left out is refused
// unless altered.
func Import(ctx context.Context, a *app.App, name string, from io.Reader, altered bool, tell func(lines int)) (
	Moved, error,
) {
	r := bufio.NewReaderSize(from, 64<<10)
	// A failed read comes again when the export is read.
	head, _ := r.Peek(1024)
	if workbook.Is(head) {
		return Moved{}, app.Refuse(IsWorkbook{name}, IntoATable).Of(name)
	}
	line, _, _ := bytes.Cut(bytes.TrimPrefix(head, []byte("\xef\xbb\xbf")), []byte("\n"))
	if bytes.ContainsAny(line, ",;\t") && line[0] != '{' { // an export is lines of JSON
		return Moved{}, app.Refuse(IsTable{name}, IntoATable).Of(name)
	}
	tally, found, err := archive.Import(ctx, a.Book, r, store.Options{Now: a.Now, Altered: altered}, tell)
	if err != nil {
		return Moved{}, otherHistory(inTheWay(err, AnotherBook), name)
	}
	if err := a.BackupFirst(ctx, true); err != nil {
		return Moved{}, err
	}
	st, err := os.Stat(a.Book)
	if err != nil {
		return Moved{}, err
	}
	m := MovedOf("book-import", a.Book, st.Size(), tally)
	m.Altered = FindingsOf(found)
	return m, nil
}
