// Package folder carries bundles in a folder: on a stick that goes from site to site, or on a
// drive that they share. Each file holds one bundle, or some that follow each other, and never
// changes. It's at
//
//	rindkeep-GROUP/SITE/EPOCH/FIRST-LAST-SIZE-BEFORE-AFTER.bundle
//
// with decimal numbers, and the first eight bytes of the two hashes in hexadecimal. Several
// computers may write at once: the same name has the same links. The names suit FAT, which takes
// some 9,000 of them in a folder: so files are joined.
package folder

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"

	"rindkeep/cmd/carrier"
	"rindkeep/store/bookfile"
	"rindkeep/store/bundle"
)

// Folder is a folder as a carrier of one group.
type Folder struct {
	place string // as the person named it
	root  string // the group's folder in it
	group uuid.UUID

	// Every is how often Wait looks.
	Every time.Duration

	files int // of an epoch, until they're joined

	mu sync.Mutex
	carrier.Aside
	seen string // what was there at the last call of Heads
}

// usualEvery is often enough for people and seldom enough for a shared drive: our choice.
const usualEvery = 5 * time.Second

// Open is the folder at path; nothing is read yet.
func Open(path string, group uuid.UUID) *Folder {
	return &Folder{
		place: path, root: filepath.Join(path, "rindkeep-"+group.String()), group: group,
		Every: usualEvery, files: mostFiles,
	}
}

// Prepare makes the group's place in the folder, which must be there itself.
func (f *Folder) Prepare(context.Context) error {
	if err := os.Mkdir(f.root, 0o777); err != nil && !errors.Is(err, fs.ErrExist) {
		return f.trouble(f.root, err)
	}
	return nil
}

// trouble is what the system said, as trouble with the carrier.
func (f *Folder) trouble(path string, err error) error {
	if err == nil {
		return nil
	}
	t := carrier.Trouble{Kind: carrier.Failed, Place: f.place, Detail: err.Error()}
	var pe *fs.PathError
	if errors.As(err, &pe) {
		t.Detail = pe.Err.Error()
	}
	known := bookfile.Failed(path, "write", err)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		t.Kind, t.Detail = carrier.Unprepared, ""
		if _, err := os.Stat(f.place); err != nil {
			t.Kind = carrier.Away
		}
	case errors.Is(known, bookfile.ErrFull):
		t.Kind = carrier.Full
	case errors.Is(known, bookfile.ErrPermission):
		t.Kind = carrier.Refused
	case errors.Is(known, bookfile.ErrDisk):
		t.Kind = carrier.Away
	}
	return t
}

func (f *Folder) fault(kind carrier.Kind, path, detail string) {
	name, err := filepath.Rel(f.place, path)
	if err != nil {
		name = path
	}
	f.Note(carrier.Trouble{Kind: kind, Place: f.place, What: filepath.ToSlash(name), Detail: detail})
}

// Close does nothing: no file stays open.
func (f *Folder) Close() error { return nil }

// part is a bundle as its name tells of it.
type part struct {
	first, last   uint64
	size          int64
	before, after string // 16 hexadecimal digits
}

func (p part) name() string {
	return fmt.Sprintf("%012d-%012d-%07d-%s-%s%s", p.first, p.last, p.size, p.before, p.after, suffix)
}

const suffix = ".bundle"

// damaged ends the name of a bundle that was set aside, so that its sender puts it again.
const damaged = ".damaged"

func partOf(b bundle.Bundle, size int) part {
	short := func(h [32]byte) string { return fmt.Sprintf("%x", h[:8]) }
	return part{b.First, b.Last, int64(size), short(b.Before), short(b.After)}
}

// parse reads a name; ok is false unless name() gives the same.
func parse(name string) (p part, ok bool) {
	words := strings.NewReplacer("-", " ", suffix, "").Replace(name)
	_, err := fmt.Sscanf(words, "%d %d %d %s %s", &p.first, &p.last, &p.size, &p.before, &p.after)
	return p, err == nil && p.name() == name
}

