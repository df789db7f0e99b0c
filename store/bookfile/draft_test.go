package bookfile

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"sync"
	"testing"
)

func write(t *testing.T, d *Draft, s string) {
	t.Helper()
	if _, err := d.Write(func(w io.Writer) error { _, err := io.WriteString(w, s); return err }); err != nil {
		t.Fatal(err)
	}
}

func TestADraftTakesThePlaceOfWhatALinkLeadsTo(t *testing.T) {
	dir := t.TempDir()
	real, link := filepath.Join(dir, "real", "cave.book"), filepath.Join(dir, "link.book")
	if err := errors.Join(os.Mkdir(filepath.Dir(real), 0o755), os.WriteFile(real, []byte("old"), 0o640),
		os.Symlink(real, link)); err != nil {
		t.Fatal(err)
	}
	if os.Getuid() == 0 {
		if err := os.Chown(real, 65534, 65534); err != nil {
			t.Fatal(err)
		}
	}
	before, err := os.Stat(real)
	if err != nil {
		t.Fatal(err)
	}
	d, err := Beside(link)
	if err != nil {
		t.Fatal(err)
	}
	write(t, d, "new")
	if err := d.Replace(); err != nil {
		t.Fatal(err)
	}
	d.Drop()
	if st, err := os.Lstat(link); err != nil || st.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link is gone: %v %v", st, err)
	}
	after, err := os.Stat(real)
	if err != nil {
		t.Fatal(err)
	}
	u, g := owner(before)
	if u2, g2 := owner(after); after.Mode() != before.Mode() || u != u2 || g != g2 {
		t.Errorf("mode %v, owner %d:%d became %v, %d:%d", before.Mode(), u, g, after.Mode(), u2, g2)
	}
	if b, _ := os.ReadFile(link); string(b) != "new" {
		t.Errorf("it holds %q", b)
	}
}

func TestDraftsThatNobodyHoldsAreSwept(t *testing.T) {
	if !locksFolders {
		t.Skip("folders can't be locked here")
	}
	dir := t.TempDir()
	killed := filepath.Join(dir, draftPrefix+"123")
	if err := errors.Join(os.Mkdir(killed, 0o700), os.WriteFile(filepath.Join(killed, "new"), nil, 0o600)); err != nil {
		t.Fatal(err)
	}
	held, err := Beside(filepath.Join(dir, "a"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(killed); err == nil {
		t.Error("what a killed command left is still there")
	}
	other, err := Beside(filepath.Join(dir, "b"))
	if err != nil {
		t.Fatal(err)
	}
	other.Drop()
	if _, err := os.Stat(held.Name); err != nil {
		t.Errorf("a draft that is held was swept: %v", err)
	}
	held.Drop()
	if left, _ := os.ReadDir(dir); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

func TestOnlyOneDraftTakesAFreeName(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a")
	var wg sync.WaitGroup
	var mu sync.Mutex
	placed := 0
	for range 8 {
		wg.Go(func() {
			d, err := Beside(path)
			if err != nil {
				t.Error(err)
				return
			}
			defer d.Drop()
			write(t, d, "x")
			err = d.Place()
			mu.Lock()
			defer mu.Unlock()
			if err == nil {
				placed++
			} else if !errors.Is(err, ErrExists) {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	if placed != 1 {
		t.Errorf("%d took the name", placed)
	}
}
