package bookfile

import (
	"cmp"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"
)

// Dated is an automatic backup of a book.
type Dated struct {
	Path  string
	At    time.Time // when it was made by the clock of the book's own zone, told as UTC
	Bytes int64
}

// How many automatic backups are kept: our choice.
const (
	keepNewest  = 3 // whatever their dates: those before two imports of one morning
	keepDaily   = 7
	keepWeekly  = 8
	keepMonthly = 12
)

// Expired are the backups that are no longer kept: all but the newest three, and the
// newest of each of the last 7 days, 8 weeks (ISO 8601) and 12 months that have any.
func Expired(all []Dated) (out []Dated) {
	all = slices.Clone(all)
	slices.SortFunc(all, func(a, b Dated) int { return b.At.Compare(a.At) })
	keep := make([]bool, len(all))
	for i := range min(keepNewest, len(all)) {
		keep[i] = true
	}
	for _, period := range []struct {
		most int
		of   func(time.Time) [3]int
	}{
		{keepDaily, func(t time.Time) [3]int { return [3]int{t.Year(), int(t.Month()), t.Day()} }},
		{keepWeekly, func(t time.Time) [3]int { y, w := t.ISOWeek(); return [3]int{y, w} }},
		{keepMonthly, func(t time.Time) [3]int { return [3]int{t.Year(), int(t.Month())} }},
	} {
		met := map[[3]int]bool{}
		for i, d := range all {
			if p := period.of(d.At); !met[p] && len(met) < period.most {
				met[p], keep[i] = true, true
			}
		}
	}
	for i, d := range all {
		if !keep[i] {
			out = append(out, d)
		}
	}
	return out
}

// Backups says where the automatic backups of the book at Book are.
type Backups struct {
	Book   string
	Folder string // "": none are made

	beside string // the folder beside the book
}

// NoBackups stands in the place of a folder where none are to be made.
const NoBackups = "off"

// BackupsOf reads where the automatic backups of a book are: in the folder
// <book>.backups beside it or, where its file "elsewhere" names a folder, there. What is
// said beside the book can be read when the book can't.
func BackupsOf(book string) (Backups, error) {
	k := Backups{Book: book, beside: Real(book) + ".backups"}
	k.Folder = k.beside
	b, err := os.ReadFile(k.elsewhere())
	switch other := strings.TrimSpace(string(b)); {
	case err != nil && !os.IsNotExist(err):
		return k, Failed(k.elsewhere(), "read", err)
	case other == NoBackups:
		k.Folder = ""
	case other != "":
		k.Folder = other
	}
	return k, nil
}

func (k Backups) elsewhere() string { return filepath.Join(k.beside, "elsewhere") }

// Size is how many bytes a file has, 0 where it can't be seen.
func Size(path string) int64 {
	st, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return st.Size()
}

// PutBackups has the automatic backups of a book made in another folder: "" beside the
// book, "off" nowhere. Those that are there already stay, and count as before.
func PutBackups(book, folder string) error {
	k, err := BackupsOf(book)
	if err != nil {
		return err
	}
	if folder == "" {
		if err := os.Remove(k.elsewhere()); err != nil && !os.IsNotExist(err) {
			return Failed(k.elsewhere(), "remove", err)
		}
		return nil
	}
	if err := k.makeFolder(k.beside); err != nil {
		return err
	}
	d, err := Beside(k.elsewhere())
	if err != nil {
		return err
	}
	defer d.Drop()
	if _, err := d.Write(func(w io.Writer) error { _, err := io.WriteString(w, folder+"\n"); return err }); err != nil {
		return Failed(k.elsewhere(), "write", err)
	}
	return d.Replace()
}

const dated = "2006-01-02-150405"

