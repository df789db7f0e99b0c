package register

import (
	"bytes"
	"encoding/hex"
	"image/jpeg"

	"rindkeep/cave/reason"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// PutPhoto keeps a picture, a JPEG of at most wheel.MaxPhotoBytes, and gives the
// name under which a note carries it. The same picture again changes nothing.
func (t *Writer) PutPhoto(picture []byte) (wheel.Photo, error) {
	p, err := photoOf(picture)
	if err != nil {
		return p, refusal.Refused{Cause: err}
	}
	key, _ := hex.DecodeString(p.SHA256)
	if t.tab.Get(layout.Photos, key) == nil {
		t.tab.Put(layout.Photos, key, pack.Sealed(picture))
	}
	return p, nil
}

// photoOf looks a picture over; only its frame is read.
func photoOf(picture []byte) (wheel.Photo, error) {
	if len(picture) > wheel.MaxPhotoBytes {
		return wheel.Photo{}, reason.Err(refusal.PhotoTooLarge{Bytes: len(picture), Most: wheel.MaxPhotoBytes})
	}
	c, err := jpeg.DecodeConfig(bytes.NewReader(picture))
	if err != nil || c.Width <= 0 || c.Height <= 0 {
		return wheel.Photo{}, reason.Err(refusal.NotAPhoto)
	}
	return wheel.PhotoOf(picture, c.Width, c.Height), nil
}

// Photo gives the picture a note carries.
func (t *Reader) Photo(p wheel.Photo) ([]byte, error) {
	key, err := hex.DecodeString(p.SHA256)
	if err != nil {
		return nil, refusal.NotFound{Thing: "photo", Name: p.SHA256}
	}
	v := t.tab.Get(layout.Photos, key)
	if v == nil {
		return nil, refusal.NotFound{Thing: "photo", Name: p.SHA256[:min(12, len(p.SHA256))]}
	}
	body, err := pack.Body(v)
	if err != nil {
		return nil, t.tab.Damaged(err, "photo", p.SHA256)
	}
	return bytes.Clone(body), nil
}

// IsPhoto says whether bytes are a picture that is kept under a key.
func IsPhoto(key, picture []byte) bool {
	p, err := photoOf(picture)
	return err == nil && p.SHA256 == hex.EncodeToString(key)
}