// parts lists the bundles of an epoch, by their numbers, and names what else is there.
func (f *Folder) parts(dir string) ([]part, error) {
	files, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, f.trouble(dir, err)
	}
	var out []part
	for _, file := range files {
		path := filepath.Join(dir, file.Name())
		if strings.HasPrefix(file.Name(), ".") || strings.HasSuffix(file.Name(), damaged) {
			continue
		}
		p, ok := parse(strings.ToLower(file.Name()))
		info, err := file.Info()
		switch {
		case !ok || file.IsDir() || p.size > 2*mostJoined:
			f.fault(carrier.ForeignPart, path, "")
		case err != nil: // gone meanwhile
		case info.Size() != p.size: // somebody is copying it, or stopped halfway
			f.fault(carrier.DamagedPart, path, fmt.Sprintf("%d of %d bytes", info.Size(), p.size))
		default:
			out = append(out, p)
		}
	}
	slices.SortFunc(out, func(a, b part) int {
		return cmp.Or(cmp.Compare(a.first, b.first), cmp.Compare(a.last, b.last), strings.Compare(a.after, b.after))
	})
	return out, nil
}

func (f *Folder) dir(site, epoch uuid.UUID) string {
	return filepath.Join(f.root, site.String(), epoch.String())
}

// read gives the bundles of a file whose heads say what its place and name do. A file that doesn't
// is set aside, and nil returned; the error is of the carrier itself.
func (f *Folder) read(dir string, p part) (raws [][]byte, err error) {
	path := filepath.Join(dir, p.name())
	rest, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil // it was joined with others
	}
	if err != nil {
		return nil, f.trouble(path, err)
	}
	is := part{size: int64(len(rest))}
	for len(rest) > 0 {
		var raw []byte
		if raw, rest, err = bundle.Cut(rest); err != nil {
			f.setAside(path, err)
			return nil, nil
		}
		b, _ := bundle.Peek(raw)
		one := partOf(b, len(raw))
		if len(raws) == 0 {
			is.first, is.before = one.first, one.before
		}
		follows := len(raws) == 0 || one.first == is.last+1 && one.before == is.after
		if b.Group != f.group || f.dir(b.Site, b.Epoch) != dir || !follows {
			is = part{}
			break
		}
		is.last, is.after = one.last, one.after
		raws = append(raws, raw)
	}
	if is != p {
		f.setAside(path, bundle.ErrForm)
		return nil, nil
	}
	return raws, nil
}

// setAside renames a damaged bundle, so that Heads doesn't count it and it's put again.
func (f *Folder) setAside(path string, why error) {
	f.fault(carrier.DamagedPart, path, why.Error())
	_ = os.Rename(path, path+damaged) // a stick may be read-only: then it's named each time
}

// Put leaves a bundle, and returns when it's on the disk. It's never Behind: any run of links may
// lie in a folder.
func (f *Folder) Put(_ context.Context, raw []byte) error {
	b, err := bundle.Peek(raw)
	if err != nil || b.Group != f.group {
		return errors.Join(bundle.ErrForm, err)
	}
	dir := f.dir(b.Site, b.Epoch)
	path := filepath.Join(dir, partOf(b, len(raw)).name())
	if info, err := os.Stat(path); err == nil && info.Size() == int64(len(raw)) {
		return nil
	}
	if _, err := os.Stat(f.root); err != nil {
		return f.trouble(f.root, err) // a stick that isn't in: its folder on this disk stays empty
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return f.trouble(dir, err)
	}
	if err := bookfile.Replace(path, raw, 0o666); err != nil {
		return f.trouble(path, err)
	}
	return f.join(dir)
}

// epochs calls fn for each folder of an epoch, in the order of their names.
func (f *Folder) epochs(fn func(site, epoch uuid.UUID) error) error {
	sites, err := f.ids(f.root)
	if err != nil {
		return err
	}
	for _, site := range sites {
		epochs, err := f.ids(filepath.Join(f.root, site.String()))
		if err != nil {
			return err
		}
		for _, epoch := range epochs {
			if err := fn(site, epoch); err != nil {
				return err
			}
		}
	}
	return nil
}

