package store_test

import (
	"context"
	"io"
	"time"

	"rindkeep/store"
	"rindkeep/store/archive"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/copies"
)

func init() {
	a := &store.Above
	a.Backup = func(ctx context.Context, b *store.Book, path string) (store.Copied, error) {
		c, err := copies.Backup(ctx, b, path)
		return store.Copied(c), err
	}
	a.Keep = func(ctx context.Context, b *store.Book, k bookfile.Backups, daily bool) (store.Copied, time.Time, error) {
		c, err := copies.Keep(ctx, b, k, daily)
		return store.Copied(c.Copied), c.Last, err
	}
	a.Restore = func(ctx context.Context, from, to string, replace bool, o store.Options) (store.Copied, error) {
		c, err := copies.Restore(ctx, from, to, replace, o)
		return store.Copied(c), err
	}
	a.Compact = copies.Compact
	a.Rebuild = func(ctx context.Context, path string, o store.Options) (string, error) {
		_, kept, err := copies.Rebuild(ctx, path, o)
		return kept, err
	}
	a.CheckHistory = copies.CheckHistory
	a.Export = func(ctx context.Context, b *store.Book, to io.Writer) error {
		_, err := archive.Export(ctx, b, to, nil)
		return err
	}
	a.ExportFile = func(ctx context.Context, b *store.Book, path string, replace bool) (map[string]int, int64, error) {
		tally, n, err := archive.ExportFile(ctx, b, path, replace, nil)
		of := map[string]int{}
		for _, x := range tally {
			of[x.Record] = x.Count
		}
		return of, n, err
	}
	a.Import = func(ctx context.Context, path string, from io.Reader, o store.Options) error {
		_, _, err := archive.Import(ctx, path, from, o, nil)
		return err
	}
	a.Salvage = func(
		ctx context.Context, from, to string, set store.Settings, gap func([]chain.Fact) string, o store.Options,
	) (store.Salvaged, error) {
		x, err := archive.Salvage(ctx, from, to, set, gap, o)
		return store.Salvaged{Counts: x.Counts, Pages: x.Pages, Lost: x.Lost, Unplaced: x.Unplaced, Lots: x.Lots}, err
	}
}
