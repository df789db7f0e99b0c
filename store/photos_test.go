package store

import (
	"bytes"
	"image"
	"image/jpeg"
	"testing"

	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/sorts"

	bolt "go.etcd.io/bbolt"
)

func TestAnAlteredPhotoIsFound(t *testing.T) {
	var jpg bytes.Buffer
	if err := jpeg.Encode(&jpg, image.NewGray(image.Rect(0, 0, 8, 8)), nil); err != nil {
		t.Fatal(err)
	}
	f := newFarm(t)
	f.update(func(tx *WriteTx) error {
		_, err := tx.PutPhoto(jpg.Bytes())
		return err
	})
	check := func() []bookfile.Finding {
		found, err := f.book.Check(t.Context(), nil)
		if err != nil {
			t.Fatal(err)
		}
		return found
	}
	if found := check(); len(found) > 0 {
		t.Fatalf("a sound book: %v", found)
	}
	// Another picture under the first one's name, with a seal of its own.
	other := append(bytes.Clone(jpg.Bytes()), 0)
	if err := f.book.file.DB.Update(func(tx *bolt.Tx) error {
		bk := tx.Bucket([]byte(layout.Photos))
		k, _ := bk.Cursor().First()
		return bk.Put(bytes.Clone(k), pack.Sealed(other))
	}); err != nil {
		t.Fatal(err)
	}
	if found := check(); len(found) != 2 || !found[0].History || found[1].What != sorts.Unlike {
		t.Errorf("an altered photo: %v", found)
	}
}
