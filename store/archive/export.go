// Package archive writes a book as text, makes a book of such a text, and makes one of what
// is left of a damaged file. All three go through the sorts of fact line by line.
package archive

import (
	"context"
	"io"

	"rindkeep/store"
	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
	"rindkeep/store/lines"
	"rindkeep/store/sorts"
)

// Tally is how many records of a sort an export or import came to.
type Tally struct {
	Record string
	Count  int
}

// Export writes a book as it stands, in one reading, as package lines says. Records that
// can't be read are left out; the book's Harm names them.
func Export(ctx context.Context, b *store.Book, to io.Writer, tell store.Progress) (tally []Tally, err error) {
	err = b.View(func(t *store.ReadTx) error {
		tally, err = export(ctx, t, to, tell)
		return err
	})
	return tally, err
}

// ExportFile is Export to a file, whole and synced or not at all. A file that is
// there already is never touched (bookfile.ErrExists) without replace.
func ExportFile(ctx context.Context, b *store.Book, path string, replace bool, tell store.Progress) (
	tally []Tally, bytes int64, err error,
) {
	if !replace {
		if err := bookfile.MustBeFree(path); err != nil {
			return nil, 0, err
		}
	}
	if b.Is(path) {
		return nil, 0, &bookfile.Error{Kind: bookfile.ErrSameFile, Path: path}
	}
	if err := bookfile.HasFolder(path); err != nil {
		return nil, 0, err
	}
	tmp, err := bookfile.Beside(path)
	if err != nil {
		return nil, 0, err
	}
	defer tmp.Drop()
	bytes, err = tmp.Write(func(w io.Writer) (err error) {
		tally, err = Export(ctx, b, w, tell)
		return err
	})
	switch {
	case ctx.Err() != nil:
		return nil, 0, ctx.Err()
	case err != nil:
		return nil, 0, bookfile.Failed(path, "write", err)
	}
	if !replace {
		if err := bookfile.MustBeFree(path); err != nil {
			return nil, 0, err
		}
	}
	return tally, bytes, tmp.Replace()
}

func export(ctx context.Context, t *store.ReadTx, to io.Writer, tell store.Progress) ([]Tally, error) {
	of, err := t.Counts()
	if err != nil {
		return nil, err
	}
	x, err := lines.NewWriter(to)
	if err != nil {
		return nil, err
	}
	if err := x.Put("book", t.Settings()); err != nil {
		return nil, err
	}
	var out []Tally
	for _, s := range sorts.All {
		n := 0
		for k, v := range t.Records(s.Bucket) {
			if n++; n%1000 == 0 {
				if tell != nil && s.Bucket == layout.Entries {
					tell(n, max(n, of.Entries))
				}
				if err := ctx.Err(); err != nil {
					return nil, err
				}
			}
			line, err := s.Line(k, v)
			if err != nil {
				if err := t.Unread(s.Record, k, err); err != nil {
					return nil, err
				}
				n--
				continue
			}
			if err := x.Put(string(s.Record), line); err != nil {
				return nil, err
			}
		}
		if !s.Hidden() {
			out = append(out, Tally{string(s.Record), n})
		}
	}
	return out, x.End()
}
