package store

import (
	"context"
	"io"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
	"rindkeep/store/lines"
	"rindkeep/store/pack"
)

// Tally is how many records of a sort an export or import came to.
type Tally struct {
	Record string
	Count  int
}

// Export writes the book as it stands, in one reading, as ExportSchema says. Records
// that can't be read are left out; Harm names them.
func (b *Book) Export(ctx context.Context, to io.Writer, tell Progress) (tally []Tally, err error) {
	err = b.View(func(t *ReadTx) error {
		tally, err = t.export(ctx, to, tell)
		return err
	})
	return tally, err
}

// ExportFile is Export to a file, whole and synced or not at all. A file that is
// there already is never touched (bookfile.ErrExists) without replace.
func (b *Book) ExportFile(ctx context.Context, path string, replace bool, tell Progress) (
	tally []Tally, bytes int64, err error,
) {
	if !replace {
		if err := bookfile.MustBeFree(path); err != nil {
			return nil, 0, err
		}
	}
	if b.file.Is(path) {
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
		tally, err = b.Export(ctx, w, tell)
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

func (t *ReadTx) export(ctx context.Context, to io.Writer, tell Progress) ([]Tally, error) {
	c, err := t.count()
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
	for _, s := range sections {
		n := 0
		for k, v := range t.tab.In(s.bucket, nil) {
			if n++; n%1000 == 0 {
				if tell != nil && s.bucket == layout.Entries {
					tell(n, max(n, c.Entries))
				}
				if err := ctx.Err(); err != nil {
					return nil, err
				}
			}
			line, err := s.line(k, v)
			if err != nil {
				if err := t.unread(reason.Thing(s.record), k, err); err != nil {
					return nil, err
				}
				n--
				continue
			}
			if err := x.Put(s.record, line); err != nil {
				return nil, err
			}
		}
		if !s.hidden() {
			out = append(out, Tally{s.record, n})
		}
	}
	return out, x.End()
}

func entryLine(k, v []byte) (any, error) {
	e, err := pack.ReadEntry(k, v)
	if err != nil {
		return nil, err
	}
	return lines.Entry(e), nil
}