var datedName = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^(.+)-(\d{4}-\d\d-\d\d-\d{6})-([0-9a-f]{8})\.book$`)
})

func (k Backups) stem() string {
	name := filepath.Base(k.Book)
	return strings.TrimSuffix(name, filepath.Ext(name))
}

// List gives the backups of the book that are there, newest first; of a book whose own
// number isn't known ("") those of all books of its name.
func (k Backups) List(number string) (out []Dated) {
	folders := []string{k.beside}
	if k.Folder != "" && k.Folder != k.beside {
		folders = append(folders, k.Folder)
	}
	for _, folder := range folders {
		es, _ := os.ReadDir(folder)
		for _, e := range es {
			m := datedName().FindStringSubmatch(e.Name())
			if m == nil || m[1] != k.stem() || number != "" && m[3] != number {
				continue
			}
			at, err := time.Parse(dated, m[2])
			st, serr := e.Info()
			if err == nil && serr == nil && st.Mode().IsRegular() {
				out = append(out, Dated{filepath.Join(folder, e.Name()), at, st.Size()})
			}
		}
	}
	slices.SortFunc(out, func(a, b Dated) int { return b.At.Compare(a.At) })
	return out
}

// next is the name of the next backup, and its date. Two of one second are told a second
// apart.
func (k Backups) next(number string, now time.Time) string {
	for ; ; now = now.Add(time.Second) {
		name := filepath.Join(k.Folder, k.stem()+"-"+now.Format(dated)+"-"+number+".book")
		if _, err := os.Lstat(name); os.IsNotExist(err) {
			return name
		}
	}
}

// tryAgain is how long after a backup that wasn't sound the next is tried: the book may have
// been repaired meanwhile. Our choice.
const tryAgain = time.Hour

// TriedLately says whether a backup was tried a short while ago that wasn't sound.
func (k Backups) TriedLately(now time.Time) bool {
	b, _ := os.ReadFile(k.triedName())
	at, err := time.Parse(time.RFC3339, strings.TrimSpace(string(b)))
	return err == nil && now.Sub(at).Abs() < tryAgain
}

func (k Backups) triedName() string { return filepath.Join(k.Folder, k.stem()+".not-sound") }

// Unsound notes that a backup was tried that wasn't sound; Repaired, that another may be.
func (k Backups) Unsound(now time.Time) {
	_ = os.WriteFile(k.triedName(), []byte(now.Format(time.RFC3339)+"\n"), 0o600)
}

// Repaired has the next backup made with the next entry.
func (k Backups) Repaired() { _ = os.Remove(k.triedName()) }

// Hold makes the folder beside the book where it's missing, and no other: that may be on
// a disk that isn't there now. It keeps other processes from making a backup in the folder
// meanwhile; ok is false where another is making one, unless wait.
func (k Backups) Hold(wait bool) (release func(), ok bool, err error) {
	if k.Folder == k.beside {
		err = k.makeFolder(k.Folder)
	} else {
		err = HasFolder(filepath.Join(k.Folder, "x"))
	}
	if err != nil {
		return nil, false, err
	}
	if !locksFolders {
		return func() {}, true, nil
	}
	f, err := os.Open(k.Folder)
	if err != nil {
		return nil, false, Failed(k.Folder, "read", err)
	}
	got, err := lock(f, true, wait)
	if err == nil && !got {
		_ = letGo(f)
		return nil, false, nil
	}
	return func() { _ = letGo(f) }, true, nil // a disk without locks: go without
}

// makeFolder makes a folder that only the book's owner may look into, where it's missing.
func (k Backups) makeFolder(name string) error {
	err := os.Mkdir(name, 0o700)
	if os.IsExist(err) {
		return nil
	}
	if err == nil {
		if err = keepOwner(name, Real(k.Book)); err == nil {
			err = cmp.Or(os.Chmod(name, 0o700), syncFolder(filepath.Dir(name)))
		}
	}
	return Failed(name, "make", err)
}

// Add gives a finished copy its name among the backups, and removes those that are no
// longer kept.
func (k Backups) Add(d *Draft, number string, now time.Time) (string, error) {
	d.Path = k.next(number, now)
	if err := keepOwner(d.Name, Real(k.Book)); err != nil {
		return "", Failed(d.Path, "keep the owner of", err)
	}
	if err := d.Place(); err != nil {
		return "", err
	}
	k.Repaired()
	for _, x := range Expired(k.List(number)) {
		_ = os.Remove(x.Path)
	}
	return d.Path, nil
}