// ids lists the folders in dir that a UUID names.
func (f *Folder) ids(dir string) (out []uuid.UUID, err error) {
	files, err := os.ReadDir(dir)
	if err != nil {
		return nil, f.trouble(dir, err)
	}
	for _, file := range files {
		id, err := uuid.Parse(file.Name())
		switch {
		case strings.HasPrefix(file.Name(), "."):
		case err != nil || id.String() != file.Name() || !file.IsDir():
			f.fault(carrier.ForeignPart, filepath.Join(dir, file.Name()), "")
		default:
			out = append(out, id)
		}
	}
	return out, nil
}

// Heads gives the last bundle of each unbroken run from the first link on: of each branch, where
// an epoch has several.
func (f *Folder) Heads(ctx context.Context) ([]bundle.Head, error) {
	seen, err := f.listing()
	if err != nil {
		return nil, err
	}
	f.mu.Lock()
	f.seen = seen
	f.mu.Unlock()
	var heads []bundle.Head
	err = f.epochs(func(site, epoch uuid.UUID) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		here, err := f.headsOf(f.dir(site, epoch))
		heads = append(heads, here...)
		return err
	})
	return heads, err
}

// headsOf opens the last bundles of each run: they are those that a stick pulled out too early may
// have damaged. Without such a one, another is the last.
func (f *Folder) headsOf(dir string) ([]bundle.Head, error) {
	parts, err := f.parts(dir)
	for err == nil {
		var heads []bundle.Head
		count := len(parts)
		for _, p := range tips(parts) {
			raws, err := f.read(dir, p)
			if err != nil {
				return nil, err
			}
			var last bundle.Bundle
			for _, raw := range raws {
				if last, _, err = bundle.Open(raw); err != nil {
					f.setAside(filepath.Join(dir, p.name()), err)
					raws = nil
					break
				}
			}
			if raws != nil {
				heads = append(heads, last.Head())
				continue
			}
			parts = slices.DeleteFunc(parts, func(q part) bool { return p == q })
		}
		if len(parts) == count {
			return heads, nil
		}
	}
	return nil, err
}

// tips are the parts that end a run which begins with the first link.
func tips(parts []part) (out []part) {
	type link struct {
		number uint64
		hash   string
	}
	reached := map[link]part{}
	followed := map[link]bool{}
	for _, p := range parts { // by their first links, so that what comes before is there
		from := link{p.first - 1, p.before}
		if _, ok := reached[from]; ok || p.first == 1 {
			followed[from] = true
			reached[link{p.last, p.after}] = p
		}
	}
	for _, p := range parts {
		end := link{p.last, p.after}
		if was, ok := reached[end]; ok && was == p && !followed[end] {
			out = append(out, p)
		}
	}
	return out
}

// Fetch gives the bundles of an epoch beyond a link. Where each returns bundle.ErrForm or
// bundle.ErrSignature, the bundle is set aside.
func (f *Folder) Fetch(ctx context.Context, site, epoch uuid.UUID, after uint64, each func([]byte) error) error {
	if _, err := os.Stat(f.root); err != nil {
		return f.trouble(f.root, err)
	}
	dir := f.dir(site, epoch)
	parts, err := f.parts(dir)
	if err != nil {
		return err
	}
	for _, p := range parts {
		if p.last <= after {
			continue
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		raws, err := f.read(dir, p)
		if err != nil {
			return err
		}
		for _, raw := range raws {
			if b, _ := bundle.Peek(raw); b.Last <= after {
				continue
			}
			err := each(raw)
			if errors.Is(err, bundle.ErrForm) || errors.Is(err, bundle.ErrSignature) {
				f.setAside(filepath.Join(dir, p.name()), err)
				break
			}
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// listing is every bundle's name, as one text.
func (f *Folder) listing() (string, error) {
	var all strings.Builder
	err := f.epochs(func(site, epoch uuid.UUID) error {
		parts, err := f.parts(f.dir(site, epoch))
		for _, p := range parts {
			all.WriteString(epoch.String() + p.name() + "\n")
		}
		return err
	})
	return all.String(), err
}

// Wait looks at the folder again and again until a bundle has come or gone. While the folder
// isn't there, nothing has.
func (f *Folder) Wait(ctx context.Context) error {
	tick := time.NewTicker(f.Every)
	defer tick.Stop()
	for {
		now, err := f.listing()
		f.mu.Lock()
		changed := err == nil && now != f.seen
		f.mu.Unlock()
		if changed {
			return nil
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-tick.C:
		}
	}
}
