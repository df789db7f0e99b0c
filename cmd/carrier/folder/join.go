package folder

import (
	"os"
	"path/filepath"
	"slices"

	"rindkeep/store/bookfile"
)

const (
	mostFiles  = 64      // of an epoch, until they're joined: our choice
	mostJoined = 4 << 20 // bytes of a file that others are joined to: our choice
)

// join puts small files of an epoch that follow each other into one, where there are many. A
// computer that reads meanwhile doesn't find one or the other, and reads again later.
func (f *Folder) join(dir string) error {
	parts, err := f.parts(dir)
	small := 0
	for _, p := range parts {
		if p.size < mostJoined {
			small++
		}
	}
	if err != nil || small <= f.files {
		return err
	}
	var run []part
	size := int64(0)
	for _, p := range append(parts, part{}) { // which follows nothing
		n := len(run)
		if n > 0 && (p.first != run[n-1].last+1 || p.before != run[n-1].after || size+p.size > mostJoined) {
			if err := f.joinRun(dir, run); err != nil {
				return err
			}
			run, size = nil, 0
		}
		run, size = append(run, p), size+p.size
	}
	return nil
}

// joinRun writes one file for several, and removes those.
func (f *Folder) joinRun(dir string, run []part) error {
	if len(run) < 2 {
		return nil
	}
	var all [][]byte
	for _, p := range run {
		raws, err := f.read(dir, p)
		if err != nil || raws == nil { // damaged, or gone
			return err
		}
		all = append(all, raws...)
	}
	whole := slices.Concat(all...)
	last := run[len(run)-1]
	one := part{run[0].first, last.last, int64(len(whole)), run[0].before, last.after}
	path := filepath.Join(dir, one.name())
	if err := bookfile.Replace(path, whole, 0o666); err != nil {
		return f.trouble(path, err)
	}
	for _, p := range run {
		_ = os.Remove(filepath.Join(dir, p.name())) // one that stays does no harm
	}
	return nil
}
