package care

import (
	"context"
	"io"
	"strings"

	"rindkeep/cmd/app"
	"rindkeep/store"
	"rindkeep/store/archive"
	"rindkeep/store/bookfile"
	"rindkeep/store/remains"
)

// Saved is what a salvage saved of a damaged book, and what it didn't.
type Saved struct {
	Schema   string     `json:"schema"`
	Path     string     `json:"path"`
	Bytes    int64      `json:"bytes"`
	Makes    int        `json:"makes"`
	Wheels   int        `json:"wheels"`
	Entries  int        `json:"entries"`
	Pages    []PageGone `json:"pages_lost"`
	Lost     []Finding  `json:"lost"`      // records, each by its wheel, lot or name
	Unplaced int        `json:"unplaced"`  // records that read and that the new book can't take
	Rest     *string    `json:"rest"`      // the file that holds those, a line for each
	Rooms    []string   `json:"stand_ins"` // rooms made again with usual figures: their own are lost
	NoBook   bool       `json:"settings_lost"`

	// Lots made again with the likeliest variety: their own records are lost.
	Lots []remains.Lot `json:"stand_in_lots"`
}

// PageGone is a page of the file that can't be read.
type PageGone struct {
	Page   uint64 `json:"page"`
	Bucket string `json:"of"`
	What   string `json:"what"` // in words; cmd/words fills it in

	Fault error `json:"-"`
}

// Salvage makes a new book at to of all that can be read of the book's file. zone is
// taken where the book's own settings are lost.
func Salvage(ctx context.Context, a *app.App, to, zone string, gap archive.Gap) (Saved, error) {
	x, err := archive.Salvage(ctx, a.Book, to, store.Settings{Zone: zone}, gap, store.Options{Now: a.Now})
	if err != nil {
		return Saved{}, inTheWay(err, AnotherName)
	}
	out := Saved{
		Schema: app.Schema("book-salvage"), Path: x.Path, Bytes: x.Bytes, Makes: x.Counts.Makes, Wheels: x.Counts.Wheels,
		Entries: x.Counts.Entries, Pages: []PageGone{}, Lost: FindingsOf(x.Lost), Unplaced: len(x.Unplaced),
		Rooms: append([]string{}, x.Rooms...), NoBook: x.Settings,
		Lots: append([]remains.Lot{}, x.Lots...),
	}
	for _, p := range x.Pages {
		out.Pages = append(out.Pages, PageGone{Page: p.Page, Bucket: p.Bucket, Fault: p.Fault})
	}
	if len(x.Unplaced) == 0 {
		return out, nil
	}
	rest := to + ".rest.jsonl"
	d, err := bookfile.Beside(rest)
	if err != nil {
		return out, err
	}
	defer d.Drop()
	if _, err := d.Write(func(w io.Writer) error {
		_, err := io.WriteString(w, strings.Join(x.Unplaced, "\n")+"\n")
		return err
	}); err != nil {
		return out, bookfile.Failed(rest, "write", err)
	}
	out.Rest = &rest
	return out, d.Replace()
}
