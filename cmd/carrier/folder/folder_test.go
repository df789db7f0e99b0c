package folder

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"rindkeep/cmd/carrier"
	"rindkeep/store/bundle"
)

var (
	group = uuid.MustParse("00000000-0000-4000-8000-000000000001")
	north = uuid.MustParse("00000000-0000-4000-8000-00000000000a")
	south = uuid.MustParse("00000000-0000-4000-8000-00000000000b")
	epoch = uuid.MustParse("00000000-0000-4000-8000-0000000000e1")
)

// hash is that of an invented chain's link; a branch is another chain with the same numbers.
func hash(branch string, n uint64) [32]byte {
	return sha256.Sum256(fmt.Appendf(nil, "%s %d", branch, n))
}

func sealed(t *testing.T, site uuid.UUID, branch string, first, last uint64) []byte {
	t.Helper()
	key := ed25519.NewKeyFromSeed(bytes.Repeat(site[15:], ed25519.SeedSize))
	raw, err := bundle.Seal(key, bundle.Bundle{
		Group: group, Site: site, Epoch: epoch, First: first, Last: last,
		Before: hash(branch, first-1), After: hash(branch, last),
		Payload: fmt.Appendf(nil, "links %d to %d of %s", first, last, branch),
	})
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

func prepared(t *testing.T) *Folder {
	t.Helper()
	f := Open(t.TempDir(), group)
	if err := f.Prepare(t.Context()); err != nil {
		t.Fatal(err)
	}
	return f
}

func put(t *testing.T, f *Folder, raws ...[]byte) {
	t.Helper()
	for _, raw := range raws {
		if err := f.Put(t.Context(), raw); err != nil {
			t.Fatal(err)
		}
	}
}

// heads is what the folder says it has, as "a 9": the site's last digit and the link's number.
func heads(t *testing.T, f *Folder) string {
	t.Helper()
	all, err := f.Heads(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, h := range all {
		out = append(out, fmt.Sprintf("%x %d", h.Site[15], h.Number))
	}
	return strings.Join(out, ", ")
}

func fetched(t *testing.T, f *Folder, site uuid.UUID, after uint64) string {
	t.Helper()
	var out []string
	err := f.Fetch(t.Context(), site, epoch, after, func(raw []byte) error {
		b, _, err := bundle.Open(raw)
		if err == nil {
			out = append(out, string(b.Payload))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(out, "; ")
}

func files(t *testing.T, f *Folder) (out []string) {
	t.Helper()
	err := filepath.WalkDir(f.place, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			out = append(out, path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestWhatIsPutIsThereForOthers(t *testing.T) {
	f := prepared(t)
	put(t, f, sealed(t, north, "n", 1, 5), sealed(t, south, "s", 1, 2), sealed(t, north, "n", 6, 1000),
		sealed(t, north, "n", 1001, 1001), sealed(t, north, "n", 6, 1000))
	other := Open(f.place, group)
	if got := heads(t, other); got != "a 1001, b 2" {
		t.Errorf("heads: %s", got)
	}
	if got := fetched(t, other, north, 5); got != "links 6 to 1000 of n; links 1001 to 1001 of n" {
		t.Errorf("fetched: %s", got)
	}
	if got := fetched(t, other, north, 1001) + fetched(t, other, group, 0); got != "" {
		t.Errorf("fetched, where there's nothing: %s", got)
	}
	if all := files(t, f); len(all) != 4 {
		t.Errorf("files: %q", all)
	}
	for _, path := range files(t, f) {
		// FAT knows no such characters in names, and 255 at most.
		if name := filepath.Base(path); len(name) > 255 || strings.ContainsAny(name, `"*/:<>?\|+,;=[]`) {
			t.Errorf("a name FAT can't keep: %s", name)
		}
	}
}

// A stick that carries bundles both ways, twice: what is on it already is left alone.
func TestAStickGoesBothWaysTwice(t *testing.T) {
	stick := prepared(t)
	var at [2]map[string]bool // what each site has
	at[0], at[1] = map[string]bool{}, map[string]bool{}
	visit := func(site int, id uuid.UUID, branch string, first, last uint64) {
		if first > 0 {
			put(t, stick, sealed(t, id, branch, first, last))
		}
		for _, of := range []uuid.UUID{north, south} {
			err := stick.Fetch(t.Context(), of, epoch, 0, func(raw []byte) error {
				b, _, err := bundle.Open(raw)
				at[site][string(b.Payload)] = true
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
		}
	}
	visit(0, north, "n", 1, 3)
	visit(1, south, "s", 1, 4)
	visit(0, north, "n", 4, 6)
	visit(1, south, "s", 5, 9)
	visit(0, north, "", 0, 0)
	if d := cmp.Diff(at[0], at[1]); d != "" || len(at[0]) != 4 {
		t.Errorf("%v %s", at[0], d)
	}
}

func TestHeadsEndWhereSomethingIsMissing(t *testing.T) {
	for _, c := range []struct {
		name, want string
		put        [][]byte
	}{
		{"nothing", "", nil},
		{"without the first", "", [][]byte{sealed(t, north, "n", 2, 5)}},
		{"a gap", "a 3", [][]byte{sealed(t, north, "n", 1, 3), sealed(t, north, "n", 5, 9)}},
		{"another branch", "a 3, a 9",
			[][]byte{sealed(t, north, "n", 1, 3), sealed(t, north, "m", 1, 2), sealed(t, north, "m", 3, 9)}},
		{"cut otherwise", "a 9",
			[][]byte{sealed(t, north, "n", 1, 9), sealed(t, north, "n", 1, 3), sealed(t, north, "n", 4, 9)}},
	} {
		f := prepared(t)
		put(t, f, c.put...)
		if got := heads(t, f); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// What a stick pulled out too early leaves is named, isn't counted, and comes again.
func TestADamagedBundleIsNamedAndPutAgain(t *testing.T) {
	for name, harm := range map[string]func(path string, raw []byte) error{
		"cut":   func(path string, raw []byte) error { return os.WriteFile(path, raw[:100], 0o600) },
		"empty": func(path string, raw []byte) error { return os.WriteFile(path, nil, 0o600) },
		"zeros": func(path string, raw []byte) error { return os.WriteFile(path, make([]byte, len(raw)), 0o600) },
		"bit": func(path string, raw []byte) error {
			raw = bytes.Clone(raw)
			raw[len(raw)-70] ^= 1
			return os.WriteFile(path, raw, 0o600)
		},
	} {
		for _, last := range []bool{true, false} {
			f := prepared(t)
			put(t, f, sealed(t, north, "n", 1, 3))
			path := files(t, f)[0]
			raw := sealed(t, north, "n", 1, 3)
			next := sealed(t, north, "n", 4, 5)
			want := ""
			if !last {
				put(t, f, next)
			}
			if err := harm(path, raw); err != nil {
				t.Fatal(err)
			}
			if got := fetched(t, f, north, 0); got != map[bool]string{true: "", false: "links 4 to 5 of n"}[last] {
				t.Errorf("%s: fetched %s", name, got)
			}
			if got := heads(t, f); got != want {
				t.Errorf("%s: heads %s", name, got)
			}
			faults := f.Faults()
			if len(faults) != 1 || faults[0].Kind != carrier.DamagedPart ||
				!strings.HasSuffix(faults[0].What, filepath.Base(path)) {
				t.Errorf("%s: %v", name, faults)
			}
			put(t, f, raw, next)
			if got := heads(t, f); got != "a 5" {
				t.Errorf("%s: put again: %s", name, got)
			}
			if got := fetched(t, f, north, 0); got != "links 1 to 3 of n; links 4 to 5 of n" {
				t.Errorf("%s: put again: fetched %s", name, got)
			}
		}
	}
}

func TestFilesOfOthersAreNamedAndLeftAlone(t *testing.T) {
	f := prepared(t)
	put(t, f, sealed(t, north, "n", 1, 3))
	dir := f.dir(north, epoch)
	name := filepath.Base(files(t, f)[0])
	other := sealed(t, south, "n", 1, 3)
	foreign := []string{
		filepath.Join(f.root, "holiday.jpg"), filepath.Join(f.root, north.String(), "Thumbs.db"),
		filepath.Join(dir, "notes.txt"), filepath.Join(dir, "copy of "+name),
		filepath.Join(dir, partOf(peek(t, other), len(other)).name()), // a bundle of another site
	}
	for _, path := range append(foreign, filepath.Join(dir, ".DS_Store"), filepath.Join(dir, ".x.part")) {
		if path == filepath.Join(dir, name) {
			path = filepath.Join(dir, strings.Replace(name, "000000000003", "000000000004", 1))
		}
		if err := os.WriteFile(path, other, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	before := files(t, f)
	if got := heads(t, f); strings.Contains(got, "b") {
		t.Errorf("heads: %s", got)
	}
	fetched(t, f, north, 0)
	if faults := f.Faults(); len(faults) != len(foreign) {
		t.Errorf("%d faults: %v", len(faults), faults)
	} else if again := f.Faults(); again != nil {
		t.Errorf("said twice: %v", again)
	}
	after := files(t, f)
	for i := range after {
		after[i] = strings.TrimSuffix(after[i], damaged) // the bundle of another site, under a name of ours
	}
	if d := cmp.Diff(before, after); d != "" {
		t.Error(d)
	}
}

func peek(t *testing.T, raw []byte) bundle.Bundle {
	t.Helper()
	b, err := bundle.Peek(raw)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// A stick that isn't in must not fill the folder it's usually at.
func TestAFolderThatIsNotThere(t *testing.T) {
	away := Open(filepath.Join(t.TempDir(), "stick"), group)
	empty := Open(t.TempDir(), group)
	for _, c := range []struct {
		f    *Folder
		want carrier.Kind
	}{{away, carrier.Away}, {empty, carrier.Unprepared}} {
		_, err := c.f.Heads(t.Context())
		for _, err := range []error{
			err, c.f.Put(t.Context(), sealed(t, north, "n", 1, 3)),
			c.f.Fetch(t.Context(), north, epoch, 0, func([]byte) error { return nil }),
		} {
			if !errors.Is(err, c.want) {
				t.Errorf("%v, want %s", err, c.want)
			}
		}
		if got := files(t, empty); got != nil {
			t.Errorf("it wrote %q", got)
		}
	}
	if err := away.Prepare(t.Context()); !errors.Is(err, carrier.Away) {
		t.Errorf("prepared: %v", err)
	}
	if err := empty.Put(t.Context(), []byte("not a bundle")); !errors.Is(err, bundle.ErrForm) {
		t.Errorf("%v", err)
	}
}

func TestSeveralComputersWriteAtOnce(t *testing.T) {
	f := prepared(t)
	var all sync.WaitGroup
	for computer := range 4 {
		all.Go(func() {
			mine := Open(f.place, group)
			for n := uint64(1); n <= 20; n++ {
				site := []uuid.UUID{north, south}[(uint64(computer)+n)%2]
				if err := mine.Put(context.Background(), sealed(t, site, "x", n, n)); err != nil {
					t.Error(err)
				}
			}
		})
	}
	all.Wait()
	if got := heads(t, f); got != "a 20, b 20" {
		t.Errorf("heads: %s", got)
	}
	if faults, all := f.Faults(), files(t, f); faults != nil || len(all) != 40 {
		t.Errorf("%d files, %v", len(all), faults)
	}
}

// A year of exchanges leaves some files, not a hundred thousand.
func TestManySmallFilesAreJoined(t *testing.T) {
	f := prepared(t)
	const links = 40
	f.files = 8
	for n := uint64(1); n <= links; n++ {
		put(t, f, sealed(t, north, "n", n, n))
	}
	put(t, f, sealed(t, north, "n", links+2, links+3), sealed(t, north, "n", links+1, links+1))
	all := files(t, f)
	if len(all) > f.files+2 {
		t.Errorf("%d files", len(all))
	}
	if got, want := heads(t, f), fmt.Sprintf("a %d", links+3); got != want {
		t.Errorf("heads: %s, want %s", got, want)
	}
	for _, after := range []uint64{0, 3, 8, 9, links} {
		got := fetched(t, f, north, after)
		if n := strings.Count(got, "of n"); n != int(links-after)+2 {
			t.Errorf("after %d: %d bundles: %s", after, n, got)
		}
	}
	if faults := f.Faults(); faults != nil {
		t.Error(faults)
	}
	// One bundle in a joined file is damaged: its file is set aside, and all of it put again.
	raw, err := os.ReadFile(all[0])
	if err == nil {
		raw[len(raw)/2] ^= 1
		err = os.WriteFile(all[0], raw, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	fetched(t, f, north, 0)
	if got := heads(t, f); got != "" {
		t.Errorf("heads of what is left: %s", got)
	}
	for n := uint64(1); n <= links; n++ {
		put(t, f, sealed(t, north, "n", n, n))
	}
	if got, want := heads(t, f), fmt.Sprintf("a %d", links+3); got != want {
		t.Errorf("put again: heads: %s, want %s", got, want)
	}
}

func TestWaitEndsWhenABundleComes(t *testing.T) {
	f := prepared(t)
	f.Every = time.Millisecond
	heads(t, f)
	quiet, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
	defer cancel()
	if err := f.Wait(quiet); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("nothing came: %v", err)
	}
	go func() { _ = Open(f.place, group).Put(context.Background(), sealed(t, north, "n", 1, 3)) }()
	if err := f.Wait(t.Context()); err != nil {
		t.Error(err)
	}
}

func FuzzParse(f *testing.F) {
	f.Add("000000000001-000000000003-0000321-0123456789abcdef-fedcba9876543210.bundle")
	f.Fuzz(func(t *testing.T, name string) {
		if p, ok := parse(name); ok && p.name() != name {
			t.Errorf("%q came back as %q", name, p.name())
		}
	})
}
